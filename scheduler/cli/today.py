"""`wingrest today`: the day at the bench on one screen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option
from scheduler.looks.keeping import lies_badly, no_snapshot
from scheduler.looks.phones import phone_behind
from scheduler.looks.today import Bench, Due, PutAway, PutIn, TakeOut, Today, today
from scheduler.record.asked import last_asked
from scheduler.record.ground import ground_of
from scheduler.record.snapshots import Snapshots
from scheduler.words import cautions, wording
from scheduler.words.people import person

if TYPE_CHECKING:
    from scheduler.learning.probe import Probe

LATER_DAYS = 9
"""What goes into the chamber within so many days is told as numbers, for the next weekend."""

_CSV = ("what", "names", "when", "text", "command")


@click.command()
@click.option("--who", metavar="NAME", help="Only what it asks of this person: see session --who.")
@format_option
@click.pass_obj
def command(desk: Desk, who: str | None, form: str) -> None:
    """Say what is to be done today: tests, chamber, session, worries.

    Every line shows the command that records it.
    """
    with desk.view() as view:
        day = today(view, None if who is None else person(who, view.sessions.values()))
        asked, latest = last_asked(view.facts), view.facts.latest
        lost = no_snapshot(Snapshots(desk.store_path), latest, view.now)
        behind = phone_behind(asked, latest, view.now, waits=day.waits)
    badly = lies_badly(ground_of(desk.store_path.parent))
    more = tuple(w for w in (lost, badly, behind) if w is not None)
    day = day._replace(worries=(*day.worries, *more))
    if form == "json":
        from scheduler.faces.today_json import today_json

        echo_json(today_json(day))
    elif form == "csv":
        echo_csv(list(_flat(day)), _CSV)
    else:
        click.echo("\n".join(screen(day)))


def screen(day: Today) -> list[str]:
    """Return the day as lines no wider than a terminal."""
    whom = f", for {day.who}" if day.who else ""
    lines = [f"{wording.weekday(day.at, day.at)} {day.at:%Y, %H:%M}{whom}"]
    for head, part in (
        ("Test", _test_lines(day.test)),
        ("Feel early", _probe_lines(day.probes)),
        ("Take off, tested stiff", _off_lines(day)),
        ("Due, but not in today's air", _wait_lines(day.wait)),
        ("Take out of the chamber", _out_lines(day.take_out, day.at)),
        ("Into the cold", _away_lines(day.put_away, day.at)),
        ("Put into the chamber", _in_lines(day.put_in, day.at.date())),
        ("Mount", _benches_lines(day.benches)),
        ("Worries", [line for w in day.worries for line in _entry(w.text, w.command)]),
    ):
        if part:
            lines += [head, *part]
    if len(lines) == 1:
        lines += ["Nothing to do today."]
    return [*lines, *_coming(day)]


def _entry(text: str, doing: str) -> list[str]:
    """Return a text with the command that records it, if any, flush right where it fits."""
    lines = wording.wrapped(text, "  ", "    ")
    if not doing:
        return lines
    if len(lines[-1]) + 2 + len(doing) <= wording.COLUMNS:
        lines[-1] += doing.rjust(wording.COLUMNS - len(lines[-1]))
        return lines
    if len(doing) + 4 <= wording.COLUMNS:
        return [*lines, doing.rjust(wording.COLUMNS)]
    return [*lines, *wording.wrapped(doing, "    ", "      ")]


def _test_lines(due: Sequence[Due]) -> list[str]:
    if not due:
        return []
    lines = []
    for d in due:
        first, *then = d.specimens
        text = f"{d.board}: {first} first" if then else f"{d.board}: {first}"
        text += f", then {wording.listed(then)}" if then else ""
        text += f" ({wording.listed(d.rest)} not yet)" if d.rest else ""
        lines += _entry(text, d.command)
    return [*lines, *_entry(cautions.SOFT_IS, f"wingrest test {due[0].specimens[0]} soft")]


def _probe_lines(probes: Sequence[Probe]) -> list[str]:
    if not probes:
        return []
    from scheduler.faces.probes import probe_lines  # most records have none

    return [line for probe in probes for line in probe_lines(probe)]


def _off_lines(day: Today) -> list[str]:
    return [
        line
        for o in day.off
        for line in _entry(f"{o.board}: {wording.listed(o.specimens)}", o.command)
    ]


def _wait_lines(wait: Sequence[Due]) -> list[str]:
    """Return what waits for drier air; boards that one look at a dial serves are in one entry."""
    alike: dict[str, list[Due]] = {}
    for d in wait:
        alike.setdefault(d.command, []).append(d)
    lines = []
    for command, dues in alike.items():
        boards = "; ".join(f"{d.board}: {wording.listed(d.specimens)}" for d in dues)
        lines += _entry(boards + (", look at a dial first" if dues[0].look else ""), command)
    return lines


def _out_lines(out: Sequence[TakeOut], now: datetime) -> list[str]:
    lines = []
    for t, then in zip(out, [*out, None][1:], strict=True):
        look = "look now" if t.look_at <= now else f"look {wording.moment(t.look_at, now)}"
        when = f"{look}, out by {wording.moment(t.out_by, now)}"
        if t.overdue:
            when = f"OVERDUE since {wording.moment(t.out_by, now)}"
        same = then is not None and then.command == t.command
        lines += _entry(f"{when}: {', '.join(t.specimens)}", "" if same else t.command)
    looks = any(t.look_at <= now for t in out)
    return [*lines, *(wording.wrapped(cautions.LIMP_OR_NOT, "  ") if looks else [])]


def _away_lines(put_away: Sequence[PutAway], today: date) -> list[str]:
    lines = []
    for p in put_away:
        names = ", ".join(p.specimens)
        by = wording.moment(p.by, today)
        text = f"{names}, by {by}, in a closed box: no session in time"
        lines += _entry(text, p.command)
    return lines


def _in_lines(put_in: Sequence[PutIn], day: date) -> list[str]:
    """Return what goes in by tomorrow night."""
    near = [p for p in put_in if p.by.date() <= day + timedelta(days=1)]
    lines = []
    for p in near:
        when, at = f"{wording.moment(p.by, day)}, latest {wording.moment(p.latest, day)}", ""
        if p.late:
            since = wording.moment(p.latest, day)
            when, at = f"TOO LATE for {p.session} since {since}", " --at MOMENT"
        lines += _entry(f"{when}: {', '.join(p.specimens)}", p.command + at)
        if p.boxes:
            lines += wording.wrapped(wording.from_boxes(p.boxes), "    ", "      ")
    if any(p.late for p in near):
        lines += _entry("Plan another session for what goes in too late:", "wingrest plan")
    return lines


def _goes_in_later(put_in: Sequence[PutIn], day: date) -> str:
    """Return how many go in after tomorrow, by day."""
    later: dict[date, int] = {}
    for p in put_in:
        if day + timedelta(days=1) < p.by.date() <= day + timedelta(days=LATER_DAYS):
            later[p.by.date()] = later.get(p.by.date(), 0) + len(p.specimens)
    said = ", ".join(f"{count} on {wording.weekday(when, day)}" for when, count in later.items())
    return f"into the chamber {said}" if said else ""


def _benches_lines(benches: Sequence[Bench]) -> list[str]:
    lines = [line for bench in benches for line in _bench_lines(bench)]
    mounting = any(bench.mount for bench in benches)
    return [*lines, *(wording.wrapped(cautions.AT_THE_BENCH, "  ") if mounting else [])]


def _bench_lines(bench: Bench) -> list[str]:
    minutes = sum(s.minutes for s in bench.mount)
    whose = f", {bench.who}" if bench.who else ""
    lines = [f"  {bench.session}, {bench.start:%H:%M}, {bench.minutes} min{whose}"]
    if bench.off:
        off = "; ".join(f"{wording.listed(o.specimens)} on {o.board}" for o in bench.off)
        names = [name for o in bench.off for name in o.specimens]
        lines += _entry(f"test and take off first: {off}", f"wingrest release {' '.join(names)}")
    for board in dict.fromkeys(s.board for s in bench.mount):
        here = [s for s in bench.mount if s.board == board]
        slots = ", ".join(f"{s.specimen} {s.from_mm}-{s.to_mm}" for s in here)
        after = list(dict.fromkeys(name for s in here for name in s.after))
        text = f"{board}: {slots} mm" + (f", after {wording.listed(after)}" if after else "")
        lines += wording.wrapped(text, "  ", "    ")
    if bench.held:
        from scheduler.faces.slots_taken import held_said  # on few days

        lines += _entry(held_said(bench.held), "wingrest plan")
    elif not bench.mount:
        lines += _entry("No mounting is planned:", "wingrest plan")
    limp = [s.specimen for s in bench.mount if s.limp]
    if limp:
        lines += wording.wrapped(
            f"Limp already, mount at once: {wording.listed(limp)}", "  ", "    "
        )
    if bench.mount:
        text = f"{minutes} min, mounted as planned (--except leaves one out):"
        lines += _entry(text, bench.command)
    return lines


def _coming(day: Today) -> Iterator[str]:
    said = [x for x in (_goes_in_later(day.put_in, day.at.date()),) if x]
    if day.next_bench is not None:
        b = day.next_bench
        whose = f" ({b.who})" if b.who else ""
        said.append(
            f"{b.session}{whose} on {wording.moment(b.start, day.at)}, {len(b.mount)} to mount"
        )
    if day.next_due is not None:
        boards = wording.listed(day.next_due.boards)
        said.append(f"{boards} to test from {wording.weekday(day.next_due.due, day.at)}")
    if said:
        yield from wording.wrapped(f"Next: {'; '.join(said)}.")


def _flat(day: Today) -> Iterable[dict[str, object]]:
    for what, dues in (("test", day.test), ("wait", day.wait)):
        for d in dues:
            yield _row(what, d.specimens, None, d.board, d.command)
    for o in day.off:
        yield _row("take off", o.specimens, None, o.board, o.command)
    for t in day.take_out:
        yield _row("take out", t.specimens, t.out_by.isoformat(), t.session, t.command)
    for a in day.put_away:
        yield _row("put away", a.specimens, a.by.isoformat(), a.place, a.command)
    for p in day.put_in:
        yield _row("put in", p.specimens, p.by.isoformat(), p.session, p.command)
    for bench in day.benches:
        for s in bench.mount:
            where = f"{s.board} {s.from_mm}-{s.to_mm} mm"
            yield _row("mount", (s.specimen,), bench.start.isoformat(), where, bench.command)
    for w in day.worries:
        yield _row(w.kind, w.names, None, w.text, w.command)


def _row(
    what: str, names: tuple[str, ...], when: str | None, text: str | None, doing: str
) -> dict[str, object]:
    return {"what": what, "names": names, "when": when, "text": text, "command": doing}
