"""One number as people write it: with a unit, rough, as a range, or with a word for the build.

The upper end of a range counts: sizes err towards the thicker side.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scheduler.intake.batch.cells import BUILDS, CellFault
from scheduler.words.records import SIZE_CLASSES

_SAYS: Mapping[str, Mapping[float, str]] = {
    "mm": {
        1: "mm, millimeter, millimetre, millimetres",
        10: "cm, centimetre, centimetres, zentimeter",
    },
    "%": {1: "%, percent, prozent, % rh, % rf, %rh, %rf"},
    "min": {1: "min, minutes, minuten, mins", 60: "h, std, hours, stunden"},
    "°C": {1: "°c, c, ° c, deg c, grad, °"},
    "degrees": {1: "°, degrees, grad"},
    "m": {1: "m, metres, meter"},
}
_UNITS = {
    unit: {word: times for times, words in says.items() for word in words.split(", ")}
    for unit, says in _SAYS.items()
}
_BUILD_OF: Mapping[str, str] = {**BUILDS, **dict(zip(SIZE_CLASSES, SIZE_CLASSES, strict=True))}
_BUILD = re.compile(
    r"[\s,;(/]*\b("
    + "|".join(sorted(map(re.escape, _BUILD_OF), key=len, reverse=True))
    + r")\b[\s,;)]*",
    re.IGNORECASE,
)
_NUMBER = r"(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)"
_SPAN = re.compile(
    r"(?P<about>~|≈|ca\.?|circa|about|approx\.?|etwa|rund|um)?\s*"
    rf"(?P<low>[+-]?{_NUMBER})"
    rf"(?:\s*(?P<unit1>[^\W\d_]+|%)?\s*(?:-|–|—|bis|to)\s*(?P<high>{_NUMBER}))?"
    r"\s*(?P<unit>[°%]?\s*[^\W\d_]*)\.?\s*(?P<doubt>\?)?",
    re.IGNORECASE,
)


ROWS_SHOW = 3
WIDEST_SHARE = 0.16
"""In nearly all insects the thorax is at most this share of the wingspan wide.

Hardly any body is as short as that (common practice, no source: a sixth in the giant silk moths, a
third and more in others).
"""


@dataclass(frozen=True, slots=True)
class Measured:
    """What one cell says: a plain number ("" for none), and what had to be understood.

    `about`: the number is a rough one; `doubtful`: it was a range or has a question mark; `turned`:
    it was turned from another unit into the column's; `build`: a size class that stood beside or
    instead of it.
    """

    number: str
    about: bool = False
    doubtful: bool = False
    turned: bool = False
    build: str | None = None


def measured(
    text: str, unit: str, times: float, plain: Callable[[str], str | None]
) -> Measured | None:
    """Read a cell of a column in `unit`; None when its decimal sign is not settled.

    `times` is the factor of the title's unit; `plain` returns a number with its point. Raises
    CellFault for another unit. Text that is no number is returned as it is, for the column's reader
    to refuse.
    """
    rest, build = _without_build(text) if unit == "mm" else (text, None)
    if not rest and build:
        return Measured("", build=build)
    found = _SPAN.fullmatch(rest)
    if found is None:
        return Measured(text)
    said = found["unit"].strip() or (found["unit1"] or "")
    own = unit_times(said, unit) if said else times
    if own is None:
        raise CellFault(
            f"has the unit {said}, and the column is in {unit}" if unit else "carries a unit",
            f"Write the number in {unit}" if unit else "Write the number alone",
        )
    ends = [plain(found["low"]), plain(found["high"])] if found["high"] else [plain(found["low"])]
    if None in ends:
        return None
    number = _upper([end for end in ends if end is not None], own)
    doubtful = bool(found["high"] or found["doubt"])
    return Measured(number, bool(found["about"]), doubtful, own != 1.0, build)


def numbers_in(text: str, unit: str) -> list[str]:
    """Return the numbers of a cell as they are written, to see the decimal sign in them."""
    rest, _ = _without_build(text) if unit == "mm" else (text, None)
    found = _SPAN.fullmatch(rest)
    return [n for n in (found["low"], found["high"]) if n] if found else []


def columns_shown(rows: Sequence[Mapping[str, Any]]) -> frozenset[str]:
    """Return the columns that their own numbers prove: a body this narrow is a width, no length."""
    sizes = [(row.get("body_mm"), row.get("wingspan_mm")) for row in rows]
    both = [(body, span) for body, span in sizes if body is not None and span]
    widths = len(both) >= ROWS_SHOW and all(body <= WIDEST_SHARE * span for body, span in both)
    return frozenset({"body_mm"} if widths else ())


def unit_times(said: str, unit: str) -> float | None:
    """Return the factor from the unit `said` to `unit`; None for another quantity."""
    return _UNITS.get(unit, {}).get(" ".join(said.casefold().split()))


def _without_build(text: str) -> tuple[str, str | None]:
    found = _BUILD.search(text)
    if found is None:
        return text, None
    rest = f"{text[: found.start()]} {text[found.end() :]}".strip()
    return rest, _BUILD_OF[" ".join(found[1].casefold().split())]


def _upper(ends: list[str], times: float) -> str:
    try:
        values = [float(end) for end in ends]
    except ValueError:
        return ends[-1]
    if len(values) == 2 and values[0] > values[1]:
        raise CellFault("is a range with the larger number first", "Write the smaller number first")
    if times == 1.0:
        return ends[-1]
    return f"{values[-1] * times:.10g}"
