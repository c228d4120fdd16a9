"""A logger's readings in the record, day by day: what a file changes in them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from scheduler.intake.readings import DayReadings, Readings
from scheduler.intake.readings.merge import Merged, Origin, Tally, fresh, merged, of_day, origin_of


class DayAfter(NamedTuple):
    """One day of a logger as it will be; `row` is its row in the record, None: a new one."""

    day: date
    row: int | None
    merged: Merged


def over_recorded(
    db: sqlite3.Connection, room: str, logger: str, found: Readings, file: int
) -> Iterator[DayAfter]:
    """Yield the days of a file put over what the record has of that logger.

    file: the number that the file has, or will have, in the record.
    """
    for day, readings in found.days.items():
        had = db.execute(
            "SELECT id, readings, origins FROM room_day WHERE room = ? AND logger = ? AND day = ?",
            (room, logger, day.isoformat()),
        ).fetchone()
        rows = found.rows.get(day) or [0] * len(readings)
        if had is None:
            yield DayAfter(day, None, fresh(readings, rows, file))
        else:
            speaks = of_day(found.stretches, day)
            old = DayReadings(had["readings"])
            yield DayAfter(
                day, had["id"], merged(old, had["origins"], readings, rows, file, speaks)
            )


def tally_of(db: sqlite3.Connection, room: str, logger: str, found: Readings) -> Tally:
    """Return what a file changes for a logger, without changing it."""
    tally = Tally()
    for day in over_recorded(db, room, logger, found, 0):
        tally.add(day.merged.tally)
    return tally


def next_file(db: sqlite3.Connection) -> int:
    """Return the number that the next file read will have."""
    row = db.execute("SELECT seq FROM sqlite_sequence WHERE name = 'reading_file'").fetchone()
    return 1 if row is None else int(row["seq"]) + 1


def whence(
    db: sqlite3.Connection, room: str, logger: str, day: date, at: int
) -> tuple[str | None, int]:
    """Return the file (None: not known) and the row of a day's reading, counted from 0."""
    row = db.execute(
        "SELECT origins FROM room_day WHERE room = ? AND logger = ? AND day = ?",
        (room, logger, day.isoformat()),
    ).fetchone()
    origin: Origin = origin_of(row["origins"], at) if row else (0, 0)
    file = db.execute("SELECT file FROM reading_file WHERE id = ?", (origin[0],)).fetchone()
    return (file["file"] if file else None), origin[1]
