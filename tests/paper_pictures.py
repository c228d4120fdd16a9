"""`python tests/paper_pictures.py` draws the pictures of the README: every kind of page, once.

The brood of fourteen is played through, as in its story; the pages are looked at as they would
be printed, parts of them at 300 dpi.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
from console_blocks import SAMPLES
from PIL import Image
from story_blocks import FOLDER, played

PICTURES = SAMPLES / "pictures"
PAGES: dict[str, tuple[int, tuple[float, float, float, float]]] = {
    "labels": (300, (6, 6, 140, 46)),
    "slips": (200, (6, 6, 204, 70)),
    "strips": (110, (6, 6, 291, 100)),
    "sheet": (80, (0, 0, 210, 297)),
    "pull": (80, (0, 0, 210, 110)),
}
"""By kind: dots per inch, and which part [mm from the left and from the top]."""


def drawn(pdf: Path, dpi: int, part_mm: tuple[float, float, float, float]) -> Image.Image:
    """Return a part of a document's first page."""
    page = pypdfium2.PdfDocument(pdf)[0]
    picture: Image.Image = page.render(scale=dpi / 72).to_pil()
    left, top, right, bottom = (round(mm / 25.4 * dpi) for mm in part_mm)
    return picture.crop((left, top, right, bottom)).convert("L")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        played(FOLDER / "brood.md", Path(name))
        for kind, (dpi, part_mm) in PAGES.items():
            picture = drawn(Path(name) / f"{kind}.pdf", dpi, part_mm)
            picture.quantize(16).save(PICTURES / f"paper_{kind}.png", optimize=True)
