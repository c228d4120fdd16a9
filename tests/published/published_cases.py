"""Read the published figures of this folder; README.md says what the columns mean."""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from scheduler.rulebook import rules_dir

FOLDER = Path(__file__).parent

Row = dict[str, str]

CASE_TABLES = ("board_time", "relaxing", "grooves", "boards", "pins", "limits", "bodies")


def rows(table: str, folder: Path = FOLDER) -> list[Row]:
    """Return the lines of a table; one with too few or too many cells raises ValueError."""
    with (folder / f"{table}.csv").open(newline="", encoding="utf-8") as lines:
        header, *found = csv.reader(lines, strict=True)
    return [dict(zip(header, cells, strict=True)) for cells in found]


def rule_rows(table: str) -> list[Row]:
    """Return the lines of a table of the rules, as they are written."""
    return rows(table, rules_dir())


def each(table: str, *columns: str) -> list[Any]:
    """Return a test for each line and each value of the columns that may hold several.

    In a test's line those columns hold one value. Its id names source, locator and statement.
    """
    return [
        pytest.param(one, id=f"{_cited(one)} [{' '.join(one[column] for column in columns)}]")
        for row in rows(table)
        for one in _spread(row, columns)
    ]


def _spread(row: Row, columns: tuple[str, ...]) -> Iterator[Row]:
    for values in itertools.product(*(row[column].split("|") for column in columns)):
        yield row | dict(zip(columns, values, strict=True))


def _cited(row: Row) -> str:
    return f"{row['case']}: {row['source_id']}, {row['locator']}: {row['says']}"


def number(cell: str) -> float | None:
    """Return a cell's number, None when it is empty."""
    return float(cell) if cell else None


def bounds(row: Row) -> tuple[float, float]:
    """Return what is printed, widened by the tolerance; open ends are infinite."""
    lower, upper = number(row["lower"]), number(row["upper"])
    tolerance = float(row["tolerance"])
    return (
        -math.inf if lower is None else lower - tolerance,
        math.inf if upper is None else upper + tolerance,
    )


def place(row: Row, low: float, high: float) -> str:
    """Say where an answer from `low` to `high` lies, both included: inside, below or above."""
    lower, upper = bounds(row)
    return "below" if high < lower else "above" if low > upper else "inside"
