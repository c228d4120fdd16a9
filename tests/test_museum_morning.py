"""The museum's morning in a real browser: 300 boards, one at the desk, two at the bench."""

from __future__ import annotations

import gzip
import re
import shutil
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from bench_cases import Desk
from page_cases import phones
from serve_cases import serving
from verb_cases import journal

sys.path.append(str(Path(__file__).parent / "bench"))

from museum_record import NOW, museum_record

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext

pytestmark = pytest.mark.slow

DESK, PHONE = {"width": 1280, "height": 900}, {"width": 360, "height": 740}
FIRST_VIEW_KB = 100


@pytest.fixture(scope="module")
def museum(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = museum_record(tmp_path_factory.mktemp("museum") / "museum.sqlite")
    Desk(path).did("plan", "--effort", "quick", now=NOW)
    return path


@pytest.fixture
def desk(museum: Path, tmp_path: Path) -> Desk:
    return Desk(Path(shutil.copy(museum, tmp_path / "record.sqlite")))


@pytest.fixture
def address(desk: Desk) -> Iterator[str]:
    with serving(desk.store, now=NOW, quiet=True) as running:
        start = re.search(r"http://\S+/bench/\S+/", running.greeting)
        assert start
        yield start[0]


@pytest.fixture
def three(browser: Browser) -> Iterator[list[BrowserContext]]:
    made = [
        browser.new_context(viewport=size)  # type: ignore[arg-type]
        for size in (DESK, PHONE, PHONE)
    ]
    for one in made:
        one.set_default_timeout(60_000)
    yield made
    for one in made:
        one.close()


def test_from_the_first_look_to_two_at_the_bench(
    three: list[BrowserContext], address: str, desk: Desk
) -> None:
    asked = urllib.request.Request(address, headers={"Accept-Encoding": "gzip"})
    with urllib.request.urlopen(asked, timeout=60) as answer:
        packed = answer.read()
    assert len(gzip.decompress(packed)) > len(packed)
    assert len(packed) < 1000 * FIRST_VIEW_KB
    at_desk, left, right = (one.new_page() for one in three)

    # At the desk: what concerns today, a handful of boards; the rest by room and by name.
    at_desk.goto(address)
    drawn = at_desk.locator("article.face")
    assert 0 < drawn.count() <= 24
    at_desk.get_by_label("Room").select_option("cellar")
    at_desk.get_by_role("button", name="Look").click()
    at_desk.wait_for_url("**room=cellar**")
    assert 0 < drawn.count() <= 24
    at_desk.goto(f"{address}find?q=M-0007")
    at_desk.get_by_role("link", name="M-0007").first.click()
    assert at_desk.locator("h1").inner_text().startswith("M-0007")

    # Two at the bench, each on a board of their own; nobody waits for the other's line.
    lines = len(journal(desk))
    for page, board in ((left, "B001"), (right, "B002")):
        page.goto(f"{address}board?name={board}")
        page.get_by_role("button", name=re.compile("^Stiff")).first.click()
    for page in (left, right):
        page.locator("#notice").wait_for()
        assert page.url.split("?")[0].endswith("/board")
    assert len(journal(desk)) == lines + 2

    # The desk sees it in the journal, and finds those who wait.
    at_desk.goto(f"{address}journal")
    assert at_desk.get_by_text("stiff").count() >= 2
    at_desk.goto(f"{address}waiting?planned=no")
    assert 0 < at_desk.locator(".waiting-list li").count() <= 60
    at_desk.goto(f"{address}weeks")
    assert at_desk.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0


def test_each_session_takes_the_minutes_that_its_plan_says(desk: Desk) -> None:
    (phone,) = phones(desk, now=NOW)
    for number in range(1, 9):
        planned = re.search(r"\d+ of \d+ min", desk.did("plan", f"SAT-{number:02}", now=NOW))
        assert planned
        assert planned[0] in phone.look(f"session?name=SAT-{number:02}")
