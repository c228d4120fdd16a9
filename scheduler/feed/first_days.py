"""The first day on which a board is worth testing, what is still due, and a lab's days.

Pure. A first day stays where it was asked for: what is done then is ticked there, with the day on
which it was done. What is not done is in one event that moves along with today's date.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from scheduler.feed.ical import Reminder
from scheduler.feed.releases import FeedDays, FirstDay, Release
from scheduler.feed.titles import as_counted, fitted, natural, pieces, whom_to_test
from scheduler.feed.told_days import as_kept
from scheduler.record.snapshot import grouped
from scheduler.words import cautions
from scheduler.words.wording import counted, days_said, weekday
from scheduler.words.wording import day as short_day

ALL_DAY_ALARMS = (timedelta(hours=-15),)
"""09:00 on the day before: an alarm of an all-day event counts from its 00:00 (3.8.6.3)."""


def first_days(asked: Iterable[FirstDay], days: FeedDays) -> tuple[Reminder, ...]:
    """Return one all-day event per board and first day; those that are over as they were told.

    The event's key is that of the lowest placement in it, so that a group which moves as a whole
    stays the same event.
    """
    groups: dict[tuple[str, str, date], list[FirstDay]] = {}
    standing: dict[str, list[FirstDay]] = {}
    for one in asked:
        board = "" if one.event else one.one.board
        groups.setdefault((one.event, board, one.day), []).append(one)
        if not (one.outcome or one.moved):
            standing.setdefault(one.one.board, []).append(one)
    return tuple(
        _first_day(day, group, standing, days.today) for (_, _, day), group in groups.items()
    )


def still_due(
    releases: Iterable[Release],
    days: FeedDays,
    key: str,
    also: Mapping[str, Sequence[str]] | None = None,
) -> tuple[Reminder, ...]:
    """Return one all-day event on today's date that lists what was due before and is not done.

    `also` gives further lines by place, of what is late in the chamber or should be in the cold.
    There is no event on a day on which nobody is there.
    """
    late = overdue(releases, days)
    if days.away(days.today) or not (late or also):
        return ()
    boards = {b: _late_on(b, late, days) for b in as_counted(r.board for r in late)}
    ordered = sorted(boards, key=lambda b: (-_most_days(b, late, days), natural(b)))
    short = [f"{b} {_most_days(b, late, days)} d" for b in ordered]
    besides = also or {}
    more = [line for lines in besides.values() for line in lines]
    if short:  # what moulds or spoils comes before what only blocks its board
        title = pieces("Still due: ", [*(f"{p} {len(s)}" for p, s in besides.items()), *short])
    else:
        title = f"{' and '.join(besides).capitalize()}: {counted(len(more), 'thing')} late"
    lines = [*more, *(boards[b] for b in ordered)]
    if late:
        lines += ["", *_cautions()]
    rooms = ", ".join(as_counted(r.room for r in late if r.room))
    return (_all_day(key, days.today, title, "\n".join(lines), rooms, ()),)


def overdue(releases: Iterable[Release], days: FeedDays) -> list[Release]:
    """Return those on boards that were due before today, and those tested stiff.

    One whose day off moved its first day to today is not overdue yet, unless it was tested stiff.
    """
    return [
        one
        for one in releases
        if one.off_on is None
        and (one.stiff or (one.due is not None and one.due < days.today))
        and (one.stiff or one.due is None or days.there(one.due) != days.today)
    ]


def lab_days(
    asked: Iterable[FirstDay], days: FeedDays, room: str | None = None
) -> tuple[Reminder, ...]:
    """Return one all-day event per day, over all boards or a room's; today's has what is overdue.

    Its key is the day: the event is about that day at the bench, whatever is due.
    """
    every = list(asked)
    groups = dict(grouped(every, lambda a: a.day))
    late = overdue((a.one for a in every if not (a.outcome or a.moved)), days)
    if days.away(days.today):
        late = []
    if late:
        groups.setdefault(days.today, ())
    here = "" if room is None else f"/{room}"
    return tuple(
        _lab_day(day, group, late if day == days.today else (), days, here)
        for day, group in groups.items()
    )


def _first_day(
    day: date,
    group: Sequence[FirstDay],
    standing: Mapping[str, Sequence[FirstDay]],
    today: date,
) -> Reminder:
    carrier = min(group, key=lambda a: (a.one.placement, a.number))
    key, board = carrier.key, carrier.one.board
    pending = [a.one for a in group if not a.outcome]
    room = (pending or [carrier.one])[0].room
    done = _done_lines([a for a in group if a.outcome])
    kept = as_kept(board, key, group)
    if not pending:
        title = "✓ " + _done_title(board, group)
        ticked = _all_day(key, day, title, "\n".join(done), room, ())
        return replace(ticked, said=kept)
    here = {r.placement for r in pending}
    leave = [a.one for a in standing.get(board, ()) if a.day > day and a.one.placement not in here]
    title = _asked_title(board, pending, leave, (day, today))
    lines = [*_test_lines(pending, leave, day), *_moved_lines(group), *done]
    text = "\n".join([*lines, "", *_cautions()])
    return replace(_all_day(key, day, title, text, room, ALL_DAY_ALARMS), said=kept)


def _asked_title(
    board: str, pending: Sequence[Release], leave: Iterable[Release], of: tuple[date, date]
) -> str:
    """Return what is asked for on a day, or was asked for; `of` is the day and today."""
    day, today = of
    test, stay = as_counted(r.specimen for r in pending), as_counted(r.specimen for r in leave)
    if day < today:
        return fitted(f"{board}: due, not done: ", test)
    if day == today and all(r.too_damp for r in pending):
        return fitted(f"{board}: too damp today for ", test)
    if day == today and all(r.unread for r in pending):
        return fitted(f"{board}: read the air first: ", test)
    if all(r.stiff for r in pending):
        return fitted(f"{board}: take off ", test)
    return whom_to_test(board, test, stay)


def _moved_lines(group: Iterable[FirstDay]) -> list[str]:
    """Return for whom the air gave another day after theirs was over."""
    return [
        f"Not due then after all, by what is known since: {a.one.who} from"
        f" {weekday(a.moved, a.day)}."
        for a in group
        if a.moved
    ]


def _lab_day(
    day: date, group: Sequence[FirstDay], late: Sequence[Release], days: FeedDays, of: str
) -> Reminder:
    pending = [a.one for a in group if not a.outcome]
    test = [*pending, *late]
    done = _done_lines([a for a in group if a.outcome])
    key = f"bench-day/{day.isoformat()}{of}"
    if not test:
        boards = {a.one.board for a in group}
        off, soft = (sum(a.outcome == what for a in group) for what in ("off", "soft"))
        said = ", ".join(f"{n} {what}" for n, what in ((off, "off"), (soft, "soft")) if n)
        title = f"✓ {counted(len(boards), 'board')}: {said or 'done'}"
        return _all_day(key, day, title, "\n".join(done), _rooms(a.one for a in group), ())
    boards_named = as_counted(r.board for r in test)
    title = fitted(f"{counted(len(boards_named), 'board')} to test: ", boards_named)
    lines = []
    for board in boards_named:
        here = [r for r in pending if r.board == board]
        lines += [f"{board}: {_named(here)}"] if here else []
        lines += [_late_on(board, late, days)] if any(r.board == board for r in late) else []
    text = "\n".join([*lines, *done, "", *_cautions()])
    return _all_day(key, day, title, text, _rooms(test), ALL_DAY_ALARMS)


def _test_lines(pending: Sequence[Release], leave: Sequence[Release], day: date) -> list[str]:
    # The most important comes first: a very long list is cut at its end.
    ordered = sorted(pending, key=lambda r: (-(r.body_mm or 0), r.placement))
    lines = []
    if len(ordered) > 1:
        lines.append(f"Test first, as the stoutest: {ordered[0].specimen}.")
    if leave:
        lines.append(f"Leave what is not due on {weekday(day, day)}: {_named(leave)}.")
    return lines + [_release_line(one, day) for one in ordered]


def _cautions() -> list[str]:
    return [
        cautions.HOW_TO_TEST,
        cautions.NOT_WHEN_DAMP,
        cautions.PESTS,
        cautions.INTO_THE_CABINET,
        cautions.BENCH,
    ]


def _release_line(one: Release, day: date) -> str:
    body = "body not known" if one.body_mm is None else f"body {round(one.body_mm, 1):g} mm"
    body += f" (estimated: {one.estimated})" if one.estimated else ""
    parts = [one.who, body, *([one.between] if one.between else []), clear_words(one.clear, day)]
    return "- " + ", ".join(parts) + (f"; basis: {one.basis}" if one.basis else "")


def _late_on(board: str, late: Iterable[Release], days: FeedDays) -> str:
    """Return a board's overdue ones in a line: whom to test since when, and whom to take off."""
    here = sorted((r for r in late if r.board == board), key=lambda r: natural(r.specimen))
    parts = []
    for due in sorted({r.due for r in here if r.due and not r.stiff}):
        named = _named([r for r in here if r.due == due and not r.stiff])
        late_by = days_said((days.today - due).days)
        parts.append(f"test {named} (since {weekday(due, days.today)}, {late_by})")
    stiff = [r for r in here if r.stiff]
    if stiff:
        parts.append(f"take off {_named(stiff)}, tested stiff")
    if all(r.too_damp for r in here):
        parts[-1] += " - too damp today"
    elif all(r.unread for r in here):
        parts[-1] += " - read the air first"
    return f"{board}: {'; '.join(parts)}"


def _most_days(board: str, late: Iterable[Release], days: FeedDays) -> int:
    found = [(days.today - r.due).days for r in late if r.board == board and r.due]
    return max([0, *found])


def _done_title(board: str, group: Sequence[FirstDay]) -> str:
    by_what = {
        what: as_counted(a.one.specimen for a in group if a.outcome == what)
        for what in ("off", "soft", "lost", "taken back")
    }
    parts = [(what, names) for what, names in by_what.items() if names]
    if len(parts) > 1:
        return f"{board}: " + ", ".join(f"{len(names)} {what}" for what, names in parts)
    ((what, names),) = parts
    later = {a.done for a in group if a.done and a.done != a.day}
    when = f" {short_day(max(later), group[0].day)}" if later else ""
    return fitted(f"{board}: ", names, f" {what}{when}")


def _done_lines(group: Sequence[FirstDay]) -> list[str]:
    said = {"off": "Taken off", "soft": "Tested soft", "lost": "Lost", "taken back": "Taken back"}
    lines = []
    for what, words in said.items():
        for done in sorted({a.done for a in group if a.outcome == what and a.done}):
            here = [a.one for a in group if a.outcome == what and a.done == done]
            lines.append(f"{words} on {weekday(done, group[0].day)}: {_named(here)}.")
    return lines


def _all_day(
    key: str, day: date, title: str, text: str, location: str, alarms: tuple[timedelta, ...]
) -> Reminder:
    return Reminder(key, day, day + timedelta(days=1), title, text, location, alarms)


def _rooms(group: Iterable[Release]) -> str:
    return ", ".join(as_counted(r.room for r in group if r.room))


def _named(group: Iterable[Release]) -> str:
    return ", ".join(
        one.who for one in sorted(group, key=lambda r: (natural(r.specimen), r.placement))
    )


def clear_words(clear: date | None, today: date) -> str:
    """Return for people when a slot counts as free."""
    return "no clear date yet in this air" if clear is None else f"clear {weekday(clear, today)}"
