"""Rows that are left out of a load, written with their reasons so that they can be corrected."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from scheduler.intake.batch.columns import OURS, TABLES, Table, title_key
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.sheets import Sheet
from scheduler.words.problems import BadInput, Problem
from scheduler.words.wording import listed


@dataclass(frozen=True, slots=True)
class BadRow:
    """One row that is not loaded, and why."""

    sheet: Sheet
    row: Row
    problems: tuple[Problem, ...]

    @property
    def table(self) -> Table:
        """Return the table to which the row belongs."""
        return self.sheet.table


def check_target(target: Path) -> None:
    """Raise BadInput when something is there already, or nothing can be written there."""
    if target.exists():
        raise BadInput(f"{target} is there already. Name a file or folder that is not")
    if not target.parent.is_dir():
        raise BadInput(f"{target.parent} is no folder. Make it, or name another place")


def write_bad_rows(rows: Sequence[BadRow], target: Path) -> None:
    """Write the rows so that they can be corrected and loaded again.

    A target named .csv takes the rows of one table; any other target becomes a folder with one file
    per table. Raises BadInput when the rows cannot go there, and loads nothing.
    """
    tables = [table for table in TABLES if any(bad.table is table for bad in rows)]
    texts = {table: _text_of([bad for bad in rows if bad.table is table]) for table in tables}
    alone = target.suffix.casefold() == ".csv"
    if alone and len(tables) > 1:
        names = listed(table.name for table in tables)
        raise BadInput(
            f"rows of {names} are bad, and {target.name} can hold one table only. Nothing was"
            f" loaded. Name a folder: --skip-bad {target.with_suffix('')}"
        )
    try:
        if not alone:
            target.mkdir()
        for table, text in texts.items():
            path = target if alone else target / table.file
            # The byte order mark tells spreadsheet programs that the text is UTF-8.
            path.write_text(text, encoding="utf-8-sig", newline="")
    except OSError as error:
        raise BadInput(
            f"{target} cannot be written ({error.strerror}). Nothing was loaded. Name another place"
        ) from error


def _text_of(rows: Sequence[BadRow]) -> str:
    sheet = rows[0].sheet
    places = [at for at, title in enumerate(sheet.titles) if title_key(title) not in OURS]
    out = io.StringIO()
    writer = csv.writer(out, delimiter=sheet.separator, lineterminator="\r\n")
    writer.writerow([*OURS, *(sheet.titles[at] for at in places)])
    for bad in rows:
        line = _settled(bad)
        first = bad.problems[0]
        writer.writerow(
            [first.file, bad.row.number, _said(bad.problems), *(line[at] for at in places)]
        )
    return out.getvalue()


def _settled(bad: BadRow) -> list[str]:
    """Return the cells as written, but dates as ISO: a few rows may not show their order again."""
    line = list(bad.row.line)
    for column in bad.table.columns:
        if column.form == "date" and column.name in bad.row.values:
            line[bad.sheet.where[column.name]] = bad.row.plain[column.name]
    return line


def _said(problems: Iterable[Problem]) -> str:
    said = (
        f"{p.column}: {p.reason}. {p.remedy}" if p.column else f"{p.reason}. {p.remedy}"
        for p in problems
    )
    return "; ".join(said)
