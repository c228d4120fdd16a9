"""What loggers write -> readings, and the readings of a day as they are stored.

pandas is imported when a file is read, not before: the stored readings are for everybody.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo

from scheduler.intake.readings.day import DayReadings, Reading
from scheduler.words.problems import Problem

__all__ = ["DayReadings", "Reading", "Readings", "read_readings"]


@dataclass(frozen=True, slots=True)
class Readings:
    """The readings of one file by local date in the record's zone.

    `left_out` names what was not taken over, with its rows; everything else was. `first` and
    `last` are local moments, None without readings.
    """

    days: Mapping[date, DayReadings]
    count: int
    first: datetime | None
    last: datetime | None
    left_out: tuple[Problem, ...] = ()


def read_readings(
    path: Path,
    *,
    zone: ZoneInfo,
    add_rh: float = 0.0,
    dates: Literal["day-first", "month-first"] | None = None,
    decimal: Literal[".", ","] | None = None,
    offset_min: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[Readings, list[Problem], list[str]]:
    """Read a logger's CSV or XLSX file: readings, problems that refuse it, and notes.

    zone: of the record; add_rh: the logger's fixed offset, added to every humidity [points];
    dates: which comes first where the file does not tell; decimal: None takes both signs;
    offset_min: how many minutes ahead of UTC a logger's clock stands all year, None: what the
    file says, else local time; progress: told the share done, 0 to 1.
    """
    from scheduler.intake.readings.read import read

    return read(path, zone, add_rh, dates, decimal, offset_min, progress)
