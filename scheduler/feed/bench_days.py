"""The event of a bench day: what is due by then, board by board, what is mounted, what was done.

Pure. Moments come in the record's zone, which the texts show; the feed writes them in UTC.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from scheduler.feed.first_days import clear_words
from scheduler.feed.ical import Reminder, one_line
from scheduler.feed.releases import Release
from scheduler.feed.titles import as_counted, natural
from scheduler.words import cautions
from scheduler.words.wording import weekday

TIMED_ALARMS = (timedelta(hours=-1),)


@dataclass(frozen=True, slots=True)
class SessionLine:
    """One specimen to mount in a session; `relax_from` is None when it needs no chamber."""

    specimen: str
    board: str
    from_mm: int
    to_mm: int
    minutes: int
    due: date | None
    clear: date | None
    room: str = ""
    taxon: str | None = None
    pin: str = ""
    basis: str = ""
    relax_from: datetime | None = None
    out_by: datetime | None = None


@dataclass(frozen=True, slots=True)
class Done:
    """What was recorded at a session: (specimen, board) mounted, taken off, tested soft."""

    mounted: tuple[tuple[str, str], ...] = ()
    off: tuple[str, ...] = ()
    soft: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """Return how many there are of each, for a title."""
        counts = (
            (len(self.mounted), "mounted"),
            (len(self.off), "off"),
            (len(self.soft), "soft"),
        )
        return ", ".join(f"{n} {what}" for n, what in counts if n)

    def lines(self) -> list[str]:
        """Return who was mounted on which board, who was taken off and who was tested soft."""
        lines = [
            f"Mounted on {board}: "
            + ", ".join(as_counted(who for who, where in self.mounted if where == board))
            for board in as_counted(board for _, board in self.mounted)
        ]
        lines += [f"Taken off: {', '.join(as_counted(self.off))}"] if self.off else []
        lines += [f"Tested soft: {', '.join(as_counted(self.soft))}"] if self.soft else []
        return lines


@dataclass(frozen=True, slots=True)
class BenchSession:
    """One session with the part of its plan that still holds; `minutes` 0 means cancelled.

    `test` is what is due by then and stands; `leave` what stands on the same boards and is not due.
    `over`: its day is past, and only `done` is said. `stale` says for people why its plan no longer
    holds; empty while it does. `older` says when something was recorded that the plan does not
    know; empty if nothing was. `planned`: the kept plan knows the session. `who`: the person whose
    session it is, None: anybody's.
    """

    session: str
    start: datetime
    minutes: int
    lines: tuple[SessionLine, ...] = ()
    test: tuple[Release, ...] = ()
    leave: tuple[Release, ...] = ()
    done: Done = Done()
    over: bool = False
    planned: bool = True
    stale: str = ""
    older: str = ""
    who: str | None = None


def bench_days(sessions: Iterable[BenchSession]) -> tuple[Reminder, ...]:
    """Return one timed event per session that is not cancelled."""
    return tuple(
        Reminder(
            key=f"session/{one.session}",
            start=one.start.astimezone(UTC),
            end=one.start.astimezone(UTC) + timedelta(minutes=one.minutes),
            title=_title(one),
            text=_text(one),
            location=", ".join(as_counted(_rooms(one))),
            alarms=() if _is_done(one) else TIMED_ALARMS,
        )
        for one in sessions
        if one.minutes > 0
    )


def _is_done(one: BenchSession) -> bool:
    nothing_left = not (one.lines or one.test or one.stale)
    return one.over or (bool(one.done.title) and nothing_left)


def _title(one: BenchSession) -> str:
    whose = f" {one.who}" if one.who else ""
    when = f"Bench{whose} {one.start.hour}:{one.start:%M}, {one.minutes} min"
    if _is_done(one):
        nothing = f"{when}: nothing recorded"
        return f"✓ Bench{whose}: {one.done.title}" if one.done.title else nothing
    parts = []
    off = [r for r in one.test if r.stiff]
    test = len(one.test) - len(off)
    parts += [f"test {test}"] if test else []
    parts += [f"take off {len(off)}"] if off else []
    if one.stale:
        parts.append("plan again")
    elif one.lines:
        parts.append(f"mount {len(one.lines)}")
    elif not one.planned:
        parts.append("not planned")
    work = ", ".join(parts) or "nothing to do"
    if one.older and not one.stale:  # the minutes make room for this
        return f"{when.rpartition(',')[0]}: {work} (old plan)"
    return f"{when}: {work}"


def _text(one: BenchSession) -> str:
    if _is_done(one):
        return "\n".join(one.done.lines())
    lines = []
    if one.stale:
        lines.append(f"The plan no longer holds: {one.stale}. Plan again: wingrest plan")
    elif not one.planned:
        lines.append("This session is not planned yet: wingrest plan")
    elif one.older:
        lines.append(f"Since the plan was made: {one.older}. Plan again: wingrest plan")
    lines += _test_lines(one)
    if one.lines:
        lines += ["", "This part of the plan still holds:" if one.stale else "Mount:"]
        lines += _mount_lines(one.lines, one.start)
    done = one.done.lines()
    lines += ["", "Done:", *done] if done else []
    lines += ["", *([cautions.HOW_TO_TEST, cautions.NOT_WHEN_DAMP] if one.test else [])]
    lines += [cautions.PESTS, cautions.INTO_THE_CABINET] if one.test else []
    return "\n".join([*lines, cautions.BENCH]).strip()


def _test_lines(one: BenchSession) -> list[str]:
    lines = []
    for board in as_counted(r.board for r in one.test):
        here = sorted(
            (r for r in one.test if r.board == board),
            key=lambda r: (-(r.body_mm or 0), r.placement),
        )
        test = [r.specimen for r in here if not r.stiff]
        off = [r.specimen for r in here if r.stiff]
        parts = []
        if test:
            first, *then = test
            said = f"test {first} first, then {', '.join(then)}" if then else f"test {first}"
            parts.append(said)
        parts += [f"take off {', '.join(off)}, tested stiff"] if off else []
        stay = as_counted(r.specimen for r in one.leave if r.board == board)
        parts += [f"leave {', '.join(stay)}"] if stay else []
        room = f" ({here[0].room})" if here[0].room else ""
        lines.append(f"{board}{room}: {'; '.join(parts)}")
    return lines


def _mount_lines(lines: Sequence[SessionLine], day: date) -> list[str]:
    said: list[str] = []
    board = None
    for one in sorted(lines, key=lambda s: (natural(s.board), s.from_mm, natural(s.specimen))):
        if one.board != board:
            board = one.board
            said.append(f"{board} ({one.room})" if one.room else board)
        said.append(_mount_line(one, day))
    return said


def _mount_line(one: SessionLine, day: date) -> str:
    parts = [one_line(f"{one.specimen} {one.taxon or ''}"), f"{one.from_mm}-{one.to_mm} mm"]
    if one.pin:
        parts.append(f"pin {one.pin}")
    parts.append(f"{one.minutes} min")
    if one.due is None:
        parts.append("no drying time in this air: move the board to a drier room")
    else:
        parts += [f"test from {weekday(one.due, day)}", clear_words(one.clear, day)]
    return "- " + ", ".join(parts) + (f"; basis: {one.basis}" if one.basis else "")


def _rooms(one: BenchSession) -> Iterable[str]:
    yield from (r.room for r in one.test if r.room)
    yield from (line.room for line in one.lines if line.room)
