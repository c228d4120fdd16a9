"""One file of a batch -> rows of read values, counted as a spreadsheet does.

`grid_of` is the only place that knows that the file is CSV: another format needs another
way to a grid of text, and nothing else.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd

from scheduler.batch.cells import CellFault
from scheduler.batch.columns import Column, Table
from scheduler.batch.findings import Findings, closest, did_you_mean

Grid = list[list[str]]
OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}
LONGEST_QUOTE = 60


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the text of its filled cells, and the values of those that could be read."""

    number: int
    text: Mapping[str, str]
    values: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table as read.

    `readable` is False when the file is there but its ids are unknown, so that references
    to it cannot be judged; a file that is not there is an empty, readable sheet.
    """

    table: Table
    rows: tuple[Row, ...] = ()
    columns: frozenset[str] = field(default_factory=frozenset)
    readable: bool = True


class SheetFault(Exception):  # noqa: N818
    """A file that cannot be read as a table at all."""

    def __init__(self, row: int | None, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.row = row
        self.reason = reason
        self.remedy = remedy


def read_sheet(path: Path, table: Table, findings: Findings) -> Sheet:
    """Read one file of a batch; what is wrong in it goes to `findings`."""
    try:
        grid = grid_of(decode(path))
        header_at = next((at for at, line in enumerate(grid) if any(line)), None)
        if header_at is None:
            raise SheetFault(None, "is empty", "Write the column names into row 1, or delete it")
        where = _columns_of(grid[header_at], header_at + 1, table, findings)
    except SheetFault as fault:
        findings.problem(table.file, fault.row, None, None, fault.reason, fault.remedy)
        return Sheet(table, readable=False)
    known = [column for column in table.columns if column.name in where]
    rows = tuple(
        _read_row(number, line, grid[header_at], where, known, table, findings)
        for number, line in enumerate(grid[header_at + 1 :], header_at + 2)
        if any(line)
    )
    readable = table.key is None or table.key in where
    return Sheet(table, rows, frozenset(where), readable)


def decode(path: Path) -> str:
    """Return the file's text; UTF-8, with or without a byte order mark."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = f"cannot be read ({error.strerror})"
        raise SheetFault(None, reason, "Check the file and its permissions") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = raw.count(b"\n", 0, error.start) + 1
        raise SheetFault(
            row,
            f"is not UTF-8 text (byte 0x{raw[error.start]:02X})",
            'Save the file again as "CSV UTF-8"',
        ) from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def grid_of(text: str) -> Grid:
    """Return the stripped cells of a comma-separated text, every line equally wide."""
    first = next((line for line in text.split("\n") if line.strip()), "")
    for sign, name in OTHER_SEPARATORS.items():
        if first.count(sign) > first.count(","):
            raise SheetFault(
                1, f"is separated by {name}, not by commas", "Save it with a comma as separator"
            )
    width = _width(text)
    try:
        frame = pd.read_csv(
            io.StringIO(text),
            dtype=str,
            keep_default_na=False,
            na_filter=False,
            header=None,
            names=range(width),
            index_col=False,
            skip_blank_lines=False,
        )
    except pd.errors.EmptyDataError:
        return []
    return [[str(cell).strip() for cell in line] for line in frame.to_numpy().tolist()]


def _width(text: str) -> int:
    """Return the number of cells in the widest line.

    pandas takes its width from the first line and refuses or cuts longer ones, and it names
    no row for a quotation mark that is never closed; the csv module tells both.
    """
    reader = csv.reader(io.StringIO(text), strict=True)
    width = lines = 0
    try:
        for line in reader:
            width = max(width, len(line))
            lines += 1
    except csv.Error as error:
        raise SheetFault(
            lines + 1,
            f"has a quotation mark that does not close its cell, or a cell too long ({error})",
            'Close the cell with ", and write "" for a quotation mark inside it',
        ) from None
    return width


def _columns_of(
    header: Sequence[str], row: int, table: Table, findings: Findings
) -> dict[str, int]:
    """Return the place of every known column; report missing, doubled and unknown ones."""
    names = {column.name.casefold(): column.name for column in table.columns}
    where: dict[str, int] = {}
    unknown: list[str] = []
    for place, title in enumerate(header):
        name = names.get(title.casefold())
        if name is None:
            unknown += [title] if title else []
        elif name in where:
            remedy = "Keep one of the two columns"
            findings.problem(table.file, row, name, title, "stands twice in the header", remedy)
        else:
            where[name] = place
    missing = [c.name for c in table.columns if c.required and c.name not in where]
    for name in missing:
        near = closest(name, unknown)
        remedy = f'Rename the column "{near}"' if near else f'Add a column "{name}"'
        findings.problem(table.file, row, name, near, "this column is missing", remedy)
    free = [name for name in names.values() if name not in where]
    for title in unknown:
        guess = did_you_mean(title, free)
        findings.note(f'{table.file}: column "{_short(title)}" is unknown and not read{guess}')
    return where


def _read_row(
    number: int,
    line: Sequence[str],
    header: Sequence[str],
    where: Mapping[str, int],
    columns: Sequence[Column],
    table: Table,
    findings: Findings,
) -> Row:
    text: dict[str, str] = {}
    values: dict[str, Any] = {}
    for column in columns:
        cell = line[where[column.name]]
        if cell:
            text[column.name] = cell
            try:
                values[column.name] = column.read(cell)
            except CellFault as fault:
                findings.problem(
                    table.file, number, column.name, _short(cell), fault.reason, fault.remedy
                )
        elif column.required:
            findings.problem(table.file, number, column.name, None, "is empty", "Fill the cell")
    for cell, title in zip(line, header, strict=True):
        if cell and not title:
            findings.problem(
                table.file,
                number,
                None,
                _short(cell),
                "this cell stands under no column name",
                "Name the column in the header; a text with a comma needs quotation marks",
            )
    return Row(number, text, values)


def _short(cell: str) -> str:
    shown = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in cell)
    return shown if len(shown) <= LONGEST_QUOTE else shown[: LONGEST_QUOTE - 1] + "…"
