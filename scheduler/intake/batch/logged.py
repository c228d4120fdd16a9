"""Loggers' files in a batch: readings-<room>.csv -> what was read in that room."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from scheduler.intake.batch.findings import Findings, did_you_mean
from scheduler.intake.batch.folder import readings_in

if TYPE_CHECKING:
    from scheduler.intake.readings import Readings


@dataclass(frozen=True, slots=True)
class Logged:
    """One logger's file; `room` as its name says it."""

    room: str
    file: str
    readings: Readings


def read_logged(
    folder: Path, zone: ZoneInfo, now: datetime | None, findings: Findings
) -> tuple[Logged, ...]:
    """Read every logger's file of a folder; rows that cannot be right are noted, not taken.

    What a file leaves open keeps it out: it is asked about by `wingrest readings` alone.
    """
    files = readings_in(folder)
    if not files:
        return ()
    from scheduler.intake.readings import read_readings

    found = []
    for room, path in files.items():
        read = read_readings(path, zone=zone, now=now)
        for text in read.notes:
            findings.note(text)
        for p in (*read.problems, *read.readings.left_out):
            if read.problems:
                findings.problem(path.name, p.row, p.column, p.value, p.reason, p.remedy)
            else:
                findings.note(str(p))
        for asked in read.questions:
            remedy = f"Answer it: wingrest readings {path.name} --room {room}"
            findings.problem(path.name, asked.row, None, None, asked.text, remedy)
        if not read.problems and not read.questions:
            found.append(Logged(room, path.name, read.readings))
    return tuple(found)


def by_room(
    logged: Iterable[Logged], rooms: Iterable[str], findings: Findings
) -> Mapping[str, Readings]:
    """Return the readings by room; a file named after no room is a problem."""
    known = {room.casefold(): room for room in rooms}
    found: dict[str, Readings] = {}
    for one in logged:
        room = known.get(one.room.casefold())
        if room is None:
            guess = did_you_mean(one.room, known.values())
            remedy = f"Name the file after a room, or the room in rooms.csv{guess}"
            findings.problem(one.file, None, None, one.room, "is no room", remedy)
        else:
            found[room] = one.readings
    return found
