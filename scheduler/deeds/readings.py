"""Take a logger's file into the record: what is new is added, what is there stays."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import moved_lines, replan
from scheduler.intake.readings import DayReadings, Readings, read_readings
from scheduler.looks.moved import moved_dates
from scheduler.record.deed import Deed, When
from scheduler.record.rows import Value
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import names, wording
from scheduler.words.problems import BadInput
from scheduler.words.records import Room


class Manner(NamedTuple):
    """How a logger writes, where its file does not tell.

    `add_rh` is its fixed offset in points; `offset_min` how far ahead of UTC its clock stands
    all year.
    """

    add_rh: float = 0.0
    dates: Literal["day-first", "month-first"] | None = None
    decimal: Literal["comma", "point"] | None = None
    offset_min: int | None = None


_SIGNS: dict[str, Literal[".", ","]] = {"comma": ",", "point": "."}


def add_readings(
    store: Store,
    rules: Rulebook,
    file: Path,
    room: str,
    manner: Manner,
    when: When,
    progress: Callable[[float], None] | None = None,
) -> Outcome:
    """Record the readings of a file in a room, and say whose dates they move.

    Raises BadInput with every problem that keeps the file from being read; rows that cannot be
    right are left out one by one, and named.
    """
    # A long file is read while others may write; its clock is that of the record's zone.
    names.find(room, store.snapshot().rooms, "room")
    zone = store.zone
    found, notes = _read(file, zone, manner, progress)
    with store.deed(when, "readings") as deed:
        before = view_of(store, rules, when.now)
        where = names.find(room, before.rooms, "room")
        if before.zone != zone:
            found, notes = _read(file, before.zone, manner, progress)
        new = put_readings(deed, where.room, found)
        text = _said(found, where, new)
        deed.text = f"{text}, from {file.name}"
        after = view_of(store, rules, when.now)
    warnings = (*notes, *(str(p) for p in found.left_out))
    return told(deed, lambda: Outcome((text, *_moved(store, before, after, new)), warnings))


def _read(
    file: Path, zone: ZoneInfo, manner: Manner, progress: Callable[[float], None] | None
) -> tuple[Readings, Sequence[str]]:
    found, problems, notes = read_readings(
        file,
        zone=zone,
        add_rh=manner.add_rh,
        dates=manner.dates,
        decimal=_SIGNS[manner.decimal] if manner.decimal else None,
        offset_min=manner.offset_min,
        progress=progress,
    )
    if problems:
        raise BadInput(
            f"{wording.counted(len(problems), 'problem')} in {file}; nothing was recorded",
            [*problems, *found.left_out],
        )
    return found, notes


def _moved(store: Store, before: View, after: View, new: int) -> list[str]:
    """Say whose dates newly known air moved, and bring the kept plan up to it."""
    if not new:
        return []
    lines = moved_dates(after.standing(), before)
    mended = replan(store, before.rules, after.now)
    if mended is not None and mended.moved:
        lines += moved_lines(mended)
    return lines


def put_readings(deed: Deed, room: str, found: Readings) -> int:
    """Add what is new of a file; give how many readings that were."""
    return sum(_put_day(deed, room, day, readings) for day, readings in found.days.items())


def _put_day(deed: Deed, room: str, day: date, readings: DayReadings) -> int:
    key: dict[str, Value] = {"room": room, "day": day.isoformat()}
    row = deed.db.execute(
        "SELECT id, readings FROM room_day WHERE room = :room AND day = :day", key
    ).fetchone()
    if row is None:
        packed: dict[str, Value] = {"readings": readings.packed, "hours": readings.hours().packed}
        deed.insert("room_day", key | packed)
        return len(readings)
    had = DayReadings(row["readings"])
    merged = had.with_new(readings)
    if merged is had:
        return 0
    deed.update("room_day", row["id"], {"readings": merged.packed, "hours": merged.hours().packed})
    return len(merged) - len(had)


def _said(found: Readings, room: Room, new: int) -> str:
    if found.first is None or found.last is None:
        return f"{room.room}: the file holds no readings"
    span = f"{wording.moment(found.first)} to {wording.moment(found.last)}"
    known = found.count - new
    already = f", {known} known already" if known else ""
    return f"{room.room}: {new} new readings{already}, {span}"
