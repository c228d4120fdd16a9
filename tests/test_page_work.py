"""At work: one card at a time, by two phones, without a script, without reception, by person."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from bench_cases import Desk, local, planned, read_weekend, rules
from page_cases import SATURDAY, Phone, phones
from serve_cases import serving
from verb_cases import journal

from scheduler.page import create_app
from scheduler.page.tokens import ensure_tokens
from scheduler.record.store import Store
from scheduler.words.label import roman

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

THUMB_PX = 64
FLICK = """d => {
  const at = x => new Touch({ identifier: 1, target: document.body, clientX: x, clientY: 300 });
  const tell = (kind, x) => document.body.dispatchEvent(new TouchEvent(kind,
    { bubbles: true, touches: kind === 'touchstart' ? [at(x)] : [], changedTouches: [at(x)] }));
  tell('touchstart', 200); tell('touchend', 200 + d);
}"""


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return read_weekend(tmp_path)


def on_top(page: str) -> str:
    """The card that is shown, as it stands in the page."""
    for part in re.findall(r'<section class="work-card".*?</section>', page, re.DOTALL):
        if not re.match(r"<section[^>]* hidden>", part):
            return str(part)
    raise AssertionError(page)


def card(page: str) -> str:
    """What the card on top says first: what to do, and to whom."""
    return " ".join(re.sub("<.*?>", " ", on_top(page).split("</h1>")[0]).split())


def tap(phone: Phone, words: str) -> str:
    """Tap a button of the card on top, and return the page it leads to."""
    phone.page = on_top(phone.page)
    return phone.tap(words)


def turned(phone: Phone, way: str) -> str:
    """Follow the link of the card on top to the next or the one before."""
    found = re.search(rf'data-turn="{way}" href="([^"]*)"', on_top(phone.page))
    assert found
    return phone.look(html.unescape(found[1]))


# --- as plain pages -------------------------------------------------------------------------


def test_a_stiff_one_comes_off_next_and_then_the_next_is_tested(desk: Desk) -> None:
    (phone,) = phones(desk)
    first = phone.look("work")
    assert card(first) == "1 of 18 Test M-06"
    assert "Deilephila elpenor" in first
    assert "B10, 0 to 47 mm" in first
    assert card(tap(phone, "Stiff")) == "1 of 18 Take off M-06"
    assert card(tap(phone, "Took off")) == "1 of 17 Test M-07"
    assert [e.text for e in journal(desk)[-2:]] == [
        "tested stiff: M-06 on B10", "took M-06 off",
    ]  # fmt: skip


def test_a_soft_one_is_left_and_not_asked_for_again(desk: Desk) -> None:
    (phone,) = phones(desk)
    phone.look("work")
    assert card(tap(phone, "Soft")).endswith("Test M-07")
    assert "M-06" not in card(phone.look("work?at=M-06"))


def test_not_now_records_nothing_and_the_end_names_who_is_left(desk: Desk) -> None:
    (phone,) = phones(desk)
    lines, page, seen = journal(desk), phone.look("work"), []
    while "work-card" in page and card(page) != "These are left":
        seen.append(card(page).split(" ")[-1])
        page = turned(phone, "on")
    assert len(seen) == len(set(seen)) == 18
    assert "M-06" in on_top(page)
    assert card(turned(phone, "back")).startswith("18 of 18")
    assert journal(desk) == lines


def test_what_another_did_meanwhile_is_said_and_the_next_card_comes(desk: Desk) -> None:
    one, other = phones(desk, 2)
    one.look("work?at=M-06&then=M-07")
    other.look("")
    other.tap("Took off M-06")
    page = one.look("work?at=M-06&then=M-07")
    assert "M-06 is done, or no longer for today" in page
    assert card(page).endswith("Test M-07")


def test_one_tapped_twice_on_two_phones_is_one_record(desk: Desk) -> None:
    one, other = phones(desk, 2)
    one.look("work")
    other.look("work")
    tap(one, "Soft")
    lines = journal(desk)
    refused = other.send(other.form("Stiff"))
    assert refused.status_code == 409
    assert journal(desk) == lines


def test_a_page_left_on_over_midnight_shows_the_new_day(desk: Desk) -> None:
    with Store(desk.store) as store:
        bench = ensure_tokens(store).bench
    clock = [local("2027-05-08T23:50")]
    phone = Phone(create_app(desk.store, rules(), clock=lambda: clock[0]), bench)
    saturday = phone.look("work")
    before = phone.get("pulse").headers["ETag"]
    clock[0] = local("2027-05-09T00:01")
    assert phone.get("pulse").headers["ETag"] != before
    assert phone.look("work") != saturday


def test_to_mount_pin_place_and_strip_are_on_the_card(desk: Desk) -> None:
    (phone,) = phones(desk)
    page = phone.look("work?at=M-16")
    sheet = phone.look("session?name=SAT-08")
    pin = re.search(r"M-16</b>.*?pin (\S+),", sheet, re.S)
    assert pin
    assert card(page).endswith("Mount M-16")
    assert f"Pin <b>{pin[1]}</b>" in on_top(page)
    assert "place-arrow" in on_top(page)
    due = next(p.due for p in planned(desk, "SAT-08") if p.specimen == "M-16")
    assert due is not None
    from_then = roman(due.isoformat()).removesuffix("2027")
    assert f"<span>8.V.2027 · test from {from_then}</span>" in on_top(page)


# --- of whom --------------------------------------------------------------------------------


@pytest.fixture
def two(desk: Desk) -> Desk:
    """Anke has the Saturday of the sample, Bo two hours from the same nine o'clock on."""
    desk.did("session", "SAT-08", "--minutes", "180", "--who", "Anke")
    desk.did("session", "2027-05-08 09:00", "--minutes", "120", "--who", "Bo")
    desk.did("plan")
    return desk


def test_both_sessions_of_an_hour_stand_on_the_page_each_with_its_person(two: Desk) -> None:
    (phone,) = phones(two)
    page = phone.look("")
    assert re.findall(r"Mount <span[^>]*>(\S+), 09:00, \d+ min, (\w+)<", page) == [
        ("2027-05-08-Bo", "Bo"),
        ("SAT-08", "Anke"),
    ]


def test_a_day_of_one_persons_own_stays_theirs_after_a_tap(two: Desk) -> None:
    (phone,) = phones(two)
    every = phone.look("work").count('<section class="work-card"')
    hers = phone.look("?who=Anke")
    assert "Mount <span" in hers
    assert "2027-05-08-Bo" not in hers
    after = phone.tap("Mounted")
    assert "2027-05-08-Bo" not in after
    assert 'aria-current="true">Anke' in after
    assert 0 < phone.look("work?who=Bo").count('<section class="work-card"') <= every


# --- in a browser ---------------------------------------------------------------------------


@pytest.fixture
def address(desk: Desk) -> Iterator[str]:
    with Store(desk.store) as store:
        bench = ensure_tokens(store).bench
    with serving(desk.store, now=SATURDAY, quiet=True) as running:
        yield f"{running.address}/bench/{bench}/work"


@pytest.fixture
def pair(browser: Browser) -> Iterator[list[BrowserContext]]:
    made = [
        browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
        for _ in range(2)
    ]
    yield made
    for one in made:
        one.close()


def top(page: Page) -> str:
    return " ".join(page.locator(".work-card:visible h1").inner_text().split())


def until(page: Page, words: str) -> None:
    page.locator(".work-card:visible h1", has_text=words.split()[-1]).filter(
        has_text=" ".join(words.split()[:-1])
    ).wait_for()


def test_two_phones_at_one_bench(pair: list[BrowserContext], address: str, desk: Desk) -> None:
    one, other = (phone.new_page() for phone in pair)
    for page in (one, other):
        page.goto(address)
        assert top(page) == "Test M-06"
    lines = len(journal(desk))
    one.get_by_role("button", name="Stiff").click()
    until(one, "Take off M-06")
    one.get_by_role("button", name="Took off").click()
    until(one, "Test M-07")
    assert len(journal(desk)) == lines + 2
    # The other looks up: the card has changed by itself.
    other.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    until(other, "Test M-07")
    assert "M-06 is done" in other.locator("main").inner_text()
    # Undo on the first phone leads to where one was.
    one.locator("#notice").get_by_role("button", name="Undo").click()
    one.locator("#notice").get_by_text("took back").first.wait_for()
    assert len(journal(desk)) == lines + 3


def test_keys_and_swipes_turn_the_cards_and_the_address_keeps_the_place(
    pair: list[BrowserContext], address: str, desk: Desk
) -> None:
    page = pair[0].new_page()
    page.goto(address)
    lines = journal(desk)
    page.keyboard.press("ArrowRight")
    assert top(page) == "Test M-07"
    page.evaluate(FLICK, -120)
    third = top(page)
    assert third not in ("Test M-06", "Test M-07")
    page.reload()
    assert top(page) == third
    page.evaluate(FLICK, 120)
    page.keyboard.press("ArrowLeft")
    assert top(page) == "Test M-06"
    page.get_by_role("link", name="Not now").and_(page.locator(":visible")).click()
    assert top(page) == "Test M-07"
    assert journal(desk) == lines


def test_without_reception_the_work_goes_on_and_is_sent_later(
    pair: list[BrowserContext], address: str, desk: Desk
) -> None:
    page = pair[0].new_page()
    page.goto(address)
    lines = len(journal(desk))
    pair[0].set_offline(True)
    page.get_by_role("button", name="Soft").click()
    until(page, "Test M-07")
    page.get_by_role("button", name="Soft").click()
    page.get_by_text("Waiting to be sent").nth(1).wait_for()
    assert len(journal(desk)) == lines
    pair[0].set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    page.locator("#kept-taps").wait_for(state="detached")
    assert [e.text for e in journal(desk)[lines:]] == [
        "tested soft: M-06 on B10", "tested soft: M-07 on B8",
    ]  # fmt: skip


def test_the_screen_is_asked_to_stay_on_and_it_is_said(
    pair: list[BrowserContext], address: str
) -> None:
    page = pair[0].new_page()
    page.add_init_script(
        "window.held = 0; Object.defineProperty(navigator, 'wakeLock',"
        " { value: { request: async () => { window.held += 1; return {}; } } });"
    )
    page.goto(address)
    page.get_by_text("The screen stays on while this is open.").wait_for()
    assert page.evaluate("window.held") == 1
    bare = pair[1].new_page()
    bare.add_init_script("Object.defineProperty(navigator, 'wakeLock', { value: undefined });")
    bare.goto(address)
    bare.get_by_text("This browser lets the screen go dark").wait_for()


def test_two_thumbs_that_differ_in_shape_and_hang_where_a_thumb_is(
    pair: list[BrowserContext], address: str
) -> None:
    page = pair[0].new_page()
    page.goto(address)
    boxes = []
    for name in ("Soft", "Stiff"):
        thumb = page.get_by_role("button", name=name)
        box = thumb.bounding_box()
        assert box
        assert box["height"] >= THUMB_PX
        assert box["y"] > 740 / 2
        assert box["y"] + box["height"] <= 740
        boxes.append(box)
    assert boxes[0]["x"] + boxes[0]["width"] < boxes[1]["x"]
    round_corner = (
        "getComputedStyle(document.querySelector("
        "'.work-card:not([hidden]) .thumb.{}')).borderTopLeftRadius"
    )
    assert page.evaluate(round_corner.format("yes")) != page.evaluate(round_corner.format("no"))
    letters = page.locator(".whom-at:visible").evaluate(
        "e => parseFloat(getComputedStyle(e).fontSize)"
    )
    assert letters >= 40
