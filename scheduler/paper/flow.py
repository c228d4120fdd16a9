"""Text that flows down a page, with boxes to tick, and goes on to the next when a page is full."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.paper.pages import SLANTED, UPRIGHT, Pages, Typeface, width_mm
from scheduler.paper.slips import in_width

TEXT_PT, HEAD_PT, TITLE_PT = 8.5, 10.0, 14.0
LINE_MM = 4.2
BOX_MM = 2.8


class Flow:
    """A writer that goes down the pages; `y` is how far down it is [mm]."""

    def __init__(self, pages: Pages) -> None:
        """Begin at the top of the page that is open."""
        self.pages = pages
        self.y = pages.area.top

    def need(self, high_mm: float) -> None:
        """Go on to the next page unless this height [mm] is left on this one."""
        if self.y + high_mm > self.pages.area.bottom:
            self.pages.next_page()
            self.y = self.pages.area.top

    def title(self, text: str) -> None:
        """Write the title."""
        self.pages.text(self.pages.area.left, self.y + 5, text, TITLE_PT)
        self.y += 8

    def head(self, text: str, keep_mm: float = 10.0) -> None:
        """Write a heading, on a new page unless `keep_mm` is left for it and what follows."""
        self.need(keep_mm)
        self.y += 2
        self.pages.text(self.pages.area.left, self.y + 3.4, text, HEAD_PT)
        self.y += 4.6
        self.pages.line(self.pages.area.left, self.y, self.pages.area.right, self.y, 0.15)
        self.y += 0.8

    def note(self, text: str, indent_mm: float = 0, size_pt: float = TEXT_PT) -> None:
        """Write a text, broken between words."""
        area = self.pages.area
        for line in broken(text, area.right - area.left - indent_mm, size_pt):
            self.need(LINE_MM)
            self.pages.text(area.left + indent_mm, self.y + 3.2, line, size_pt)
            self.y += LINE_MM * size_pt / TEXT_PT

    def tick(self, text: str, indent_mm: float = 0) -> None:
        """Write a text with a box to tick before it."""
        self.need(LINE_MM)
        self.pages.box(self.pages.area.left + indent_mm, self.y + 0.7, BOX_MM, BOX_MM, line_mm=0.2)
        self.note(text, indent_mm + BOX_MM + 1.5)

    def row(
        self, cells: Sequence[str], widths_mm: Sequence[float], *, box: bool, slanted: int = -1
    ) -> None:
        """Write a row of a table; the cell with the number `slanted`, from 0, is in italics."""
        self.need(LINE_MM)
        x = self.pages.area.left
        if box:
            self.pages.box(x, self.y + 0.7, BOX_MM, BOX_MM, line_mm=0.2)
        x += BOX_MM + 1.5
        for number, (cell, wide) in enumerate(zip(cells, widths_mm, strict=True)):
            face: Typeface = SLANTED if number == slanted else UPRIGHT
            text, size = in_width(cell, wide - 1, TEXT_PT, face)
            self.pages.text(x, self.y + 3.2, text, size, face)
            x += wide
        self.y += LINE_MM


def broken(text: str, wide_mm: float, size_pt: float) -> list[str]:
    """Return a text broken between words; a word wider than the line stands alone on one."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and width_mm(longer, size_pt) > wide_mm:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line else lines
