"""What was understood of a logger's file, shown before anything is recorded: plain data."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from scheduler.intake.asking import Question


class Spread(NamedTuple):
    """The least, middle and largest of many values."""

    least: float
    median: float
    most: float


class Sample(NamedTuple):
    """One row of the file and what was read in it; `text` is as the file writes it."""

    row: int
    text: str
    at: datetime
    rh_pct: float | None
    temp_c: float | None


class TakenAs(NamedTuple):
    """A column of the file and what it was taken for."""

    title: str
    taken_as: str


@dataclass(frozen=True, slots=True)
class Preview:
    """How one file was read.

    `separator` and `encoding` are None for a workbook, `decimal` without any decimal sign, `dates`
    where every order reads the file alike. `unit` is the temperature's ("C", "F", "by cell"), None
    without one. `clock` says whose time it is. Moments are local ones of the record's zone. While
    there are `questions`, nothing is recorded.
    """

    file: str
    encoding: str | None
    separator: str | None
    decimal: str | None
    dates: str | None
    clock: str
    unit: str | None
    fractions: bool
    columns: tuple[TakenAs, ...]
    count: int
    first: datetime | None
    last: datetime | None
    humidity: Spread | None
    temperature: Spread | None
    samples: tuple[Sample, ...]
    questions: tuple[Question, ...] = ()
