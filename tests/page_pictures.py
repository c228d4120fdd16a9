"""`python tests/page_pictures.py` draws the pictures of the page in the README, once.

The first weekend on its Saturday morning, with the air read off two dials, as a phone and a desk
show it.
"""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

from bench_cases import weekend
from browser_cases import ARGUMENTS
from console_blocks import SAMPLES
from page_cases import SATURDAY
from PIL import Image
from playwright.sync_api import sync_playwright
from serve_cases import serving

PICTURES = SAMPLES / "pictures"
VIEWS = {
    "bench_today_phone": ("", (360, 740), 2.0),
    "bench_boards_desk": ("boards", (1280, 1000), 1.0),
    "bench_work_phone": ("work", (360, 740), 2.0),
    "bench_sheet_phone": ("session?name=SAT-08", (360, 740), 2.0),
}
"""By name: the page, the window [CSS pixels], and how many dots make a pixel."""


def draw(folder: Path) -> None:
    """Draw every picture of a weekend that is set up in a folder."""
    desk = weekend(folder)
    desk.did("air", "study", "52", now="2027-05-08T08:00")
    desk.did("air", "north", "58", now="2027-05-08T08:00")
    with serving(desk.store, now=SATURDAY) as running, sync_playwright() as playwright:
        start = re.search(r"http://\S+/bench/\S+/", running.greeting)
        assert start
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        for name, (view, (width, height), scale) in VIEWS.items():
            context = browser.new_context(
                viewport={"width": width, "height": height}, device_scale_factor=scale
            )
            page = context.new_page()
            page.goto(start[0] + view)
            raw = folder / f"{name}.png"
            page.screenshot(path=raw)
            colours = Image.open(raw).convert("RGB").quantize(64)
            colours.save(PICTURES / f"{name}.png", optimize=True)
        browser.close()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        draw(Path(place))
