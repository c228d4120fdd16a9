"""From the text of humidities and temperatures to numbers, with the units after them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from scheduler.intake.readings.arrays import Bools, Floats, Texts

Decimal = Literal[".", ","]
Behind = Literal["", "%", "C", "F"]

_WIDE = 24
"""The most letters of a number with its exponent; longer texts are read one by one."""

_NUMBER = re.compile(
    r"([+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)(?:e[+-]?[0-9]{1,3})?)"
    r"\s*(?:(%)\s*(?:r\.?h\.?|r\.?f\.?)?|(?:°|deg\.?|º)?\s*([cf]))?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Numbers:
    """The numbers of a column, NaN where there is none, and the units after them.

    `signs` are the decimal signs that occur.
    """

    values: Floats
    behind: npt.NDArray[np.object_] | None
    signs: frozenset[str]

    def with_unit(self, unit: Behind) -> Bools:
        """Return which numbers have this unit after them."""
        if self.behind is None:
            return np.zeros(len(self.values), dtype=bool)
        return np.asarray(self.behind == unit, dtype=bool)


def filled(texts: Texts) -> Bools:
    """Return which cells hold anything; blanks have been removed before."""
    return np.asarray(texts != "", dtype=bool)


def numbers(texts: Texts, decimal: Decimal | None) -> Numbers:
    """Return the numbers in many cells; if `decimal` is given, the other sign makes no number."""
    try:
        as_bytes = texts.astype("S")
        if as_bytes.dtype.itemsize > _WIDE:
            raise ValueError
        letters = as_bytes.tobytes()
        commas, points = b"," in letters, b"." in letters
        if (commas and decimal == ".") or (points and decimal == ","):
            raise ValueError
        if commas:
            as_bytes = np.char.replace(as_bytes, b",", b".")
        signs = frozenset("," * commas + "." * points)
        values = as_bytes.astype(np.float64)
        # Python takes nan, inf and 1_000 for numbers, but no logger writes them. A number that ends
        # with its decimal sign, such as 61., has lost a digit.
        ends_open = any(sign + b"\0" in letters + b"\0" for sign in (b".", b","))
        if b"_" in letters or ends_open or _open_at_full_width(as_bytes):
            raise ValueError
        return Numbers(np.where(np.isfinite(values), values, np.nan), None, signs)
    except (UnicodeEncodeError, ValueError):
        return _one_by_one(texts, decimal)


def _open_at_full_width(texts: npt.NDArray[np.bytes_]) -> bool:
    width = texts.dtype.itemsize
    if not width:
        return False
    last = np.frombuffer(texts.tobytes(), dtype=np.uint8).reshape(len(texts), width)[:, -1]
    return bool(np.isin(last, (ord("."), ord(","))).any())


def _one_by_one(texts: Texts, decimal: Decimal | None) -> Numbers:
    values = np.full(len(texts), np.nan)
    behind = np.full(len(texts), "", dtype=object)
    signs: set[str] = set()
    for at, text in enumerate(texts):
        found = _NUMBER.fullmatch(text.strip()[:60])
        if found is None:
            continue
        mine = {".", ","} & set(found[1])
        if decimal is not None and mine - {decimal}:
            continue
        signs |= mine
        values[at] = float(found[1].replace(",", "."))
        behind[at] = found[2] or (found[3] or "").upper()
    return Numbers(np.where(np.isfinite(values), values, np.nan), behind, frozenset(signs))
