"""What the calendar says: placements and planned sessions -> reminders.

Pure. Moments come in the record's zone, which the texts show; the feed writes them in UTC.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from scheduler.feed.ical import Reminder, one_line
from scheduler.words import cautions
from scheduler.words.wording import counted, moment, weekday

KEPT_AFTER_RELEASE = timedelta(days=30)
CHAMBER_TASK = timedelta(minutes=30)
ALL_DAY_ALARMS = (timedelta(hours=-15),)
"""09:00 on the day before: an alarm of an all-day event counts from its 00:00 (3.8.6.3)."""
TIMED_ALARMS = (timedelta(hours=-1),)


@dataclass(frozen=True, slots=True)
class Release:
    """One placement as the calendar needs it; `due` None: the air gives no date.

    `estimated` says how the body was estimated; empty when measured.
    """

    placement: int
    specimen: str
    board: str
    room: str
    due: date | None
    clear: date | None
    released_at: datetime | None = None
    taxon: str | None = None
    body_mm: float | None = None
    estimated: str = ""
    basis: str = ""


@dataclass(frozen=True, slots=True)
class SessionLine:
    """One specimen to mount in a session; `relax_from` None: it needs no chamber."""

    specimen: str
    board: str
    from_mm: int
    to_mm: int
    minutes: int
    due: date | None
    clear: date | None
    taxon: str | None = None
    pin: str = ""
    basis: str = ""
    relax_from: datetime | None = None
    out_by: datetime | None = None


@dataclass(frozen=True, slots=True)
class BenchSession:
    """One session with its plan; `minutes` 0 means cancelled.

    `test_first` names the boards or specimens to test and take off before anything is mounted.
    """

    session: str
    start: datetime
    minutes: int
    lines: tuple[SessionLine, ...] = ()
    test_first: tuple[str, ...] = ()


def release_reminders(releases: Iterable[Release], latest: datetime) -> tuple[Reminder, ...]:
    """Return one all-day event per board and due date.

    `releases` has every placement, released ones too; `latest` is the moment of the latest
    journal line. The lowest placement of a group carries its key, so that a group which moves
    whole stays the same event.
    """
    groups: dict[tuple[str, date], list[Release]] = {}
    standing: dict[str, list[Release]] = {}
    for one in sorted(releases, key=lambda r: r.placement):
        if one.released_at is None:
            standing.setdefault(one.board, []).append(one)
        if one.due is not None:
            groups.setdefault((one.board, one.due), []).append(one)
    return tuple(
        _release_reminder(group, due, standing.get(board, ()))
        for (board, due), group in groups.items()
        if _still_shown(group, latest)
    )


def bench_day_reminders(releases: Iterable[Release], latest: datetime) -> tuple[Reminder, ...]:
    """Return one all-day event per due date over all boards, for a lab with many boards.

    The day itself is the key: the event is about that day at the bench, whatever is due.
    """
    days: dict[date, list[Release]] = {}
    for one in sorted(releases, key=lambda r: r.placement):
        if one.due is not None:
            days.setdefault(one.due, []).append(one)
    return tuple(
        _bench_day_reminder(group, due)
        for due, group in days.items()
        if _still_shown(group, latest)
    )


def session_reminders(sessions: Iterable[BenchSession]) -> tuple[Reminder, ...]:
    """Return one timed event per session that is not cancelled."""
    return tuple(
        Reminder(
            key=f"session/{one.session}",
            start=one.start.astimezone(UTC),
            end=one.start.astimezone(UTC) + timedelta(minutes=one.minutes),
            title=f"At the bench, {one.minutes} min: {len(one.lines) or 'nothing'} to mount",
            text=_session_text(one),
            alarms=TIMED_ALARMS,
        )
        for one in sessions
        if one.minutes > 0
    )


def chamber_reminders(sessions: Iterable[BenchSession]) -> tuple[Reminder, ...]:
    """Return one timed event per session and local date on which specimens go in."""
    reminders = []
    for session in sessions:
        days: dict[date, list[tuple[datetime, SessionLine]]] = {}
        for line in session.lines if session.minutes > 0 else ():
            if line.relax_from is not None:
                days.setdefault(line.relax_from.date(), []).append((line.relax_from, line))
        reminders += [_chamber_reminder(session, day, going) for day, going in days.items()]
    return tuple(reminders)


def _still_shown(group: Sequence[Release], latest: datetime) -> bool:
    released = [one.released_at for one in group if one.released_at is not None]
    if len(released) < len(group):
        return True
    return latest.astimezone(UTC) < max(released).astimezone(UTC) + KEPT_AFTER_RELEASE


def _release_reminder(group: Sequence[Release], due: date, on_board: Iterable[Release]) -> Reminder:
    first = group[0]
    standing = [one for one in group if one.released_at is None]
    if not standing:
        title = f"✓ Board {first.board} freed: {counted(len(group), 'specimen')}"
        text = f"Taken off: {_names(group)}."
        return _all_day(f"release/{first.placement}", due, title, text, first.room)
    title = f"Test and free board {first.board}: {counted(len(standing), 'specimen')}"
    text = _standing_text(standing)
    later = [one for one in on_board if one.due is None or one.due > due]
    if later:
        text += f"\n\nLeave standing, not due yet: {_names(later)}."
    return _all_day(f"release/{first.placement}", due, title, text, standing[0].room)


def _bench_day_reminder(group: Sequence[Release], due: date) -> Reminder:
    standing = [one for one in group if one.released_at is None]
    boards = sorted({one.board for one in standing or group}, key=_natural)
    counts = f"{counted(len(boards), 'board')}{{}}: {counted(len(standing or group), 'specimen')}"
    rooms = sorted({one.room for one in standing or group}, key=_natural)
    if standing:
        title = "Test and free " + counts.format("")
        text = f"Boards: {', '.join(boards)}.\n" + _standing_text(standing)
    else:
        title = "✓ " + counts.format(" freed")
        text = "Taken off: " + _names(group) + "."
    return _all_day(f"bench-day/{due.isoformat()}", due, title, text, ", ".join(rooms))


def _all_day(key: str, day: date, title: str, text: str, location: str) -> Reminder:
    return Reminder(key, day, day + timedelta(days=1), title, text, location, ALL_DAY_ALARMS)


def _standing_text(standing: Sequence[Release]) -> str:
    # Advice before the list: a very long list is cut at its end.
    ordered = sorted(standing, key=lambda r: (-(r.body_mm or 0), r.placement))
    lines = [
        f"Test first, as the stoutest: {ordered[0].specimen}. Before this day no test makes sense.",
        cautions.HOW_TO_TEST,
        cautions.NOT_WHEN_DAMP,
        cautions.PESTS,
        cautions.INTO_THE_CABINET,
        cautions.BENCH,
        "",
    ]
    return "\n".join(lines + [_release_line(one) for one in ordered])


def _release_line(one: Release) -> str:
    body = "body not known" if one.body_mm is None else f"body {round(one.body_mm, 1):g} mm"
    if one.estimated:
        body += f" (estimated: {one.estimated})"
    parts = [_who(one), f"board {one.board}", body, _clear_words(one.clear)]
    return "- " + ", ".join(parts) + (f"; basis: {one.basis}" if one.basis else "")


def _session_text(session: BenchSession) -> str:
    lines = []
    if session.test_first:
        first = ", ".join(sorted(session.test_first, key=_natural))
        lines.append(f"Test and take off first: {first}.")
    lines.append(cautions.BENCH)
    board = None
    for one in sorted(
        session.lines, key=lambda s: (_natural(s.board), s.from_mm, _natural(s.specimen))
    ):
        if one.board != board:
            board = one.board
            lines += ["", f"Board {board}"]
        lines.append(_mount_line(one))
    return "\n".join(lines)


def _mount_line(one: SessionLine) -> str:
    parts = [_who(one), f"{one.from_mm}-{one.to_mm} mm"]
    if one.pin:
        parts.append(f"pin {one.pin}")
    parts.append(f"{one.minutes} min")
    if one.due is None:
        parts.append("no drying time in this air: move the board to a drier room")
    else:
        parts += [f"test from {weekday(one.due)}", _clear_words(one.clear)]
    return "- " + ", ".join(parts) + (f"; basis: {one.basis}" if one.basis else "")


def _chamber_reminder(
    session: BenchSession, day: date, going: Sequence[tuple[datetime, SessionLine]]
) -> Reminder:
    ordered = sorted(going, key=lambda g: (g[0].astimezone(UTC), _natural(g[1].specimen)))
    lines = [cautions.CHAMBER, ""]
    for going_in, one in ordered:
        out = f", out by {moment(one.out_by)} at the latest" if one.out_by else ""
        lines.append(f"- {_who(one)}: in {moment(going_in)}{out}, for board {one.board}")
    start = ordered[0][0].astimezone(UTC)
    count = counted(len(going), "specimen")
    return Reminder(
        key=f"chamber/{session.session}/{day.isoformat()}",
        start=start,
        end=start + CHAMBER_TASK,
        title=f"Into the relaxing chamber: {count} for {moment(session.start)}",
        text="\n".join(lines),
        alarms=TIMED_ALARMS,
    )


def _who(one: Release | SessionLine) -> str:
    return one_line(f"{one.specimen} {one.taxon or ''}")


def _names(group: Iterable[Release]) -> str:
    return ", ".join(
        _who(one) for one in sorted(group, key=lambda r: (_natural(r.specimen), r.placement))
    )


def _clear_words(clear: date | None) -> str:
    return "no clear date in this air" if clear is None else f"clear {weekday(clear)}"


def _natural(name: str) -> tuple[tuple[tuple[str, int], ...], str]:
    # B9 before B10; the name itself parts B1 from B01.
    pieces = re.findall(r"([^0-9]*)([0-9]{0,18})", name)
    return tuple((letters, int(digits or -1)) for letters, digits in pieces), name
