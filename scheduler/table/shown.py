"""How a number format shows a value, as far as it changes what one reads.

Percentages, units, digits after the point and dates (ISO 8601); colours, conditions and
currencies are left alone. ECMA-376-1, 18.8.30 and 18.8.31 say what the codes mean.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from openpyxl.styles.numbers import (  # type: ignore[import-untyped]
    BUILTIN_FORMATS,
    BUILTIN_FORMATS_MAX_SIZE,
)

from scheduler.table.grid import CellValue

_QUOTED = re.compile(r'"([^"]*)"|\\(.)')
_BRACKET = re.compile(r"\[[^\]]*\]|[_*].")
_DIGITS = re.compile(r"[#0?][#0?, ]*(?:\.([#0?]+))?")


@dataclass(frozen=True, slots=True)
class Shown:
    """How one format shows a number: scaled by `times`, with `unit` behind it."""

    times: int = 1
    unit: str = ""
    decimals: int | None = None
    with_clock: bool = False

    def text(self, value: CellValue) -> str:
        """Return the value as one reads it, numbers with a point and dates as ISO 8601."""
        if isinstance(value, bool):
            return "TRUE" if value else "FALSE"
        if isinstance(value, datetime):
            return value.isoformat(timespec="seconds" if value.second else "minutes")
        if isinstance(value, date):
            return value.isoformat()
        if isinstance(value, time):
            return value.isoformat(timespec="seconds" if value.second else "minutes")
        if isinstance(value, timedelta):
            return str(value)
        return self._number(value) + self.unit_text

    @property
    def unit_text(self) -> str:
        """Return the unit as it stands behind the number."""
        return self.unit if self.unit in ("", "%") else f" {self.unit}"

    def _number(self, value: float) -> str:
        if value != value or abs(value) == float("inf"):
            return str(value)
        if self.decimals is not None:
            rounded = f"{value:.{self.decimals}f}"
            if float(rounded) == value:
                return rounded
        # Digits that a format does not show were still measured, so they are kept.
        text = f"{value:.15g}"
        return f"{Decimal(text):f}" if "e" in text else text


def shown_as(number: int, own: Sequence[str]) -> Shown:
    """Return how the number format with this id shows; `own` are the workbook's own formats."""
    at = number - BUILTIN_FORMATS_MAX_SIZE
    return shown_by(str(own[at] if 0 <= at < len(own) else BUILTIN_FORMATS.get(number, "General")))


def shown_by(code: str) -> Shown:
    """Return how a number format shows; `code` is as a spreadsheet writes it, such as 0.0%."""
    first = code.split(";")[0]
    literal = " ".join(a or b for a, b in _QUOTED.findall(first)).strip()
    bare = _BRACKET.sub("", _QUOTED.sub("", first))
    digits = _DIGITS.search(bare)
    times = 100 if "%" in bare else 1
    decimals = None
    if digits is not None and "E" not in bare.upper():
        fraction = digits[1] or ""
        decimals = len(fraction) if "#" not in fraction else None
    unit = "%" if times == 100 else literal
    return Shown(times, unit, decimals, "h" in bare.casefold() or "[h" in first.casefold())
