"""Permanent labels (data, name, number) on sheets, to be cut out along the marks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from scheduler.paper.fitting import Fitted, Misfit, base_lines, fit_label
from scheduler.paper.pages import SLANTED, UPRIGHT, Pages, Paper, Typeface, unprintable
from scheduler.words.label import LabelPart, data_label, name_label, number_label
from scheduler.words.records import Specimen

WIDE_MM, HIGH_MM = 18.0, 8.0
"""At most about 18 x 8 mm (S1 p. 46)."""
STRIP_MM = 2.5
"""The height of the strip above each row that bears the ids and is cut away."""
MARK_MM = 1.2
CARD = "card of 160-200 g, ink that water does not move"
"""What to print labels on; common practice, no source."""

LabelKind = Literal["data", "name", "number"]
LABEL_KINDS: tuple[LabelKind, ...] = ("data", "name", "number")


@dataclass(frozen=True, slots=True)
class LabelSize:
    """How large a label is, in mm."""

    wide: float = WIDE_MM
    high: float = HIGH_MM


class Label(NamedTuple):
    """One label of a specimen, laid out."""

    specimen: str
    kind: LabelKind
    fitted: Fitted
    face: Typeface


class Trouble(NamedTuple):
    """Why a label cannot be printed as it is."""

    specimen: str
    kind: LabelKind
    reason: str
    remedy: str


def lay_labels(
    specimens: Sequence[Specimen], kinds: Sequence[LabelKind], size: LabelSize
) -> tuple[list[Label], list[Trouble]]:
    """Return the labels of specimens, and why some of them cannot be printed."""
    labels: list[Label] = []
    troubles: list[Trouble] = []
    known: dict[object, Fitted | Misfit] = {}
    for specimen in specimens:
        for kind in kinds:
            groups = _groups(specimen, kind)
            text = " ".join(part.text for group in groups for part in group)
            if not text:
                continue
            if strange := unprintable(text):
                said = " ".join(f"{sign} (U+{ord(sign):04X})" for sign in strange)
                troubles.append(Trouble(specimen.specimen, kind, *_strange(said)))
                continue
            face: Typeface = SLANTED if kind == "name" else UPRIGHT
            key = groups, face
            if key not in known:  # the specimens of a brood often have the same label
                known[key] = fit_label(groups, size.wide, size.high, face)
            fitted = known[key]
            if isinstance(fitted, Misfit):
                troubles.append(Trouble(specimen.specimen, kind, *_too_long(fitted, size)))
            else:
                labels.append(Label(specimen.specimen, kind, fitted, face))
    return labels, troubles


def _strange(said: str) -> tuple[str, str]:
    return f"the font has no {said}", "Write it with other letters"


def _too_long(misfit: Misfit, size: LabelSize) -> tuple[str, str]:
    return (
        f"does not fit {size.wide:g} x {size.high:g} mm at 4 points, shortened as far as the rules"
        f" go: {misfit.text}",
        "Shorten its locality, or give a larger --label-mm",
    )


def _groups(specimen: Specimen, kind: LabelKind) -> tuple[tuple[LabelPart, ...], ...]:
    if kind == "data":
        return data_label(specimen).groups
    return tuple((part,) for part in _PARTS[kind](specimen))


_PARTS = {"name": name_label, "number": number_label}


def label_pages(labels: Sequence[Label], size: LabelSize, paper: Paper = "a4") -> Pages:
    """Return labels on sheets; those of one specimen are on one row where they fit."""
    pages = Pages(f"labels \u00b7 {CARD}", paper)
    for number, (row, column, label) in _places(labels, pages, size):
        if row == 0 and column == 0 and number:
            pages.next_page()
        x = pages.area.left + column * size.wide
        y = pages.area.top + row * (size.high + STRIP_MM) + STRIP_MM
        _draw(pages, label, x, y, size)
    return pages


def _places(
    labels: Sequence[Label], pages: Pages, size: LabelSize
) -> Iterator[tuple[int, tuple[int, int, Label]]]:
    area = pages.area
    columns = max(1, int((area.right - area.left) / size.wide))
    rows = max(1, int((area.bottom - area.top) / (size.high + STRIP_MM)))
    row = column = 0
    for number, label in enumerate(labels):
        together = _left_of_specimen(labels, number)
        if column + together > columns and together <= columns and _is_first(labels, number):
            row, column = row + 1, 0
        if column == columns:
            row, column = row + 1, 0
        row %= rows
        yield number, (row, column, label)
        column += 1


def _is_first(labels: Sequence[Label], number: int) -> bool:
    return number == 0 or labels[number - 1].specimen != labels[number].specimen


def _left_of_specimen(labels: Sequence[Label], number: int) -> int:
    end = number
    while end < len(labels) and labels[end].specimen == labels[number].specimen:
        end += 1
    return end - number


def _draw(pages: Pages, label: Label, x: float, y: float, size: LabelSize) -> None:
    for line, down in base_lines(label.fitted, size.high):
        fitted = label.fitted
        pages.text(x + 0.35, y + down, line, fitted.size_pt, label.face, narrow=fitted.narrow)
    if label.kind == "data":
        pages.text(x + 0.35, y - 0.8, label.specimen, 4, grey=0.45)
    for corner_y in (y, y + size.high):
        left, right = pages.area.left - MARK_MM, pages.area.right + MARK_MM
        pages.line(left - MARK_MM, corner_y, left, corner_y, grey=0.5)
        pages.line(right, corner_y, right + MARK_MM, corner_y, grey=0.5)
    for corner_x in (x, x + size.wide):
        pages.line(corner_x, y, corner_x, y - MARK_MM, grey=0.5)
        pages.line(corner_x, y + size.high, corner_x, y + size.high + MARK_MM, grey=0.5)
