"""How one table writes its numbers and dates: settled by the table, or asked for.

Nothing is guessed. One 23.5.2027 settles that the day stands first in the whole table; where
nothing settles it, that is one question, and a person must say.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, cast

from scheduler.intake.asking import Option, of_file
from scheduler.intake.batch.cells import CellFault
from scheduler.intake.batch.columns import Column, Form, Table
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.measure import numbers_in
from scheduler.words.wording import ROMAN

DecimalSign = Literal["comma", "point"]
DayOrder = Literal["day-first", "month-first"]

_DECIMAL = re.compile(r"[+-]?[0-9]*([.,])[0-9]+|[+-]?[0-9]+([.,])")
_PERHAPS_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")
_TIME = r"(?:(?: +|T)([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?)?"
_NUMERIC_DATE = re.compile(r"([0-9]{1,2})([./-]) ?([0-9]{1,2})\2 ?([0-9]{2}|[0-9]{4})" + _TIME)
_ROMAN_DATE = re.compile(r"([0-9]{1,2})([./ -]) ?([IVXivx]+)\2 ?([0-9]{2}|[0-9]{4})" + _TIME)

_AS_ISO = "Write it as 2027-05-08"


class Cell(NamedTuple):
    """One filled cell that is text: its row as a spreadsheet counts, column and text."""

    row: int
    column: Column
    text: str

    def said(self) -> str:
        """Return where it stands and what it says, for a person."""
        return f"row {self.row}, {self.column.name}: {self.text}"


@dataclass(frozen=True, slots=True)
class Told:
    """What a person said of the whole batch; it overrules what a table shows."""

    decimal: DecimalSign | None = None
    dates: DayOrder | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    """Titles as a person wrote them, with the column each means, `note` or `-`."""
    in_order: tuple[str, ...] = ()
    """What the columns of a list without titles are, from the first to the last."""
    answers: Mapping[str, str] = field(default_factory=dict)
    """What files leave open, by the keys of their questions."""
    kept: Mapping[str, str] = field(default_factory=dict)
    """What was said before of decimal sign and dates, for where a table shows nothing."""

    @property
    def of_titles(self) -> bool:
        """Return whether anything was said of what titles mean."""
        return bool(self.columns or self.in_order)


@dataclass(frozen=True, slots=True)
class Manner:
    """How one table is read; None where nothing settles it and such cells stay unread.

    `this_year` tells the century of a year of two digits; without it, such a year is a fault,
    and where nothing shows that it stands last (`year_last`) and the first digits could be it.
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
        return self._plain_date(text) if form == "date" else text

    def plain_number(self, text: str) -> str | None:
        found = _DECIMAL.fullmatch(text)
        if found is None:
            return text
        if self.decimal == "comma" and "." in text:
            raise CellFault(
                "has a point where the decimal comma belongs",
                "Write it with a comma, and thousands without a sign",
            )
        # A comma where the point belongs is left for the column's reader to refuse.
        return None if self.decimal is None else _with_point(text, self.decimal)

    def _plain_date(self, text: str) -> str | None:
        found = _ROMAN_DATE.fullmatch(text)
        if found is not None:
            if found[3].upper() not in ROMAN:
                raise CellFault(f"has no month {found[3]}", "Write the month as I to XII")
            return self._iso(found, found[1], str(ROMAN.index(found[3].upper()) + 1))
        found = _NUMERIC_DATE.fullmatch(text)
        if found is None:
            return text
        by_day = self._iso(found, found[1], found[3])
        by_month = self._iso(found, found[3], found[1])
        if min(int(found[1]), int(found[3])) > 12:
            raise CellFault("is not a day of the calendar", _AS_ISO)
        if self.dates is None:
            return by_day if by_day == by_month else None
        first, iso = ("month", by_month) if self.dates == "month-first" else ("day", by_day)
        if int(iso[5:7]) > 12:
            raise CellFault(f"has no such month when the {first} stands first", _AS_ISO)
        return iso

    def _iso(self, found: re.Match[str], day: str, month: str) -> str:
        year = found[4] if len(found[4]) == 4 else self._full_year(found)
        hour, minute, second = found.groups()[4:]
        clock = "" if hour is None else f"T{hour:0>2}:{minute}" + (f":{second}" if second else "")
        return f"{year}-{month:0>2}-{day:0>2}{clock}"

    def _full_year(self, found: re.Match[str]) -> str:
        remedy = "Write all four digits of the year"
        if self.this_year is None:
            raise CellFault("has a year of two digits", remedy)
        if not self.year_last and _may_be_a_year(found[1], self.this_year):
            raise CellFault("has a year of two digits that could stand first or last", remedy)
        century = self.this_year // 100 * 100
        year = century + int(found[4])
        return str(year if year <= self.this_year + _YEARS_AHEAD else year - 100)


_YEARS_BACK, _YEARS_AHEAD = 10, 2
"""Around this year: two digits may be a year that stands first; later is the century before."""


def settle(
    table: Table, cells: Iterable[Cell], told: Told, findings: Findings, this_year: int | None
) -> Manner:
    """Return how a table writes numbers and dates; note what it settled, report what not."""
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
    found = _NUMERIC_DATE.fullmatch(cell.text) if cell.column.form == "date" else None
    if found is None or this_year is None:
        return False
    return len(found[4]) == 4 or not _may_be_a_year(found[1], this_year)


def _may_be_a_year(digits: str, this_year: int) -> bool:
    """Return whether the first digits of a date could be the year, of late or soon."""
    year = this_year // 100 * 100 + int(digits)
    return len(digits) == 2 and -_YEARS_BACK <= year - this_year <= _YEARS_AHEAD


def has_short_year(text: str) -> bool:
    """Return whether a date's year has two digits."""
    found = _NUMERIC_DATE.fullmatch(text) or _ROMAN_DATE.fullmatch(text)
    return found is not None and len(found[4]) == 2


class _Open(NamedTuple):
    """What must be settled: the answers, what each looks like, and how to ask.

    `told` is what somebody says now, `kept` what was said of an earlier file: it holds where a
    table shows nothing. `shows` returns for a cell the answer that it proves, "" where it leaves
    it open, None where it has no bearing. `quiet` is the answer that needs no note, and holds
    without cells.
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
    """Return the decimal sign that a number proves, "" where it may be one of thousands."""
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
    found = _NUMERIC_DATE.fullmatch(cell.text) if cell.column.form == "date" else None
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
