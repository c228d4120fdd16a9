"""Loggers' files in a batch: readings-<room>.csv holds what was read in that room."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

from scheduler.intake.asking import of_file
from scheduler.intake.batch.findings import Findings, did_you_mean
from scheduler.intake.batch.folder import readings_in
from scheduler.words import wording
from scheduler.words.records import Regime

if TYPE_CHECKING:
    from scheduler.intake.readings import Readings
    from scheduler.intake.readings.preview import Preview


@dataclass(frozen=True, slots=True)
class Logged:
    """One logger's file; `room` is the one in the file's name."""

    room: str
    file: str
    readings: Readings
    preview: Preview


class LoggerClock(NamedTuple):
    """The time zone of loggers' clocks, and the time now; None: nobody says."""

    zone: ZoneInfo
    now: datetime | None


def read_logged(
    folder: Path,
    clock: LoggerClock,
    regimes: Mapping[str, Regime],
    answers: Mapping[str, str],
    findings: Findings,
) -> tuple[Logged, ...]:
    """Read every logger's file of a folder; rows that cannot be right are noted and left out.

    `answers` answer what a file leaves open; what has no answer becomes a question to a person.
    """
    files = readings_in(folder)
    if not files:
        return ()
    from scheduler.intake.readings import LoggerManner, read_readings

    kinds = {room.casefold(): regime for room, regime in regimes.items()}
    found = []
    for room, path in files.items():
        regime = kinds.get(room.casefold(), "room")
        manner = LoggerManner(of_file(answers, path.name), regime=regime)
        read = read_readings(path, zone=clock.zone, now=clock.now, manner=manner)
        for text in read.notes:
            findings.note(text)
        for p in (*read.problems, *read.readings.left_out):
            if read.problems:
                findings.problem(path.name, p.row, p.column, p.value, p.reason, p.remedy)
            else:
                findings.note(str(p))
        for asked in read.questions:
            findings.questions.append(replace(asked, file=path.name))
        if not read.problems and not read.questions and read.preview is not None:
            findings.note(f"{path.name}: {_understood(read.preview, room, regime)}")
            found.append(Logged(room, path.name, read.readings, read.preview))
    return tuple(found)


def _understood(seen: Preview, room: str, regime: Regime) -> str:
    """Return in a line what a logger's file holds, and of which kind of room."""
    kind = {"room": "ordinary air", "desiccant": "a sealed box", "warm": "a warm cabinet"}[regime]
    said = f"{wording.counted(seen.count, 'reading')} of {room} ({kind})"
    if seen.first is not None and seen.last is not None:
        said += f", {seen.first:%Y-%m-%d %H:%M} to {seen.last:%Y-%m-%d %H:%M}"
    if seen.humidity is not None:
        said += f", {seen.humidity.least:.3g} to {seen.humidity.most:.3g} %"
    if seen.temperature is not None:
        said += f", {seen.temperature.least:.3g} to {seen.temperature.most:.3g} °C"
    return said


def by_room(
    logged: Iterable[Logged], rooms: Iterable[str], findings: Findings
) -> Mapping[str, Readings]:
    """Return the readings by room; a file that is named after no room is a problem."""
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
