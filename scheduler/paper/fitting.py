"""Fit text into a label: as large as possible, down to what can be read, then shortened by rule.

Nothing is cut off: a text that cannot be fitted is returned as a misfit, to be reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from scheduler.paper.pages import CAPITAL, DESCENT, PT_PER_MM, UPRIGHT, Typeface, width_mm
from scheduler.words.label import SHORTENING, LabelPart

LEAST_PT = 4.0
"""The smallest type that a label may have (S1 p. 46: 4 point)."""
MOST_PT, STEP_PT = 6.0, 0.25
NARROWER = (1.0, 0.92, 0.85)
"""The widths, as parts of their own, to which letters may be narrowed before anything is
shortened; this font's letters are wide and high for their size, so they stay legible."""
LEADING = 1.02
"""The step from line to line in sizes of the type: five lines of 4 points in 8 mm (S1 p. 46)."""
EDGE_MM = 0.35
"""The width kept free along every edge, so that the scissors cut no letter."""


class Fitted(NamedTuple):
    """The lines of a label and their size; `shortened` names the rules that were needed.

    `narrow` is the width of the letters as a part of their own (1: not narrowed).
    """

    lines: tuple[str, ...]
    size_pt: float
    shortened: tuple[str, ...] = ()
    narrow: float = 1.0


class Misfit(NamedTuple):
    """A text that cannot be made to fit a label."""

    text: str


def fit_label(
    groups: Sequence[Sequence[LabelPart]], wide_mm: float, high_mm: float, face: Typeface = UPRIGHT
) -> Fitted | Misfit:
    """Return groups of parts laid into a label of this width and height [mm].

    Each group begins a line where there is room for that, else they run on. Smaller sizes are
    tried first, then narrower letters, and only then the rules, in the order of `SHORTENING`.
    """
    for many in range(len(SHORTENING) + 1):
        rules = SHORTENING[:many]
        texts = [" ".join(part.under(rules) for part in group) for group in groups]
        if many and texts == [" ".join(p.under(rules[:-1]) for p in g) for g in groups]:
            continue
        found = _laid(texts, wide_mm - 2 * EDGE_MM, high_mm - 2 * EDGE_MM, face)
        if found is not None:
            used = {p.rule for g in groups for p in g if p.under(rules) != p.text}
            return found._replace(shortened=tuple(r for r in SHORTENING if r in used))
    return Misfit(" ".join(part.text for group in groups for part in group))


def _laid(texts: Sequence[str], wide_mm: float, high_mm: float, face: Typeface) -> Fitted | None:
    """Return texts as large as they fit, None where they fit at no size."""
    for narrow in NARROWER:
        for size in _sizes():
            for paragraphs in (texts, [" ".join(texts)]):
                lines = _broken(paragraphs, wide_mm / narrow, size, face)
                if lines is not None and _high(len(lines), size) <= high_mm:
                    return Fitted(tuple(lines), size, (), narrow)
    return None


def base_lines(fitted: Fitted, high_mm: float) -> Iterator[tuple[str, float]]:
    """Yield every line with its base line [mm below the label's top]; the text is centred."""
    size = fitted.size_pt / PT_PER_MM
    top = (high_mm - _high(len(fitted.lines), fitted.size_pt)) / 2
    for number, line in enumerate(fitted.lines):
        yield line, top + size * (CAPITAL + number * LEADING)


def _sizes() -> Iterator[float]:
    size = MOST_PT
    while size >= LEAST_PT:
        yield size
        size -= STEP_PT


def _high(lines: int, size_pt: float) -> float:
    return ((lines - 1) * LEADING + CAPITAL + DESCENT) * size_pt / PT_PER_MM


@lru_cache(maxsize=20_000)
def _one_point_mm(word: str, face: Typeface) -> float:
    # Letters are not kerned and widths grow with the size, so measuring a word once is enough.
    return width_mm(word, 1.0, face)


def _broken(
    paragraphs: Sequence[str], wide_mm: float, size_pt: float, face: Typeface
) -> list[str] | None:
    """Return paragraphs broken between words; None where a word is wider than the label."""
    room, space = wide_mm / size_pt, _one_point_mm(" ", face)
    lines: list[str] = []
    for text in paragraphs:
        words: list[str] = []
        used = 0.0
        for word in text.split():
            wide = _one_point_mm(word, face)
            if wide > room:
                return None
            if words and used + space + wide > room:
                lines.append(" ".join(words))
                words, used = [], 0.0
            used += wide + (space if words else 0.0)
            words.append(word)
        lines += [" ".join(words)] if words else []
    return lines
