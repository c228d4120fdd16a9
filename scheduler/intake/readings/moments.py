"""From the text of many moments to their parts, in whatever form the file writes them.

Texts of one form (all digits replaced by 0) are read together, digit by digit in arrays: a year of
minutes has a handful of forms. Whether 3/4 is in March or in April, and whether 27.07.05 is in 2005
or in 2027, is decided for the whole file, see `dates`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from scheduler.intake.months import FIRST_LETTERS
from scheduler.intake.readings.arrays import Bools, Ints, Texts

Number = Callable[..., npt.NDArray[np.int64]]
Order = Literal["day-first", "month-first", "year-first"]

MOST_FORMS = 600
"""The most forms of a moment in one file (12-hour clock, month names); others are not read."""

LONGEST = 40
NO_OFFSET = -10_000
_NAME = "|".join(FIRST_LETTERS)

_DATE = (
    r"(?P<a>0{1,4})(?P<sign>[-./])(?P<b>0{1,2})(?P=sign)(?P<c>0{1,4})\.?"
    rf"|(?P<d>0{{1,2}})[-. /]+(?P<name>{_NAME})[a-z]*[-., /]+(?P<y>0000|00)"
    rf"|(?P<y3>0000)[- /](?P<name3>{_NAME})[a-z]*[- /](?P<d3>0{{1,2}})"
    rf"|(?P<name2>{_NAME})[a-z]*\.? (?P<d2>0{{1,2}}),? (?P<y2>0000)"
)
_CLOCK = r"(?P<h>0{1,2})[:.](?P<m>00)(?:[:.](?P<s>00)(?:[.,]0+)?)?(?: ?(?P<half>[ap])\.? ?m\.?)?"
_ZONE = r"(?: ?(?:z|utc|gmt|(?P<east>[+-])(?P<oh>00):?(?P<om>00)?))?"
_FORM = re.compile(rf"(?:{_DATE})(?:t|,? +)(?:{_CLOCK})(?P<zone>{_ZONE})")
_COUNTED = re.compile(r"(?P<days>0{5})(?:[.,](?P<part>0+))?|(?P<unix>0{10})(?P<ms>000)?")
_FIRST_COUNTED_DAY = -25_569
"""30 December 1899, from which spreadsheets count their days (ECMA-376-1, 18.17.4.1)."""


@dataclass(slots=True)
class Parts:
    """What each moment holds; `read` is False where no moment could be made out.

    `a`, `b` and `c` are the three numbers of the date. `shape` says how they may be read: as year,
    month, day (SET); in an order still to be decided (OPEN: the year is last; SHORT: all have two
    digits); or with the month, given by name, in `b` (NAMED: `a` or `c` is the year). `offset_min`
    is NO_OFFSET for local time. `halves`: the clock says whether it is morning or afternoon.
    """

    read: Bools
    a: Ints
    b: Ints
    c: Ints
    shape: npt.NDArray[np.int8]
    second_of_day: Ints
    offset_min: Ints
    halves: Bools

    @classmethod
    def blank(cls, count: int) -> Parts:
        """Return the parts of moments of which none has been read."""
        a, b, c, of_day = np.zeros((4, count), dtype=np.int64)
        unset = np.full(count, NO_OFFSET, dtype=np.int64)
        read, halves = np.zeros((2, count), dtype=bool)
        return cls(read, a, b, c, np.zeros(count, dtype=np.int8), of_day, unset, halves)


SET, OPEN, SHORT, NAMED = range(4)


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
        text = bytes(key).decode("ascii")
        form = _FORM.fullmatch(text) or _COUNTED.fullmatch(text)
        if form is not None:
            rows = left[same]
            of_form = letters if len(rows) == len(letters) else letters[rows]
            read = _read_form if form.re is _FORM else _read_count
            read(form, of_form, rows, parts)
        left = left[~same]
    return parts


def _letters(texts: Texts) -> npt.NDArray[np.uint8]:
    """Return the texts as rows of ASCII letters in lower case, with 0 after the end."""
    if not len(texts):
        return np.zeros((0, 0), dtype=np.uint8)
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


def _number(letters: npt.NDArray[np.uint8], begin: int, end: int) -> Ints:
    total = np.zeros(len(letters), dtype=np.int64)
    for column in range(max(0, begin), end):
        total = total * 10 + (letters[:, column] - np.uint8(ord("0")))
    return total


def _read_form(
    form: re.Match[str], letters: npt.NDArray[np.uint8], rows: Ints, parts: Parts
) -> None:
    """Read the rows of one form."""

    def number(*names: str) -> Ints:
        return _number(letters, *next((form.span(n) for n in names if form.start(n) >= 0), (0, 0)))

    if not _read_date(form, number, rows, parts):
        return
    hour, minute, second = number("h"), number("m"), number("s")
    good = (hour < 24) & (minute < 60) & (second < 60)
    if form["half"]:
        good &= (hour >= 1) & (hour <= 12)
        hour = hour % 12 + (12 if form["half"] == "p" else 0)
        parts.halves[rows] = True
    if form["zone"]:
        east = -1 if form["east"] == "-" else 1
        parts.offset_min[rows] = east * (number("oh") * 60 + number("om"))
    parts.second_of_day[rows] = hour * 3_600 + minute * 60 + second
    parts.read[rows] = good


def _read_date(form: re.Match[str], number: Number, rows: Ints, parts: Parts) -> bool:
    if form["a"] is None:
        name = form["name"] or form["name2"] or form["name3"]
        parts.b[rows] = FIRST_LETTERS[name]
        parts.a[rows] = number("d", "d2", "d3")
        parts.c[rows] = number("y", "y2", "y3")
        parts.shape[rows] = NAMED
        return True
    long = [len(form[n]) for n in "abc"]
    if long[0] == 4 and long[2] <= 2:
        parts.shape[rows] = SET
    elif long[0] <= 2 and long[2] == 4:
        parts.shape[rows] = OPEN
    elif long[0] <= 2 and long[2] == 2:
        parts.shape[rows] = SHORT
    else:
        return False
    parts.a[rows], parts.b[rows], parts.c[rows] = number("a"), number("b"), number("c")
    return True


def _read_count(
    form: re.Match[str], letters: npt.NDArray[np.uint8], rows: Ints, parts: Parts
) -> None:
    """Read days counted as spreadsheets do, or seconds or milliseconds since 1970 in UTC."""
    if form["unix"]:
        seconds = _number(letters, *form.span("unix"))
        parts.offset_min[rows] = 0
    else:
        digits = min(9, len(form["part"] or ""))
        begin = form.start("part")
        part = _number(letters, begin, begin + digits) / 10**digits if digits else 0.0
        whole = _number(letters, *form.span("days")) + _FIRST_COUNTED_DAY
        seconds = whole * 86_400 + np.rint(part * np.float64(86_400)).astype(np.int64)
    days = (seconds // 86_400).astype("datetime64[D]")
    months = days.astype("datetime64[M]")
    parts.a[rows] = months.astype(np.int64) // 12 + 1970
    parts.b[rows] = months.astype(np.int64) % 12 + 1
    parts.c[rows] = (days - months.astype("datetime64[D]")).astype(np.int64) + 1
    parts.shape[rows] = SET
    parts.second_of_day[rows] = seconds % 86_400
    parts.read[rows] = True
