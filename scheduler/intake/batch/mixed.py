"""Columns in which a spreadsheet turned some dates into its own and left others as text.

A program that puts the month first turns a typed 6/5/2027 into the 5th of June, and leaves
23/5/2027 as text. The dates that it turned have day and month swapped, and look as good as any.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date

from scheduler.intake.batch.columns import Table
from scheduler.intake.batch.findings import Findings
from scheduler.table import Grid

_ISO = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})\b")
_NUMERIC = re.compile(r"[0-9]{1,2}[./-] ?[0-9]{1,2}[./-] ?(?:[0-9]{4}|[0-9]{2})\b")


def report_mixed_dates(
    grid: Grid, rows: Iterable[int], where: Mapping[str, int], table: Table, findings: Findings
) -> None:
    """Report date columns in which some dates may have been swapped and others not."""
    rows = list(rows)
    for column in table.columns:
        if column.form != "date" or column.name not in where:
            continue
        place = where[column.name]
        turned = [at for at in rows if _may_be_swapped(grid, at, place)]
        texts = [at for at in rows if _is_numeric_text(grid, at, place)]
        if turned and texts:
            findings.problem(
                table.file,
                None,
                column.name,
                grid.text(turned[0], place),
                f"may have day and month swapped in row {turned[0] + 1}: other dates of the column"
                f" are still as typed (row {texts[0] + 1}: {grid.text(texts[0], place)})",
                "Write all dates of the column in one way, as 2027-05-08",
            )


def _may_be_swapped(grid: Grid, at: int, place: int) -> bool:
    value = grid.value(at, place)
    if isinstance(value, date):
        return value.day <= 12 and value.day != value.month
    found = _ISO.match(grid.text(at, place))
    return bool(found) and 1 <= int(found[3]) <= 12 and found[2] != found[3] if found else False


def _is_numeric_text(grid: Grid, at: int, place: int) -> bool:
    return grid.value(at, place) is None and bool(_NUMERIC.match(grid.text(at, place)))
