"""From loggers' files to readings with a preview, and a day's readings as they are stored.

pandas is imported only when a file is read: the stored readings do without it.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from scheduler.intake.asking import Question
from scheduler.intake.readings.day import DayReadings, Reading
from scheduler.intake.readings.preview import Preview
from scheduler.words.problems import Problem
from scheduler.words.records import Regime

__all__ = ["DayReadings", "LoggerFile", "LoggerManner", "Reading", "Readings", "read_readings"]


@dataclass(frozen=True, slots=True)
class Readings:
    """The readings of one file, by local date in the record's zone.

    `rows` are their rows in the file, in the order of each day's readings. `stretches` are the
    times of which the file speaks, without its longer gaps: first and last key (both included)
    counted over all days, wall-clock seconds since 1970 x 2 + pass. `left_out` names what was left
    out, with its rows; everything else was taken. `first` and `last` are local moments, None
    without readings. `digest` is the SHA-256 of the file's bytes.
    """

    days: Mapping[date, DayReadings]
    count: int
    first: datetime | None
    last: datetime | None
    left_out: tuple[Problem, ...] = ()
    rows: Mapping[date, array[int]] = field(default_factory=dict)
    stretches: tuple[tuple[int, int], ...] = ()
    file: str = ""
    digest: str = ""


@dataclass(frozen=True, slots=True)
class LoggerManner:
    """How a file is to be read where it does not tell.

    `answers` answer the questions by their keys ("dates", "decimal", "unit", ...). `offset_min`:
    how many minutes the logger's clock is ahead of UTC all year; None: what the file says, else
    local time. `regime` is the room's: a sealed box may be drier.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    offset_min: int | None = None
    regime: Regime = "room"


@dataclass(frozen=True, slots=True)
class LoggerFile:
    """A file as it was read; with `problems` it is refused, with `questions` it must wait.

    `preview` is None when it could not be read as a table of readings at all.
    """

    readings: Readings
    preview: Preview | None = None
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def questions(self) -> tuple[Question, ...]:
        """Return what must be answered before anything is recorded."""
        return self.preview.questions if self.preview else ()


def read_readings(
    path: Path,
    *,
    zone: ZoneInfo,
    now: datetime | None,
    manner: LoggerManner | None = None,
    progress: Callable[[float], None] | None = None,
) -> LoggerFile:
    """Read a logger's CSV or XLSX file; what it leaves open is asked, never guessed.

    zone: the record's; now: aware, dates after it are asked about, None: all dates are taken;
    progress: is told the share done, 0 to 1.
    """
    from scheduler.intake.readings.read import read

    return read(path, zone, now, manner or LoggerManner(), progress)
