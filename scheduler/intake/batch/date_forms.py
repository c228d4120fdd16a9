"""From dates as people write them to ISO 8601: numbers, roman months, names of months."""

from __future__ import annotations

import re
from typing import Literal

from scheduler.intake.batch.cells import CellFault
from scheduler.intake.months import month_by_name
from scheduler.words.wording import ROMAN

DayOrder = Literal["day-first", "month-first"]

_TIME = r"(?:(?: +|T)([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?)?"
NUMERIC_DATE = re.compile(r"([0-9]{1,2})([./-]) ?([0-9]{1,2})\2 ?([0-9]{2}|[0-9]{4})" + _TIME)
_ROMAN_DATE = re.compile(r"([0-9]{1,2})([./ -]) ?([IVXivx]+)\2 ?([0-9]{2}|[0-9]{4})" + _TIME)
_NAMED_DATE = re.compile(
    r"([0-9]{1,2})(\. ?|[ /-])([^\W\d_]{3,}\.?)[ /-]([0-9]{2}|[0-9]{4})" + _TIME
)
_MONTH_FIRST = re.compile(r"([^\W\d_]{3,}\.?) ([0-9]{1,2})(?:st|nd|rd|th)?,? ([0-9]{4})")
_YEAR_FIRST = re.compile(r"([0-9]{4})([./])([0-9]{1,2})\2([0-9]{1,2})")

_AS_ISO = "Write it as 2027-05-08"

_YEARS_BACK, _YEARS_AHEAD = 10, 2
"""Years around this one. Two digits among them may be a year that stands first.

A year further ahead belongs to the century before.
"""


def iso_date(
    text: str, order: DayOrder | None, this_year: int | None, *, year_last: bool
) -> str | None:
    """Return a date as ISO 8601 and any other text unchanged; None if the order is open.

    `this_year` tells the century of a year of two digits; `year_last` says that the table shows
    that the year stands last. Raises CellFault for a date that contradicts the order, or is none.
    """

    def iso(found: re.Match[str], day: str, month: str) -> str:
        year = found[4] if len(found[4]) == 4 else _full_year(found, this_year, year_last)
        hour, minute, second = found.groups()[4:]
        clock = "" if hour is None else f"T{hour:0>2}:{minute}" + (f":{second}" if second else "")
        return f"{year}-{month:0>2}-{day:0>2}{clock}"

    found = NUMERIC_DATE.fullmatch(text)
    if found is not None:
        return _in_order(iso(found, found[1], found[3]), iso(found, found[3], found[1]), order)
    found = _ROMAN_DATE.fullmatch(text)
    if found is not None:
        return iso(found, found[1], _by_roman(found[3]))
    found = _NAMED_DATE.fullmatch(text)
    if found is not None:
        return iso(found, found[1], _by_name(found[3]))
    found = _MONTH_FIRST.fullmatch(text)
    if found is not None:
        return f"{found[3]}-{_by_name(found[1]):0>2}-{found[2]:0>2}"
    found = _YEAR_FIRST.fullmatch(text)
    return text if found is None else f"{found[1]}-{found[3]:0>2}-{found[4]:0>2}"


def _in_order(by_day: str, by_month: str, order: DayOrder | None) -> str | None:
    if min(int(by_day[5:7]), int(by_month[5:7])) > 12:
        raise CellFault("is not a day of the calendar", _AS_ISO)
    if order is None:
        return by_day if by_day == by_month else None
    first, iso = ("month", by_month) if order == "month-first" else ("day", by_day)
    if int(iso[5:7]) > 12:
        raise CellFault(f"has no such month when the {first} stands first", _AS_ISO)
    return iso


def _full_year(found: re.Match[str], this_year: int | None, year_last: bool) -> str:
    remedy = "Write all four digits of the year"
    if this_year is None:
        raise CellFault("has a year of two digits", remedy)
    if not year_last and may_be_a_year(found[1], this_year):
        raise CellFault("has a year of two digits that could stand first or last", remedy)
    century = this_year // 100 * 100
    year = century + int(found[4])
    return str(year if year <= this_year + _YEARS_AHEAD else year - 100)


def _by_roman(word: str) -> str:
    if word.upper() not in ROMAN:
        raise CellFault(f"has no month {word}", "Write the month as I to XII")
    return str(ROMAN.index(word.upper()) + 1)


def _by_name(word: str) -> str:
    month = month_by_name(word)
    if month is None:
        raise CellFault(f"has no month {word}", "Write the month in English, German or as a number")
    return str(month)


def may_be_a_year(digits: str, this_year: int) -> bool:
    """Say whether the first digits of a date could be a year near this one."""
    year = this_year // 100 * 100 + int(digits)
    return len(digits) == 2 and -_YEARS_BACK <= year - this_year <= _YEARS_AHEAD


def has_short_year(text: str) -> bool:
    """Say whether a date's year has two digits."""
    forms = (NUMERIC_DATE, _ROMAN_DATE, _NAMED_DATE)
    found = next((found for form in forms if (found := form.fullmatch(text))), None)
    return found is not None and len(found[4]) == 2
