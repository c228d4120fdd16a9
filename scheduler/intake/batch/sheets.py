"""One table of a batch -> rows of read values, counted as a spreadsheet does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from scheduler.intake.batch.cells import CellFault
from scheduler.intake.batch.columns import OURS, Column, Table, title_key
from scheduler.intake.batch.findings import Findings, closest, did_you_mean
from scheduler.intake.batch.folder import Source
from scheduler.intake.batch.grids import Grid, SheetFault
from scheduler.intake.batch.manner import Cell, Manner, Told, settle

LONGEST_QUOTE = 60


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its filled cells as they were read, made plain, and their values.

    `plain` and `values` lack what could not be read. `line` is the whole row, also what
    stands under unknown columns.
    """

    number: int
    text: dict[str, str]
    plain: dict[str, str]
    values: dict[str, Any]
    line: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table as read.

    `readable` is False when the file is there but its ids are unknown, so that references
    to it cannot be judged; a file that is not there is an empty, readable sheet. `where`
    tells the place of each known column among the `titles`.
    """

    table: Table
    rows: tuple[Row, ...] = ()
    titles: tuple[str, ...] = ()
    where: Mapping[str, int] = field(default_factory=dict)
    separator: str = ","
    readable: bool = True


def read_sheet(source: Source, table: Table, told: Told, findings: Findings) -> Sheet:
    """Read one table of a batch; what is wrong in it goes to `findings`."""
    try:
        grid = source.grid(table)
        header_at = next((at for at, line in enumerate(grid.lines) if any(line)), None)
        if header_at is None:
            raise SheetFault(None, "is empty", "Write the column names into row 1, or delete it")
    except SheetFault as fault:
        findings.problem(table.file, fault.row, None, None, fault.reason, fault.remedy)
        return Sheet(table, readable=False)
    titles = tuple(grid.lines[header_at])
    where = _columns_of(titles, header_at + 1, table, findings)
    _blank_ours(grid, titles, header_at)
    body = _Body(grid, header_at + 1, titles, where, table)
    manner = settle(table, body.untyped(), told, findings)
    rows = tuple(body.row(at, manner, findings) for at in body.filled())
    readable = table.key is None or table.key in where
    return Sheet(table, rows, titles, where, grid.separator, readable)


def _blank_ours(grid: Grid, titles: tuple[str, ...], header_at: int) -> None:
    # A row that holds nothing but our own reasons was emptied by whoever corrected it.
    for place, title in enumerate(titles):
        if title_key(title) in OURS:
            for line in grid.lines[header_at + 1 :]:
                line[place] = ""


def _columns_of(
    titles: tuple[str, ...], row: int, table: Table, findings: Findings
) -> dict[str, int]:
    """Return the place of every known column; report missing, doubled and unknown ones."""
    names = {column.key: column.name for column in table.columns}
    where: dict[str, int] = {}
    unknown: list[str] = []
    for place, title in enumerate(titles):
        name = names.get(title_key(title))
        if name is None:
            unknown += [title] if title and title_key(title) not in OURS else []
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
        findings.note(f'column "{_short(title)}" is unknown and not read{guess}', table.file)
    return where


@dataclass(frozen=True, slots=True)
class _Body:
    """The lines below the header."""

    grid: Grid
    start: int
    titles: tuple[str, ...]
    where: Mapping[str, int]
    table: Table

    def filled(self) -> Iterator[int]:
        """Return where the rows are that hold anything."""
        lines = self.grid.lines
        return (at for at in range(self.start, len(lines)) if any(lines[at]))

    def untyped(self) -> Iterator[Cell]:
        """Return the filled numbers and dates that are text: they show the table's manner."""
        columns = [c for c in self._columns() if c.form != "text"]
        for at in self.filled():
            for column in columns:
                place = self.where[column.name]
                text = self.grid.lines[at][place]
                told = (at, place) in self.grid.typed or (at, place) in self.grid.faults
                if text and not told:
                    yield Cell(at + 1, column, text)

    def row(self, at: int, manner: Manner, findings: Findings) -> Row:
        """Read one row; what is wrong in it goes to `findings`."""
        line = self.grid.lines[at]
        row = Row(at + 1, {}, {}, {}, tuple(line))
        for column in self._columns():
            cell = line[self.where[column.name]]
            if cell:
                row.text[column.name] = cell
            try:
                self._read(at, column, manner, row)
            except CellFault as fault:
                findings.problem(
                    self.table.file,
                    row.number,
                    column.name,
                    _short(cell) or None,
                    fault.reason,
                    fault.remedy,
                )
        self._check_untitled(row, findings)
        return row

    def _columns(self) -> list[Column]:
        return [column for column in self.table.columns if column.name in self.where]

    def _read(self, at: int, column: Column, manner: Manner, row: Row) -> None:
        place = at, self.where[column.name]
        cell = row.text.get(column.name)
        if place in self.grid.faults:
            raise self.grid.faults[place]
        if cell is None:
            if column.required:
                raise CellFault("is empty", "Fill the cell")
            return
        plain = cell if place in self.grid.typed else manner.plain(cell, column.form)
        if plain is not None:
            row.values[column.name] = column.read(plain)
            row.plain[column.name] = plain

    def _check_untitled(self, row: Row, findings: Findings) -> None:
        remedy = "Name the column in the header; a text with the separator needs quotation marks"
        for cell, title in zip(row.line, self.titles, strict=True):
            if cell and not title:
                reason = "this cell stands under no column name"
                findings.problem(self.table.file, row.number, None, _short(cell), reason, remedy)


def _short(cell: str) -> str:
    shown = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in cell)
    return shown if len(shown) <= LONGEST_QUOTE else shown[: LONGEST_QUOTE - 1] + "…"
