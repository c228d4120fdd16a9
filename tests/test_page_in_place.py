"""A Saturday with two phones and a cut network: pages stay in place, each tap is recorded once."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from bench_cases import Desk, weekend
from page_cases import SATURDAY
from serve_cases import serving
from verb_cases import journal

from scheduler.page.tokens import ensure_tokens
from scheduler.record.store import Store

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

PHONE = {"width": 360, "height": 740}


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.fixture
def address(desk: Desk) -> Iterator[str]:
    with Store(desk.store) as store:
        bench = ensure_tokens(store).bench
    with serving(desk.store, now=SATURDAY, quiet=True) as running:
        yield f"{running.address}/bench/{bench}/"


@pytest.fixture
def phones(browser: Browser) -> Iterator[list[BrowserContext]]:
    made = [browser.new_context(viewport=PHONE) for _ in range(2)]  # type: ignore[arg-type]
    yield made
    for one in made:
        one.close()


def opened(phone: BrowserContext, address: str) -> Page:
    page = phone.new_page()
    page.goto(address)
    page.locator("html[data-kept]").wait_for(state="attached")
    return page


def height_of(page: Page, name: str) -> float:
    box = page.locator(f"#{name}").first.bounding_box()
    assert box is not None
    return float(box["y"])


def test_after_a_tap_the_page_stays_where_it_was(
    phones: list[BrowserContext], address: str, desk: Desk
) -> None:
    page = opened(phones[0], address)
    taken = page.get_by_role("button", name=re.compile("^In now .* and ")).last
    name = str(taken.text_content())
    taken.scroll_into_view_if_needed()
    # A title further down, where the eye of whoever taps the next one is.
    height, lines = height_of(page, "mount"), len(journal(desk))
    assert page.evaluate("window.scrollY") > 300
    taken.click()
    page.locator("#notice").wait_for()
    page.locator("#notice:focus").wait_for()
    assert name not in page.get_by_role("button").all_text_contents()
    assert abs(height_of(page, "mount") - height) < 200
    assert page.locator("#notice").is_visible()
    assert len(journal(desk)) == lines + 1


def test_what_another_phone_records_is_seen_without_a_touch(
    phones: list[BrowserContext], address: str
) -> None:
    one, other = (opened(phone, address) for phone in phones)
    one.get_by_role("button", name="Took off M-06").first.click()
    one.locator("#notice").wait_for()
    assert other.get_by_role("button", name="Took off M-06").count() > 0
    other.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    gone = other.get_by_role("button", name="Took off M-06")
    gone.first.wait_for(state="detached")
    assert gone.count() == 0


def test_taps_without_reception_are_kept_and_sent_once(
    phones: list[BrowserContext], address: str, desk: Desk
) -> None:
    page = opened(phones[0], f"{address}board?name=B10")
    lines = len(journal(desk))
    phones[0].set_offline(True)
    page.get_by_role("button", name="Stiff M-06").first.click()
    page.get_by_text("Waiting to be sent: Stiff M-06").wait_for()
    page.get_by_role("button", name="Took off M-06").first.click()
    page.get_by_text("Waiting to be sent: Took off M-06").wait_for()
    assert page.locator("form.kept").count() >= 2
    assert len(journal(desk)) == lines
    # Closed and opened again without reception, it shows its last state and what waits.
    page.reload()
    page.get_by_text("Waiting to be sent: Took off M-06").wait_for()
    phones[0].set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.locator("#kept-taps").wait_for(state="detached")
    told = [line.text for line in journal(desk)[lines:]]
    assert len(told) == 2
    assert "stiff" in told[0]
    assert "M-06 off" in told[1]


def test_an_answer_that_was_lost_makes_no_second_line(
    phones: list[BrowserContext], address: str, desk: Desk
) -> None:
    page = opened(phones[0], address)
    lines = len(journal(desk))
    taken: list[str] = []

    def lose(route: object) -> None:
        if not taken:
            taken.append("lost")
            route.fetch()  # type: ignore[attr-defined]
            route.abort()  # type: ignore[attr-defined]
        else:
            route.continue_()  # type: ignore[attr-defined]

    page.route(re.compile("/release$"), lose)
    page.get_by_role("button", name="Took off M-06").first.click()
    page.locator("#notice").wait_for()
    page.locator("#kept-taps").wait_for(state="detached")
    assert taken == ["lost"]
    assert len(journal(desk)) == lines + 1


def test_a_tap_that_is_refused_when_it_is_sent_says_why(
    phones: list[BrowserContext], address: str, desk: Desk
) -> None:
    one, other = (opened(phone, address) for phone in phones)
    phones[0].set_offline(True)
    one.get_by_role("button", name="Took off M-06").first.click()
    one.get_by_text("Waiting to be sent: Took off M-06").wait_for()
    other.get_by_role("button", name="Took off M-06").first.click()
    other.locator("#notice").wait_for()
    lines = journal(desk)
    phones[0].set_offline(False)
    one.evaluate("window.dispatchEvent(new Event('online'))")
    told = one.locator("#kept-taps")
    told.get_by_text("Not recorded: Took off M-06").wait_for()
    assert f"Line {lines[-1].line}" in told.inner_text()
    assert journal(desk) == lines
    told.get_by_role("button", name="Put away").click()
    told.wait_for(state="detached")
