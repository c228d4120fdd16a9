"""Sheets of paper: places in mm from the top left corner, sizes of text in points, true to scale.

Every page bears a scale bar of 100 mm and says to print at 100 %. The same content gives the same
bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Literal, NamedTuple

from reportlab.lib.colors import Color
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

PT_PER_MM = 72 / 25.4
"""The point of a PDF is 1/72 inch (ISO 32000-1, 8.3.2.3)."""

PAGE_MARGIN_MM = 10.0
FOOT_MM = 12.0
SCALE_MM = 100
Typeface = Literal["DejaVuSansCondensed", "DejaVuSansCondensed-Oblique"]
UPRIGHT: Typeface = "DejaVuSansCondensed"
SLANTED: Typeface = "DejaVuSansCondensed-Oblique"
CAPITAL, DESCENT = 0.73, 0.24
"""Heights of this font's capitals and of what hangs below the base line, as parts of its size."""

HUNDRED = "print at 100 % (no \u201cfit to page\u201d), then measure: this bar is 100 mm"

Paper = Literal["a4", "letter"]
PAPERS_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


@cache
def fonts() -> dict[Typeface, TTFont]:
    """Return the fonts in the folder `fonts`; they are registered once."""
    found: dict[Typeface, TTFont] = {}
    for name in (UPRIGHT, SLANTED):
        found[name] = TTFont(name, str(Path(__file__).parent / "fonts" / f"{name}.ttf"))
        pdfmetrics.registerFont(found[name])
    return found


def width_mm(text: str, size_pt: float, face: Typeface = UPRIGHT) -> float:
    """Return the width of a text [mm]."""
    return float(fonts()[face].stringWidth(text, size_pt)) / PT_PER_MM


def unprintable(text: str) -> str:
    """Return the letters of a text that the font does not have, each once."""
    known = fonts()[UPRIGHT].face.charToGlyph
    return "".join(dict.fromkeys(c for c in text if ord(c) not in known and not c.isspace()))


class Area(NamedTuple):
    """The part of a page that may be used, in mm from the top left corner."""

    left: float
    top: float
    right: float
    bottom: float


class Pages:
    """A document that is being drawn, page after page."""

    def __init__(self, title: str, paper: Paper = "a4", *, landscape: bool = False) -> None:
        """Begin the first page; `title` stands in the foot of every one."""
        fonts()
        short, long = PAPERS_MM[paper]
        self.wide_mm, self.high_mm = (long, short) if landscape else (short, long)
        self.title = title
        self.count = 1
        self._out = io.BytesIO()
        size = self.wide_mm * PT_PER_MM, self.high_mm * PT_PER_MM
        self._canvas = Canvas(self._out, pagesize=size, invariant=1, lang="en")
        self._canvas.setTitle(title)
        self._canvas.setCreator("wingrest")
        self._foot()

    @property
    def area(self) -> Area:
        """Return the part of a page between the margins and above the foot."""
        right, bottom = self.wide_mm - PAGE_MARGIN_MM, self.high_mm - PAGE_MARGIN_MM - FOOT_MM
        return Area(PAGE_MARGIN_MM, PAGE_MARGIN_MM, right, bottom)

    def next_page(self) -> None:
        """Begin another page."""
        self._canvas.showPage()
        self.count += 1
        self._foot()

    def to_bytes(self) -> bytes:
        """Return the finished document as a PDF."""
        self._canvas.save()
        return self._out.getvalue()

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size_pt: float,
        face: Typeface = UPRIGHT,
        *,
        grey: float = 0,
        narrow: float = 1,
    ) -> None:
        """Write one line from `x` on the base line `y` [mm].

        `grey` is 0 for black to 1 for white; `narrow` is the letters' width as a part of their own.
        """
        self._canvas.setFillColor(Color(grey, grey, grey))
        self._canvas.setFont(face, size_pt)
        written = self._canvas.beginText(x * PT_PER_MM, self._up(y))
        written.setHorizScale(100 * narrow)
        written.textOut(text)
        self._canvas.drawText(written)

    def line(
        self, x0: float, y0: float, x1: float, y1: float, wide_mm: float = 0.1, *, grey: float = 0
    ) -> None:
        """Draw a straight line between two points [mm]."""
        self._canvas.setStrokeColor(Color(grey, grey, grey))
        self._canvas.setLineWidth(wide_mm * PT_PER_MM)
        self._canvas.line(x0 * PT_PER_MM, self._up(y0), x1 * PT_PER_MM, self._up(y1))

    def box(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        *,
        line_mm: float = 0.1,
        fill: float | None = None,
    ) -> None:
        """Draw a rectangle from its top left corner [mm]; `fill` is a grey, None for no filling."""
        self._canvas.setStrokeColor(Color(0, 0, 0))
        self._canvas.setLineWidth(line_mm * PT_PER_MM)
        if fill is not None:
            self._canvas.setFillColor(Color(fill, fill, fill))
        at = x * PT_PER_MM, self._up(y + high)
        size = wide * PT_PER_MM, high * PT_PER_MM
        self._canvas.rect(*at, *size, stroke=int(line_mm > 0), fill=int(fill is not None))

    def code(self, x: float, y: float, side: float, content: str) -> None:
        """Draw a QR code (ISO/IEC 18004) with its quiet zone into a square [mm]."""
        import segno

        rows = list(segno.make(content, error="m", micro=False).matrix_iter(border=4))
        each = side / len(rows)
        path = self._canvas.beginPath()
        for down, row in enumerate(rows):
            for begin, end in _runs_of_dark(row):
                at = (x + begin * each) * PT_PER_MM, self._up(y + (down + 1) * each)
                path.rect(*at, (end - begin) * each * PT_PER_MM, each * PT_PER_MM)
        self._canvas.setFillColor(Color(0, 0, 0))
        self._canvas.drawPath(path, stroke=0, fill=1)

    def _up(self, y: float) -> float:
        return (self.high_mm - y) * PT_PER_MM

    def _foot(self) -> None:
        """Draw the scale bar, how to print, the title and the number of the page."""
        x, y = PAGE_MARGIN_MM, self.high_mm - PAGE_MARGIN_MM
        self.line(x, y, x + SCALE_MM, y, 0.2)
        for mm in range(0, SCALE_MM + 1, 10):
            self.line(x + mm, y, x + mm, y - (3 if mm % 50 == 0 else 1.5), 0.2)
        self.text(x, y - 4, f"{HUNDRED}", 6)
        said = f"{self.title} \u00b7 page {self.count}"
        self.text(self.wide_mm - PAGE_MARGIN_MM - width_mm(said, 6), y, said, 6)


def _runs_of_dark(row: Iterable[int]) -> Iterable[tuple[int, int]]:
    """Yield the stretches of dark modules in a row; each is drawn at once, without fine gaps."""
    begin: int | None = None
    at = -1
    for at, dark in enumerate(row):
        if dark and begin is None:
            begin = at
        elif not dark and begin is not None:
            yield begin, at
            begin = None
    if begin is not None:
        yield begin, at + 1
