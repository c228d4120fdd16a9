"""The form that every table has once it is read: lines of cells."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

CellPlace = tuple[int, int]
"""Line and column, both counted from 0."""

CellValue = int | float | bool | date | datetime | time | timedelta
Likes = Callable[[Sequence[str]], float]
"""Rates how much a line looks like the expected header; higher is better, 0 is not at all."""

MOST_COLUMNS = 1000

_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u202f"), " ") | dict.fromkeys(
    map(ord, "\u200b\u2060\ufeff")
)


class TableFault(Exception):  # noqa: N818 - reads as the trade would say it
    """A file that cannot be read as a table; `row` counts from 1, None means the whole file."""

    def __init__(self, row: int | None, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.row = row
        self.reason = reason
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class NoValue:
    """Why a cell shows no value, and what to do."""

    reason: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Grid:
    """The cells of one table.

    `lines` hold the text of each cell as a person sees it, without stray spaces; each line is as
    long as the file makes it (in a workbook: up to its last filled cell), so that it can be
    compared with its header. A date that a workbook holds as a date is written as ISO 8601.

    `values` are the values that a workbook holds behind the texts, None where it holds text; a
    percentage is what one sees, 52.0 for 0.52 shown as 52%. For a text file there are none.
    `units` are what a number format writes after a number: "%", "mm". `faults` are cells that
    show no value. `merged` are ranges that show the value of their first cell: first line, first
    column, last line, last column, all from 0 and included.
    """

    lines: list[list[str]] = field(default_factory=list)
    values: list[list[CellValue | None]] = field(default_factory=list)
    units: Mapping[CellPlace, str] = field(default_factory=dict)
    faults: Mapping[CellPlace, NoValue] = field(default_factory=dict)
    merged: tuple[tuple[int, int, int, int], ...] = ()
    sheet: str | None = None
    separator: str = ","
    encoding: str = "UTF-8"
    hidden: bool = False

    def value(self, line: int, column: int) -> CellValue | None:
        """Return the value at a line and column from 0; None for text, no value and outside."""
        if line >= len(self.values) or column >= len(self.values[line]):
            return None
        return self.values[line][column]

    def text(self, line: int, column: int) -> str:
        """Return the text of a cell, "" beyond the end of its line; lines and columns from 0."""
        cells = self.lines[line]
        return cells[column] if column < len(cells) else ""


def clean(text: str) -> str:
    """Return a cell's text with plain spaces, none at its ends, and without invisible signs."""
    return text.strip() if text.isascii() else text.translate(_SPACES).strip()
