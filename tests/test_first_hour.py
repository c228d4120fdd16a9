"""The first hour in a real browser: from an empty record to a first plan, and no terminal."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from bench_cases import Desk
from serve_cases import serving
from verb_cases import journal

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.slow

NOW = "2027-05-05T18:00"
FIVE_MINUTES = 300.0
"""From the first tap to the first plan (seconds of the machine; a person's typing is not in it)."""
LIST = """\
Nummer;Art;Spannweite (mm);eingefroren am;Dose
F-01;Sphinx ligustri;105;12.01.2027;A1
F-02;Aglais io;58;03.08.2026;A1
F-03;Catocala nupta;78;21.09.2026;A2
"""


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path / "record.sqlite")


@pytest.fixture(params=[True, False], ids=["javascript", "no javascript"])
def page(browser: Browser, desk: Desk, request: Any) -> Iterator[Page]:
    with serving(desk.store, now=NOW) as running:
        start = re.search(r"http://\S+/bench/\S+/", running.greeting)
        assert start
        context = browser.new_context(
            viewport={"width": 360, "height": 740}, java_script_enabled=request.param
        )
        opened = context.new_page()
        opened.set_default_timeout(15_000)
        opened.goto(start[0])
        yield opened
        context.close()


def fill(page: Page, button: str, **fields: str) -> None:
    """Fill the first form with that button and send it."""
    form = page.locator("form", has=page.get_by_role("button", name=button)).first
    for words, text in fields.items():
        field = form.get_by_label(re.compile("^" + words.replace("_", " ")))
        if field.evaluate("e => e.tagName") == "SELECT":
            field.select_option(text)
        else:
            field.fill(text)
    form.get_by_role("button", name=button).click()
    page.locator("#notice").first.wait_for()


def planned(page: Page) -> None:
    """Wait until the page says that a plan was made."""
    ends = time.monotonic() + 60
    while "The plan is made." not in page.locator("main").inner_text():
        assert time.monotonic() < ends, page.locator("main").inner_text()
        page.wait_for_timeout(300)
        page.get_by_role("link", name="Plan", exact=True).click()


def test_by_hand_to_the_first_plan(page: Page, desk: Desk) -> None:
    begun = time.monotonic()
    page.get_by_role("link", name="Begin here").click()
    fill(page, "Keep it so", Time_zone="Europe/Berlin")
    fill(page, "This is a room", Its_name="study", Usual_humidity="52")
    fill(
        page, "This is a board", Its_name="B1", Groove="8", Length="300", Width_across="80",
        Stands_in="study",
    )  # fmt: skip
    fill(page, "Set the time", Day="2027-05-08", Minutes="120")
    fill(page, "Add", What_they_are="owlet", How_many="2", They_are="frozen", Wingspan="38")
    page.get_by_role("button", name="Make the first plan").click()
    planned(page)
    assert time.monotonic() - begun < FIVE_MINUTES
    page.get_by_role("link", name="2027-05-08").first.click()
    assert "O-01 on B1" in page.locator("main").inner_text()
    assert [e.command for e in journal(desk)] == ["settings", "room", "board", "session", "add"]


def test_a_list_comes_in_and_waits(page: Page, desk: Desk, tmp_path: Path) -> None:
    file = tmp_path / "Gefriertruhe.csv"
    file.write_text(LIST, encoding="utf-8")
    page.get_by_role("link", name="Begin here").click()
    page.get_by_role("link", name="Bring in my list").click()
    page.set_input_files("#files", file)
    page.get_by_role("button", name="Look at it").click()
    page.get_by_text("This is what was understood").wait_for()
    assert not journal(desk), "nothing is written before the yes"
    assert "F-03" in page.locator("pre").inner_text()
    page.get_by_role("button", name="Yes, bring it in").click()
    page.get_by_text("Recorded").first.wait_for()
    assert "Sphinx ligustri" in page.locator("main").inner_text()
    (line,) = journal(desk)
    assert line.text.startswith("loaded Gefriertruhe.csv: 3 specimens")


def test_the_invented_weekend_leaves_my_record_alone(page: Page, desk: Desk) -> None:
    page.get_by_role("link", name="Begin here").click()
    page.get_by_role("button", name="Show me an invented weekend").click()
    page.get_by_text("Nothing here is your record").wait_for()
    page.get_by_role("button", name="Go on to the next morning").click()
    assert page.get_by_role("heading", name="Thu 6 May").is_visible()
    page.get_by_role("link", name="Plan", exact=True).click()
    page.get_by_role("link", name="SAT-08").click()
    assert page.locator("svg.board").first.is_visible()
    page.get_by_role("link", name="Back to my own record").click()
    assert page.get_by_text("This record is empty").is_visible()
    assert not journal(desk)
