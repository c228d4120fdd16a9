"""From one table of a batch to rows of values, counted as a spreadsheet does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time
from decimal import Decimal

from scheduler.intake.batch.aids import Aids
from scheduler.intake.batch.cells import CellFault
from scheduler.intake.batch.columns import READ_WITHOUT, SPECIMENS, Column, Table, title_key
from scheduler.intake.batch.date_forms import has_short_year
from scheduler.intake.batch.findings import Findings, first_of
from scheduler.intake.batch.folder import TableSource
from scheduler.intake.batch.given_ids import given_ids
from scheduler.intake.batch.header import Header, read_header, say_meanings
from scheduler.intake.batch.manner import Cell, Manner, settle
from scheduler.intake.batch.measure import columns_shown, measured
from scheduler.intake.batch.mixed import report_mixed_dates
from scheduler.intake.batch.rows import Row
from scheduler.intake.batch.seen import RowSample, TableSeen, spans_of, three_rows
from scheduler.intake.batch.titles import GENUS, NOTES_TERM
from scheduler.table import Grid, TableFault

LONGEST_QUOTE = 60
TOTALS = frozenset({"total", "totals", "sum", "summe", "gesamt", "insgesamt"})
"""A row adds up the others when one of its cells is such a word and it has no id.

If its id is the word, it does so when it has neither family, taxon nor group (common practice, no
source). In a list without ids it does so when the other cells hold numbers alone.
"""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table as read.

    `readable` is False when the file is there but its ids are unknown, so that references to it
    cannot be judged; a file that is not there is an empty, readable sheet. `where` gives the place
    of each known column among the `titles`, `seen` what was understood.
    """

    table: Table
    rows: tuple[Row, ...] = ()
    titles: tuple[str, ...] = ()
    where: Mapping[str, int] = field(default_factory=dict)
    separator: str = ","
    readable: bool = True
    seen: TableSeen | None = None


def read_sheet(source: TableSource, table: Table, aids: Aids, findings: Findings) -> Sheet:
    """Read one table of a batch; what is wrong in it goes to `findings`."""
    try:
        grid = source.grid(table, aids.mapped)
        header = read_header(grid, table, aids.mapped.of(table), findings, aids.told.in_order)
    except TableFault as fault:
        findings.problem(table.file, fault.row, None, None, fault.reason, fault.remedy)
        return Sheet(table, readable=False)
    body = _Body(grid, header, table, findings)
    body.make_even()
    manner = settle(table, body.untyped(), aids.told, findings, aids.this_year)
    report_mixed_dates(grid, body.filled(), header.where, table, findings)
    rows = tuple(body.row(at, manner) for at in body.filled())
    say_meanings(header.columns, table, findings, shown=columns_shown([row.values for row in rows]))
    body.say_asked()
    if not grid.encoding.startswith("UTF"):
        findings.note(f"read as {grid.encoding}, by its letters", table.file)
    seen = _seen(grid, header, table, manner, rows, findings)
    readable = table.key is None or table.key in header.where
    if not readable and table is SPECIMENS:
        seen, readable = _with_ids(seen, rows, source, aids, findings), True
    return Sheet(table, rows, header.shown, header.where, grid.separator, readable, seen)


def _with_ids(
    seen: TableSeen, rows: Sequence[Row], source: TableSource, aids: Aids, findings: Findings
) -> TableSeen:
    """Give ids to rows without one; return what is seen, with what is to be kept of the ids."""
    called = findings.name(SPECIMENS.file)
    given = given_ids(rows, source.path.stem, SPECIMENS.file, aids.before(called), findings)
    for row, name in zip(rows, given.ids, strict=True):
        row.text["specimen"] = row.plain["specimen"] = row.values["specimen"] = name
    return replace(seen, ids=given.kept, said={**seen.said, "ids": given.rule})


class _Body:
    """The lines below the header."""

    def __init__(self, grid: Grid, header: Header, table: Table, findings: Findings) -> None:
        self.grid, self.header, self.table, self.findings = grid, header, table, findings
        self._columns = [c for c in table.columns if c.name in header.where]
        self._asked: dict[str, list[str]] = {}
        self._told: dict[str, list[str]] = {}
        self._odd: set[int] = set()
        self._totals: set[int] = set()

    def make_even(self) -> None:
        """Give every line the header's length; note the lines that had another."""
        width, lines = len(self.header.titles), self.grid.lines
        for at in range(self.header.below, len(lines)):
            line = lines[at]
            if not self.grid.values and any(line) and len(line) != self.header.width:
                self._odd.add(at)
            line += [""] * (width - len(line))
            if self._is_total(line):
                self._totals.add(at)
                shown = _short(" ".join(filter(None, line)))
                self._tell("totals, left out", f"row {at + 1}: {shown}")
        self._fill_merged()
        for place, title in enumerate(self.header.titles):
            # A row with nothing but our own reasons was emptied by the person who corrected it.
            if title_key(title) in READ_WITHOUT:
                for line in lines[self.header.below :]:
                    line[place] = ""

    def _fill_merged(self) -> None:
        for top, left, bottom, right in self.grid.merged:
            text = self.grid.text(top, left) if top < len(self.grid.lines) else ""
            if top < self.header.below or left != right or top == bottom or not text:
                continue
            for at in range(top + 1, min(bottom + 1, len(self.grid.lines))):
                self.grid.lines[at][left] = text
            self._tell("merged cells", f"rows {top + 1} to {bottom + 1}: {_short(text)}")

    def filled(self) -> Iterator[int]:
        """Yield the places of the rows that hold anything, without those that add up the others."""
        lines = self.grid.lines
        rows = (at for at in range(self.header.below, len(lines)) if any(lines[at]))
        return (at for at in rows if at not in self._totals)

    def _is_total(self, line: Sequence[str]) -> bool:
        where = self.header.where
        key = where.get(self.table.key or "")
        others = [cell for cell in line if cell.casefold().rstrip(": ") not in TOTALS]
        if len(others) == len(line) or key is None:  # without ids there are numbers beside it
            return len(others) < len(line) and not any(c.isalpha() for c in "".join(others))
        insect = any(line[where[name]] for name in ("family", "taxon", "group") if name in where)
        return not line[key] or (not insect and line[key].casefold().rstrip(": ") in TOTALS)

    def untyped(self) -> Iterator[Cell]:
        """Yield the filled numbers and dates that are text: they show the table's manner."""
        columns = [c for c in self._columns if c.form != "text"]
        for at in self.filled():
            for column in columns:
                place = self.header.where[column.name]
                text = self.grid.text(at, place)
                told = self.grid.value(at, place) is not None or (at, place) in self.grid.faults
                if text and not told and at not in self._odd:
                    yield Cell(at + 1, column, text)

    def row(self, at: int, manner: Manner) -> Row:
        """Read one row; what is wrong in it goes to the findings."""
        line = self.grid.lines[at]
        row = Row(at + 1, {}, {}, {}, tuple(line))
        for column in self._columns:
            if cell := line[self.header.where[column.name]]:
                row.text[column.name] = cell
        if at in self._odd:
            self._problem(
                row,
                None,
                None,
                f"has more or fewer cells than the header, which has {self.header.width}",
                "Correct the row; a text with the separator in it needs quotation marks",
            )
            return row
        for column in self._columns:
            try:
                self._read(at, column, manner, row)
            except CellFault as fault:
                cell = row.text.get(column.name, "")
                self._problem(row, column.name, _short(cell) or None, fault.reason, fault.remedy)
        self._keep_notes(row)
        self._join_genus(row)
        self._check_untitled(row)
        return row

    def _problem(
        self, row: Row, column: str | None, value: str | None, reason: str, remedy: str
    ) -> None:
        self.findings.problem(self.table.file, row.number, column, value, reason, remedy)

    def _read(self, at: int, column: Column, manner: Manner, row: Row) -> None:
        place = self.header.where[column.name]
        cell = row.text.get(column.name)
        fault = self.grid.faults.get((at, place))
        if fault is not None:
            raise CellFault(fault.reason, fault.remedy)
        if cell is None:
            if column.required:
                raise CellFault("is empty", "Fill the cell")
            return
        if column.form == "number":
            plain = self._number(at, column, cell, manner, row)
        else:
            value = self.grid.value(at, place)
            typed = value is not None
            plain = cell if typed else manner.plain(cell, column.form)
            if isinstance(value, datetime) and value.time() == time():
                # Programs that know no dates without a time write midnight.
                plain = value.date().isoformat()
            if not typed and column.form == "date" and has_short_year(cell):
                self._tell("two-digit years", f"row {at + 1}: {cell} is {plain}")
        if plain is not None:
            row.values[column.name] = column.read(plain)
            row.plain[column.name] = plain

    def _number(self, at: int, column: Column, cell: str, manner: Manner, row: Row) -> str | None:
        """Return a number's text with its point; what is beside it goes to the row."""
        place = self.header.where[column.name]
        times = self.header.columns[place].times
        value, unit = self.grid.value(at, place), self.grid.units.get((at, place), "")
        if isinstance(value, float):
            number = f"{Decimal(f'{value:.15g}'):f}"
            # A cell that holds a number needs no guess about its signs, only about its unit.
            found = measured(f"{number} {unit}".strip(), column.unit, times, lambda text: text)
        else:
            found = measured(cell, column.unit, times, manner.plain_number)
        if found is None:
            return None
        said = f"row {at + 1}: {cell} is {found.number} {column.unit}".rstrip()
        if found.doubtful:
            self._ask("about", said)
        elif found.about:
            self._tell("about", said)
        if found.turned:
            self._tell("units", said)
        if found.build is not None:
            self._take_build(at, column, cell, found.build, row)
        return found.number or None

    def _take_build(self, at: int, column: Column, cell: str, build: str, row: Row) -> None:
        named = self.header.columns[self.header.where[column.name]].how == "named"
        wing = column.name in ("wingspan_mm", "forewing_mm")
        if self.table is not SPECIMENS or (named and not wing):
            column.read(cell)
            raise CellFault("is not a number", f"Write a number in {column.unit}")
        if "size" in row.text and row.values.get("size", build) != build:
            raise CellFault(f"says {build}, and size says otherwise", "Keep one of the two")
        row.text.setdefault("size", cell)
        row.values["size"] = row.plain["size"] = build
        self._ask("builds", f"row {at + 1}: {cell} is {build}")

    def _keep_notes(self, row: Row) -> None:
        """Keep what has no column of ours as a note on the specimen."""
        parts = [
            f"{self.header.titles[place]}: {cell}"
            for place in self.header.notes
            if (cell := " ".join(row.line[place].split()))
        ]
        if not parts:
            return
        if NOTES_TERM in row.values:
            parts.insert(0, row.values[NOTES_TERM])
        text = "; ".join(parts)
        column = next(c for c in self.table.columns if c.name == NOTES_TERM)
        try:
            row.values[NOTES_TERM] = column.read(text)
        except CellFault as fault:
            self._problem(row, NOTES_TERM, _short(text), fault.reason, fault.remedy)
        row.text[NOTES_TERM] = row.plain[NOTES_TERM] = text

    def _join_genus(self, row: Row) -> None:
        """Put the genus of its own column before a taxon that is only the second word."""
        taxon = row.values.get("taxon", "")
        for place, title in enumerate(self.header.titles):
            genus = row.line[place] if title_key(title) in GENUS else ""
            if genus and taxon.islower() and taxon.isalpha():
                row.values["taxon"] = row.plain["taxon"] = f"{genus} {taxon}"

    def _check_untitled(self, row: Row) -> None:
        remedy = "Name the column in the header; a text with the separator needs quotation marks"
        for place, cell in enumerate(row.line):
            if cell and (place >= len(self.header.titles) or not self.header.titles[place]):
                reason = "this cell stands under no column name"
                self._problem(row, None, _short(cell), reason, remedy)

    def _ask(self, kind: str, text: str) -> None:
        self._asked.setdefault(kind, []).append(text)

    def _tell(self, kind: str, text: str) -> None:
        self._told.setdefault(kind, []).append(text)

    def say_asked(self) -> None:
        """Report once for each kind what a person must answer or should know, with an example."""
        for kind, texts in self._asked.items():
            self.findings.ask_once(self.table.file, kind, texts)
        for kind, texts in self._told.items():
            self.findings.note(f"{kind}: {first_of(texts)}", self.table.file)


def _seen(
    grid: Grid,
    header: Header,
    table: Table,
    manner: Manner,
    rows: Sequence[Row],
    findings: Findings,
) -> TableSeen:
    texts = [row for row in rows if row.text]
    return TableSeen(
        table=table.name,
        called=findings.name(table.file),
        rows=len(rows),
        separator=None if grid.values else grid.separator,
        encoding=grid.encoding,
        decimal=manner.decimal,
        dates=manner.dates,
        columns=header.columns,
        spans=spans_of([row.values for row in rows], {c.name: c.unit for c in table.columns}),
        said=manner.said,
        samples=three_rows([RowSample(row.number, row.line, row.values) for row in texts]),
    )


def _short(cell: str) -> str:
    shown = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in cell)
    return shown if len(shown) <= LONGEST_QUOTE else shown[: LONGEST_QUOTE - 1] + "…"
