"""Slips to stand beside specimens on their board, and a strip 1:1 for the groove of each board."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from scheduler.looks.session_day import PaperSlip
from scheduler.paper.pages import SLANTED, UPRIGHT, Pages, Paper, Typeface, width_mm
from scheduler.words import wording
from scheduler.words.label import SLIP_CODE, abbreviated, sex_sign

SLIP_WIDE_MM, SLIP_HIGH_MM = 47.5, 14.0
CODE_MM = 12.0
STRIP_HIGH_MM = 16.0
NAME_PT, SMALL_PT, LEAST_PT = 8.0, 5.5, 4.0


def slip_pages(slips: Sequence[PaperSlip], paper: Paper = "a4") -> Pages:
    """Return slips, several to a page, each with a code that the bench page's camera reads."""
    pages = Pages("slips for the board", paper)
    area = pages.area
    across = int((area.right - area.left) / SLIP_WIDE_MM)
    down = int((area.bottom - area.top) / SLIP_HIGH_MM)
    for number, slip in enumerate(slips):
        place = number % (across * down)
        if number and place == 0:
            pages.next_page()
        x = area.left + place % across * SLIP_WIDE_MM
        y = area.top + place // across * SLIP_HIGH_MM
        _draw_slip(pages, slip, x, y)
    return pages


def slip_lines(slip: PaperSlip) -> tuple[str, ...]:
    """Return the lines of a slip: id and sex, taxon, dates as on the strip, place shortened."""
    s = slip.specimen
    place = s.label.get("locality") or s.label.get("verbatimLocality") or ""
    test = f"test from {wording.label_date(slip.test_from)}" if slip.test_from else "no date"
    return (
        " ".join(filter(None, (s.specimen, sex_sign(s.sex)))),
        s.taxon or s.group or s.family or "",
        f"{wording.label_date(slip.mounted_on)}{slip.mounted_on.year} \u00b7 {test}",
        abbreviated(place),
    )


def _draw_slip(pages: Pages, slip: PaperSlip, x: float, y: float) -> None:
    pages.box(x, y, SLIP_WIDE_MM, SLIP_HIGH_MM)
    pages.code(x + SLIP_WIDE_MM - CODE_MM - 1, y + 1, CODE_MM, SLIP_CODE + slip.specimen.specimen)
    room = SLIP_WIDE_MM - CODE_MM - 2.5
    name, taxon, dates, place = slip_lines(slip)
    faces: tuple[tuple[str, float, Typeface], ...] = (
        (name, NAME_PT, UPRIGHT),
        (taxon, SMALL_PT + 1, SLANTED),
        (dates, SMALL_PT + 1, UPRIGHT),
        (place, SMALL_PT, UPRIGHT),
    )
    for row, (text, size, face) in enumerate(faces):
        fitted, at_size = in_width(text, room, size, face)
        pages.text(x + 1, y + 3.6 + 3.05 * row, fitted, at_size, face)


def in_width(
    text: str, wide_mm: float, size_pt: float, face: Typeface = UPRIGHT
) -> tuple[str, float]:
    """Return a text and a size [points] at which it fits; one still too long ends in three dots.

    It is for slips, strips and lists, which say nothing that is not said elsewhere, too, and
    never for labels.
    """
    size = size_pt
    while size > LEAST_PT and width_mm(text, size, face) > wide_mm:
        size -= 0.25
    if width_mm(text, size, face) <= wide_mm:
        return text, size
    while text and width_mm(text + "\u2026", size, face) > wide_mm:
        text = text[:-1]
    return text.rstrip() + "\u2026", size


class _Piece(NamedTuple):
    """The part of a board's strip that fits across one sheet."""

    board: str
    length_mm: int
    from_mm: int
    to_mm: int
    number: int
    of: int
    slips: tuple[PaperSlip, ...]


def strip_pages(
    boards: Mapping[str, Sequence[PaperSlip]], lengths: Mapping[str, int], paper: Paper = "a4"
) -> Pages:
    """Return a strip 1:1 for each board, to lie beside it; a long one is glued from pieces."""
    pages = Pages("strips for the boards, 1:1", paper, landscape=True)
    area = pages.area
    y = area.top
    for piece in _pieces(boards, lengths, area.right - area.left):
        if y + STRIP_HIGH_MM > area.bottom:
            pages.next_page()
            y = area.top
        _draw_piece(pages, piece, y)
        y += STRIP_HIGH_MM + 4
    return pages


def _pieces(
    boards: Mapping[str, Sequence[PaperSlip]], lengths: Mapping[str, int], wide_mm: float
) -> Iterator[_Piece]:
    most = int(wide_mm / 10) * 10
    for board, slips in boards.items():
        ends = _ends(slips, lengths[board], most)
        for number, (begin, end) in enumerate(pairwise(ends), 1):
            here = tuple(s for s in slips if s.from_mm < end and s.to_mm > begin)
            yield _Piece(board, lengths[board], begin, end, number, len(ends) - 1, here)


def _ends(slips: Sequence[PaperSlip], length_mm: int, most_mm: int) -> list[int]:
    """Return where the pieces of a strip begin and end [mm]: between slots, where possible.

    To save paper, the empty part at the right end is left out where it would need another piece.
    """
    used = max((s.to_mm for s in slips), default=0)
    ends = [0]
    while True:
        begin = ends[-1]
        if length_mm - begin <= most_mm:
            return [*ends, length_mm]
        if used - begin <= most_mm:
            return [*ends, begin + most_mm]
        crossed = [s.from_mm for s in slips if s.from_mm < begin + most_mm < s.to_mm]
        between = min(crossed, default=0)
        ends.append(between if between > begin else begin + most_mm)


def _draw_piece(pages: Pages, piece: _Piece, y: float) -> None:
    x0 = pages.area.left
    wide = piece.to_mm - piece.from_mm
    part = f", piece {piece.number} of {piece.of}" if piece.of > 1 else ""
    end = "glue the next piece on" if piece.number < piece.of else "right end"
    if piece.number == piece.of and piece.to_mm < piece.length_mm:
        end = f"nothing from there to {piece.length_mm} mm"
    head = f"{piece.board}{part}: {piece.from_mm} to {piece.to_mm} mm from its left end, {end}"
    pages.text(x0, y + 2.2, head, SMALL_PT)
    top, high = y + 3.2, STRIP_HIGH_MM - 3.2
    pages.box(x0, top, wide, high)
    for mm in range(-(-piece.from_mm // 10) * 10, piece.to_mm + 1, 10):
        deep = 2.0 if mm % 50 == 0 else 1.0
        pages.line(x0 + mm - piece.from_mm, top + high, x0 + mm - piece.from_mm, top + high - deep)
    for slip in piece.slips:
        _draw_place(pages, piece, slip, top, high)


def _draw_place(pages: Pages, piece: _Piece, slip: PaperSlip, top: float, high: float) -> None:
    begin, end = max(slip.from_mm, piece.from_mm), min(slip.to_mm, piece.to_mm)
    x = pages.area.left + begin - piece.from_mm
    if slip.standing:
        pages.box(x, top, end - begin, high - 2.2, line_mm=0, fill=0.92)
    for mm, there in ((begin, slip.from_mm), (end, slip.to_mm)):
        if mm == there:
            at = pages.area.left + mm - piece.from_mm
            pages.line(at, top, at, top + high - 2.2, 0.3)
    s = slip.specimen
    test = f"test {wording.label_date(slip.test_from)}" if slip.test_from else "no date"
    said: tuple[tuple[str, float, Typeface], ...] = (
        (" ".join(filter(None, (s.specimen, sex_sign(s.sex)))), 7.0, UPRIGHT),
        (s.taxon or s.group or "", SMALL_PT, SLANTED),
        (f"{wording.label_date(slip.mounted_on)} {test}", SMALL_PT, UPRIGHT),
    )
    for row, (text, size, face) in enumerate(said):
        fitted, at_size = in_width(text, end - begin - 1.2, size, face)
        pages.text(x + 0.6, top + 3 + 2.6 * row, fitted, at_size, face)
