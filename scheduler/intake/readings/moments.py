"""The text of many moments -> their parts, in whatever form the file writes them.

Texts of one form (digits replaced by 0) are read together, digit by digit in arrays: a year of
minutes has a handful of forms. Whether 3/4 is in March or in April is left to the file as a
whole, see `order_of`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from scheduler.intake.readings.sheet import Texts

Ints = npt.NDArray[np.int64]
Number = Callable[..., npt.NDArray[np.int64]]
Bools = npt.NDArray[np.bool_]
Order = Literal["day-first", "month-first"]

MOST_FORMS = 600
"""Forms of a moment in one file (12-hour clock, month names): what comes later is no moment."""

LONGEST = 40
NO_OFFSET = -10_000
_MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec".split()
_NAME = "|".join(_MONTHS)

_DATE = (
    r"(?P<a>0{1,4})(?P<sign>[-./])(?P<b>0{1,2})(?P=sign)(?P<c>0{1,4})\.?"
    rf"|(?P<d>0{{1,2}})[-. /]+(?P<name>{_NAME})[a-z]*[-., /]+(?P<y>0000|00)"
    rf"|(?P<name2>{_NAME})[a-z]*\.? (?P<d2>0{{1,2}}),? (?P<y2>0000)"
)
_CLOCK = r"(?P<h>0{1,2}):(?P<m>00)(?::(?P<s>00)(?:[.,]0+)?)?(?: ?(?P<half>[ap])\.? ?m\.?)?"
_ZONE = r"(?: ?(?:z|utc|gmt|(?P<east>[+-])(?P<oh>00):?(?P<om>00)?))?"
_FORM = re.compile(rf"(?:{_DATE})(?:t|,? +)(?:{_CLOCK})(?P<zone>{_ZONE})")


@dataclass(slots=True)
class Parts:
    """What stands in each moment; `read` is False where no moment could be made out.

    `first` and `second` are the two numbers beside the year: day and month in an order still to
    be told, where `open_order`; else month and day. `offset_min` is NO_OFFSET for local time.
    """

    read: Bools
    year: Ints
    first: Ints
    second: Ints
    second_of_day: Ints
    offset_min: Ints
    open_order: Bools

    @classmethod
    def blank(cls, count: int) -> Parts:
        """Return parts of moments of which none has been read."""
        year, first, second, of_day = np.zeros((4, count), dtype=np.int64)
        unset = np.full(count, NO_OFFSET, dtype=np.int64)
        read, open_order = np.zeros((2, count), dtype=bool)
        return cls(read, year, first, second, of_day, unset, open_order)


@dataclass(frozen=True, slots=True)
class OrderFault(Exception):  # noqa: N818
    """A file that does not tell day from month: the row (from 0) where it shows, and why."""

    at: int
    reason: str


def parts_of(texts: Texts) -> Parts:
    """Read many moments."""
    parts = Parts.blank(len(texts))
    letters = _letters(texts)
    if not letters.size:
        return parts
    digits = (letters >= ord("0")) & (letters <= ord("9"))
    forms = np.where(digits, np.uint8(ord("0")), letters)
    keys = np.ascontiguousarray(forms).view(f"S{forms.shape[1]}").ravel()
    left = np.arange(len(texts))
    for _ in range(MOST_FORMS):
        if not left.size:
            break
        key = keys[left[0]]
        same = keys[left] == key
        form = _FORM.fullmatch(bytes(key).decode("ascii"))
        if form is not None:
            rows = left[same]
            _read_form(form, letters if len(rows) == len(letters) else letters[rows], rows, parts)
        left = left[~same]
    return parts


def order_of(parts: Parts) -> Order:
    """Return whether the file writes the day or the month first; raise OrderFault if unknown.

    A number above 12 tells. So does a step from one date to the next: read the right way some
    are one day, read the wrong way none is.
    """
    rows = np.flatnonzero(parts.read & parts.open_order)
    first, second = parts.first[rows], parts.second[rows]
    day_first, month_first = first > 12, second > 12
    if day_first.any() and month_first.any():
        rarer = day_first if day_first.sum() <= month_first.sum() else month_first
        at = int(rows[np.flatnonzero(rarer)[0]])
        raise OrderFault(at, "this date has the day where other rows have the month")
    if day_first.any():
        return "day-first"
    if month_first.any() or not rows.size or (first == second).all():
        return "month-first"
    year = parts.year[rows]
    by_day, by_month = _day_steps(year, second, first), _day_steps(year, first, second)
    if bool(by_day) != bool(by_month):
        return "day-first" if by_day else "month-first"
    at = int(rows[np.flatnonzero(first != second)[0]])
    raise OrderFault(at, "day and month cannot be told apart in this file")


def wall_seconds(parts: Parts, order: Order) -> tuple[Ints, Bools]:
    """Return seconds of the wall clock since 1970, and which of them are moments at all."""
    swap = parts.open_order & (order == "day-first")
    month = np.where(swap, parts.second, parts.first)
    day = np.where(swap, parts.first, parts.second)
    good = parts.read & (month >= 1) & (month <= 12) & (parts.year >= 1970) & (parts.year < 2200)
    days, fits = _days(np.where(good, parts.year, 1970), np.where(good, month, 1), day)
    return days * 86_400 + parts.second_of_day, good & fits


def _letters(texts: Texts) -> npt.NDArray[np.uint8]:
    """Return the texts as rows of ASCII letters in lower case, 0 after the end."""
    try:
        plain = texts.astype("S")
    except UnicodeEncodeError:
        plain = np.array([text.encode("ascii", "replace") for text in texts])
    if plain.dtype.itemsize > LONGEST:
        short = (text.strip()[: LONGEST + 1].encode("ascii", "replace") for text in texts)
        plain = np.array(list(short))
    if not plain.dtype.itemsize:
        return np.zeros((0, 0), dtype=np.uint8)
    letters = plain.view(np.uint8).reshape(len(plain), -1)
    if (letters[:, 0] == ord(" ")).any() or (letters == ord(" ")).all(axis=0).any():
        plain = np.char.strip(plain)
        letters = plain.view(np.uint8).reshape(len(plain), -1)
    return np.where((letters >= ord("A")) & (letters <= ord("Z")), letters | 0x20, letters)


def _read_form(
    form: re.Match[str], letters: npt.NDArray[np.uint8], rows: Ints, parts: Parts
) -> None:
    """Read the rows of one form."""

    def number(*names: str) -> Ints:
        total = np.zeros(len(rows), dtype=np.int64)
        begin, end = next((form.span(n) for n in names if form.start(n) >= 0), (0, 0))
        for column in range(begin, end):
            total = total * 10 + (letters[:, column] - np.uint8(ord("0")))
        return total

    if not _read_date(form, number, rows, parts):
        return
    hour, minute, second = number("h"), number("m"), number("s")
    good = (hour < 24) & (minute < 60) & (second < 60)
    if form["half"]:
        good &= (hour >= 1) & (hour <= 12)
        hour = hour % 12 + (12 if form["half"] == "p" else 0)
    if form["zone"]:
        east = -1 if form["east"] == "-" else 1
        parts.offset_min[rows] = east * (number("oh") * 60 + number("om"))
    parts.second_of_day[rows] = hour * 3_600 + minute * 60 + second
    parts.read[rows] = good


def _read_date(form: re.Match[str], number: Number, rows: Ints, parts: Parts) -> bool:
    if form["a"] is None:
        name = form["name"] or form["name2"]
        parts.first[rows] = _MONTHS.index(name) + 1
        parts.second[rows] = number("d", "d2")
        parts.year[rows] = _whole_year(number("y", "y2"))
        return True
    year_first, year_last = len(form["a"]) == 4, len(form["c"]) in (2, 4)
    if year_first and len(form["c"]) <= 2:
        parts.year[rows], parts.first[rows], parts.second[rows] = (
            number("a"),
            number("b"),
            number("c"),
        )
        return True
    if not year_last or len(form["a"]) > 2:
        return False
    parts.year[rows] = _whole_year(number("c"))
    dotted = form["sign"] == "."
    parts.first[rows], parts.second[rows] = (
        number("b" if dotted else "a"),
        number("a" if dotted else "b"),
    )
    parts.open_order[rows] = not dotted
    return True


def _whole_year(year: Ints) -> Ints:
    return np.where(year < 100, year + 2000, year)


def _days(year: Ints, month: Ints, day: Ints) -> tuple[Ints, Bools]:
    """Return days since 1970, and which of them are in the calendar."""
    months = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    begin = months.astype("datetime64[D]").astype(np.int64)
    end = (months + 1).astype("datetime64[D]").astype(np.int64)
    return begin + day - 1, (day >= 1) & (day <= end - begin)


def _day_steps(year: Ints, month: Ints, day: Ints) -> int:
    """Return how often one date follows another by a day, in either direction."""
    days, fits = _days(year, month, day)
    return int((np.abs(np.diff(days[fits])) == 1).sum())
