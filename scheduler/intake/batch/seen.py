"""What was understood of a table, for a person to look at before anything is written.

This is data: a terminal prints it, and the page shows it as a form.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from scheduler.intake.batch.titles import Meaning


@dataclass(frozen=True, slots=True)
class ColumnSpan:
    """The values of one column: how many, the least, the median and the greatest.

    The median of dates and moments is None.
    """

    column: str
    count: int
    least: Any
    median: float | None
    most: Any
    unit: str = ""


@dataclass(frozen=True, slots=True)
class RowSample:
    """One row: what the file says, and what was read in it."""

    row: int
    cells: tuple[str, ...]
    read: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class TableSeen:
    """What was understood of one table: where it is, how it is written, what its columns mean."""

    table: str
    called: str
    rows: int
    separator: str | None
    encoding: str
    decimal: str | None
    dates: str | None
    columns: tuple[Meaning, ...]
    spans: tuple[ColumnSpan, ...]
    samples: tuple[RowSample, ...]
    ids: Mapping[str, str] = field(default_factory=dict)
    """Ids given to rows that had none, each with what its row says; "" when the row is gone."""
    said: Mapping[str, str] = field(default_factory=dict)
    """What somebody said that the table does not show."""


def spans_of(
    values: Sequence[Mapping[str, Any]], units: Mapping[str, str]
) -> tuple[ColumnSpan, ...]:
    """Return the spans of all columns that hold numbers or dates."""
    spans = []
    for column in dict.fromkeys(name for row in values for name in row):
        found = [row[column] for row in values if column in row]
        span = _span(column, found, units.get(column, ""))
        spans += [span] if span is not None else []
    return tuple(spans)


def _span(column: str, found: list[Any], unit: str) -> ColumnSpan | None:
    numbers = [v for v in found if isinstance(v, int | float) and not isinstance(v, bool)]
    if len(numbers) == len(found) and found:
        return ColumnSpan(
            column, len(found), min(found), float(statistics.median(found)), max(found), unit
        )
    days = [v.date() if isinstance(v, datetime) else v for v in found if isinstance(v, date)]
    if len(days) == len(found) and found:
        return ColumnSpan(column, len(found), min(days), None, max(days))
    return None


def three_rows(rows: Iterable[RowSample]) -> tuple[RowSample, ...]:
    """Return three rows: the first, the middle one and the last."""
    every = list(rows)
    at = sorted({0, len(every) // 2, len(every) - 1}) if every else []
    return tuple(every[place] for place in at)
