"""How one table writes its numbers and dates: the table settles it, or a person is asked.

Nothing is guessed. One 23.5.2027 settles that the day stands first in the whole table. Where
nothing settles it, there is one question, and a person must answer it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, cast

from scheduler.intake.asking import Option, of_file
from scheduler.intake.batch.cells import CellFault
from scheduler.intake.batch.columns import Column, Form, Table
from scheduler.intake.batch.date_forms import NUMERIC_DATE, DayOrder, iso_date, may_be_a_year
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.measure import numbers_in

DecimalSign = Literal["comma", "point"]

_DECIMAL = re.compile(r"[+-]?[0-9]*([.,])[0-9]+|[+-]?[0-9]+([.,])")
_PERHAPS_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")


class Cell(NamedTuple):
    """One filled cell that is text: its row as a spreadsheet counts, its column and its text."""

    row: int
    column: Column
    text: str

    def said(self) -> str:
        """Return for a person where it stands and what it says."""
        return f"row {self.row}, {self.column.name}: {self.text}"


@dataclass(frozen=True, slots=True)
class Told:
    """What a person said of the whole batch; it overrules what a table shows."""

    decimal: DecimalSign | None = None
    dates: DayOrder | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    """Titles as a person wrote them, with the column that each means, `note` or `-`."""
    in_order: tuple[str, ...] = ()
    """What the columns of a list without titles are, from the first to the last."""
    answers: Mapping[str, str] = field(default_factory=dict)
    """Answers to what files leave open, by the keys of their questions."""
    kept: Mapping[str, str] = field(default_factory=dict)
    """What was said before of decimal sign and dates, for tables that show nothing."""

    @property
    def of_titles(self) -> bool:
        """Say whether anything was said of what titles mean."""
        return bool(self.columns or self.in_order)


@dataclass(frozen=True, slots=True)
class Manner:
    """How one table is read; None where nothing settles it: such cells stay unread.

    `this_year` tells the century of a year of two digits; without it such a year is a fault. It is
    also a fault when the first digits of the date could be the year and nothing shows that the year
    stands last (`year_last`).
    """

    decimal: DecimalSign | None = "point"
    dates: DayOrder | None = None
    this_year: int | None = None
    year_last: bool = False
    said: Mapping[str, str] = field(default_factory=dict)
    """What somebody said of it, by the keys of the questions."""

    def plain(self, text: str, form: Form) -> str | None:
        """Return a number with its point, or a date as ISO 8601; None if it stays unread.

        Raises CellFault for what contradicts the manner of the table.
        """
        if form == "number":
            return self.plain_number(text)
        if form != "date":
            return text
        return iso_date(text, self.dates, self.this_year, year_last=self.year_last)

    def plain_number(self, text: str) -> str | None:
        found = _DECIMAL.fullmatch(text)
        if found is None:
            return text
        if self.decimal == "comma" and "." in text:
            raise CellFault(
                "has a point where the decimal comma belongs",
                "Write it with a comma, and thousands without a sign",
            )
        # Where a point belongs, a comma is left for the column's reader to refuse.
        return None if self.decimal is None else _with_point(text, self.decimal)


def settle(
    table: Table, cells: Iterable[Cell], told: Told, findings: Findings, this_year: int | None
) -> Manner:
    """Return how a table writes numbers and dates; note what it shows, report or ask the rest."""
    cells = list(cells)
    notes: list[str] = []
    own = of_file(told.answers, findings.name(table.file))
    said = {"decimal": told.decimal or own.get("decimal"), "dates": told.dates or own.get("dates")}
    decimal, dates = (
        _settled(ask, table, cells, findings, notes)
        for ask in (
            _numbers(said["decimal"], told.kept.get("decimal")),
            _dates(said["dates"], told.kept.get("dates")),
        )
    )
    if notes:
        findings.note(f"read with {' and '.join(notes)}", table.file)
    year_last = said["dates"] is not None or any(_shows_year_last(c, this_year) for c in cells)
    return Manner(
        cast("DecimalSign | None", decimal),
        cast("DayOrder | None", dates),
        this_year,
        year_last,
        {key: word for key, word in said.items() if word is not None},
    )


def _shows_year_last(cell: Cell, this_year: int | None) -> bool:
    found = NUMERIC_DATE.fullmatch(cell.text) if cell.column.form == "date" else None
    if found is None or this_year is None:
        return False
    return len(found[4]) == 4 or not may_be_a_year(found[1], this_year)


class _Open(NamedTuple):
    """What must be settled: the answers, what each looks like, and how to ask.

    `told` is what somebody says now; `kept` what was said of an earlier file, which holds where a
    table shows nothing. `shows` returns the answer that a cell proves, "" where the cell leaves it
    open, None where the cell does not matter. `quiet` is the answer that needs no note and that
    holds when no cell matters.
    """

    key: str
    told: str | None
    kept: str | None
    shows: Callable[[Cell], str | None]
    words: dict[str, str]
    quiet: str | None
    open_reason: str
    meant: str
    instead: str


def _numbers(told: str | None, kept: str | None) -> _Open:
    return _Open(
        "decimal",
        told,
        kept,
        _decimal_shown,
        {"comma": "a decimal comma", "point": "a decimal point"},
        "point",
        "it cannot be told whether a number has decimals or thousands",
        "the decimal sign",
        "thousands without a sign",
    )


def _dates(told: str | None, kept: str | None) -> _Open:
    return _Open(
        "dates",
        told,
        kept,
        _order_shown,
        {"day-first": "dates day first", "month-first": "dates month first"},
        None,
        "it cannot be told whether dates have the day or the month first",
        "what stands first",
        "them as 2027-05-08",
    )


def _settled(
    ask: _Open, table: Table, cells: list[Cell], findings: Findings, notes: list[str]
) -> str | None:
    first: dict[str, Cell] = {}
    for cell in cells:
        shown = ask.shows(cell)
        if shown is not None:
            first.setdefault(shown, cell)
    proven = [answer for answer in ask.words if answer in first]
    if not first:
        return ask.quiet
    if ask.told in ask.words:
        notes.append(f"{ask.words[ask.told]} (as told)")
        return ask.told
    if len(proven) == 1:
        if proven[0] != ask.quiet:
            notes.append(f"{ask.words[proven[0]]} ({first[proven[0]].said()})")
        return proven[0]
    if proven:
        both = " and ".join(f"{ask.words[a]} ({first[a].said()})" for a in proven)
        ways = " or ".join(f"--{ask.key} {answer}" for answer in ask.words)
        remedy = f"Write all in one way, or say which is meant with {ways}"
        findings.problem(table.file, None, None, None, f"has {both}", remedy)
    elif ask.kept in ask.words:
        notes.append(f"{ask.words[ask.kept]} (as you said before)")
        return ask.kept
    else:
        text = f"{ask.open_reason} ({first[''].said()}): say {ask.meant}, or write {ask.instead}"
        options = [Option(answer, words) for answer, words in ask.words.items()]
        findings.ask(table.file, ask.key, text, options, likely=None)
    return None


def _decimal_shown(cell: Cell) -> str | None:
    if cell.column.form != "number":
        return None
    shown = {_sign_of(number, cell.column) for number in numbers_in(cell.text, cell.column.unit)}
    return next((sign for sign in ("comma", "point", "") if sign in shown), None)


def _sign_of(number: str, column: Column) -> str | None:
    """Return the decimal sign that a number proves, "" where it may separate thousands."""
    if not _DECIMAL.fullmatch(number):
        return None
    if _PERHAPS_THOUSANDS.fullmatch(number):
        try:
            column.read(re.sub("[.,]", "", number))
        except CellFault:
            pass
        else:
            return ""
    return "comma" if "," in number else "point"


def _order_shown(cell: Cell) -> str | None:
    found = NUMERIC_DATE.fullmatch(cell.text) if cell.column.form == "date" else None
    if found is None:
        return None
    first, second = int(found[1]), int(found[3])
    if first == second or min(first, second) > 12:
        return None
    if max(first, second) <= 12:
        return ""
    return "day-first" if first > 12 else "month-first"


def _with_point(text: str, decimal: DecimalSign) -> str:
    return text.replace(",", ".") if decimal == "comma" else text
