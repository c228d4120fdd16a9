"""The bench page in a real browser: phone and desk, with and without JavaScript, by keyboard.

Debian's chromium, headless, driven by Playwright; rules of accessibility from axe-core, which a
package of the `test` extra carries. Without them these tests are skipped, and say so;
WINGREST_BROWSER=required makes that a failure.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from bench_cases import Desk, read_weekend
from page_cases import SATURDAY
from serve_cases import serving
from verb_cases import image, journal

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ConsoleMessage, Page

PHONE, DESK = (360, 740), (1280, 900)
NARROWEST = (320, 640)
"""What 1280 CSS pixels become at 400 % (WCAG 2.2, 1.4.10)."""
VIEWS = (
    "",
    "boards",
    "weeks",
    "board?name=B10",
    "board?name=B1",
    "journal",
    "work",
    "work?at=M-16",
)
FURTHER = (
    "plan", "session?name=SAT-08", "waiting", "air", "more", "begin", "bring", "paper", "record",
    "evening?day=2027-05-08&minutes=60", "specimen?name=M-06", "do?which=add", "correct?name=M-06",
    "logger?room=study", "do?which=labels", "people", "connect", "back", "find?q=M", "season",
    "tests", "publish", "elsewhere?specimen=M-16", "list?which=standing",
    "rules?body_mm=4&rh_pct=55",
)  # fmt: skip
"""Pages of forms and lists, looked at once each."""
SMALLEST_PEG_PX = 44


@pytest.fixture(scope="session")
def axe() -> str:
    return (resources.files("axe_playwright_python") / "axe.min.js").read_text("utf-8")


Open = Callable[..., "Page"]


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return read_weekend(tmp_path)


@pytest.fixture
def look(browser: Browser, desk: Desk) -> Iterator[Open]:
    """Open a page of the served record in a window of its own; faults of the page fail."""
    contexts = []
    faults: list[str] = []
    with serving(desk.store, now=SATURDAY) as running:
        start = re.search(r"http://\S+/bench/\S+/", running.greeting)
        assert start

        def opened(view: str = "", size: tuple[int, int] = PHONE, **how: Any) -> Page:
            width, height = size
            context = browser.new_context(viewport={"width": width, "height": height}, **how)
            contexts.append(context)
            page = context.new_page()
            page.set_default_timeout(10_000)
            page.on("console", lambda m: faults.append(m.text) if is_fault(m) else None)
            page.on("pageerror", lambda e: faults.append(str(e)))
            page.on("dialog", lambda d: faults.append(d.message))
            page.goto(start[0] + view)
            return page

        yield opened
        for context in contexts:
            context.close()
    assert faults == []


def is_fault(message: ConsoleMessage) -> bool:
    # A refusal (409) is an answer; chromium tells the console of it.
    return message.type == "error" and "status of 409" not in message.text


def violations(page: Page, axe: str) -> list[str]:
    page.evaluate(axe)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert len(found["passes"]) > 10, "axe-core looked at nothing"
    return [
        f"{v['id']}: {node['target']} {node['failureSummary']}"
        for v in found["violations"]
        for node in v["nodes"]
    ]


def width_beyond(page: Page) -> int:
    beyond: int = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    return beyond


def heading(page: Page) -> str:
    return " ".join(page.locator("h1").inner_text().split())


# --- every view ---------------------------------------------------------------------------


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_axe_core_finds_nothing(look: Open, axe: str, size: tuple[int, int], scheme: str) -> None:
    page = look(size=size, color_scheme=scheme)
    start = page.url
    for view in VIEWS:
        page.goto(start + view)
        assert violations(page, axe) == [], view
    page.goto(start)
    page.get_by_role("button", name="Stiff M-06", exact=True).click()
    page.wait_for_url("**line=*")
    assert violations(page, axe) == [], "with a notice"


def test_axe_core_would_find_something(look: Open, axe: str) -> None:
    page = look()
    page.evaluate("document.querySelector('h1').innerHTML = '<img src=\"data:,\">'")
    assert violations(page, axe) != []


@pytest.mark.parametrize("size", [NARROWEST, PHONE, DESK], ids=["320", "phone", "desk"])
def test_no_view_scrolls_sideways(look: Open, size: tuple[int, int]) -> None:
    page = look(size=size)
    start = page.url
    for view in VIEWS:
        page.goto(start + view)
        assert width_beyond(page) <= 0, view


def test_letters_set_twice_as_large_and_wide_apart_still_fit(look: Open) -> None:
    """WCAG 2.2, 1.4.4 and 1.4.12: text at 200 %, and the spacing that a reader may ask for."""
    page = look(size=(640, 900))
    start = page.url
    spacing = (
        "html { font-size: 200% } * { line-height: 1.5 !important;"
        " letter-spacing: .12em !important; word-spacing: .16em !important }"
    )
    for view in VIEWS:
        page.goto(start + view)
        page.evaluate(
            "css => { const s = new CSSStyleSheet(); s.replaceSync(css);"
            " document.adoptedStyleSheets = [s]; }",
            spacing,
        )
        assert width_beyond(page) <= 0, view


def test_forms_and_lists_are_as_sound(look: Open, axe: str) -> None:
    page = look(size=NARROWEST)
    start = page.url
    for view in FURTHER:
        page.goto(start + view)
        assert violations(page, axe) == [], view
        assert width_beyond(page) <= 0, view
        for peg in page.locator("button:visible, nav a:visible, summary:visible, a.peg").all():
            box = peg.bounding_box()
            assert box
            assert min(box["height"], box["width"]) >= SMALLEST_PEG_PX, (view, peg.inner_text())
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert width_beyond(page) <= 0, f"{view} at 200 %"


def test_light_and_dark_follow_the_device(look: Open) -> None:
    paper = "getComputedStyle(document.body).backgroundColor"
    light, dark = (look(color_scheme=s).evaluate(paper) for s in ("light", "dark"))
    brightness = [sum(map(int, re.findall(r"\d+", c)[:3])) for c in (light, dark)]
    assert brightness[0] > 600 > 150 > brightness[1]


def test_pegs_are_large_enough_for_a_thumb(look: Open) -> None:
    page = look(size=NARROWEST)
    start = page.url
    for view in VIEWS:
        page.goto(start + view)
        for peg in page.locator("button:visible, nav a:visible, summary:visible").all():
            box = peg.bounding_box()
            assert box
            assert box["height"] >= SMALLEST_PEG_PX, (view, peg.inner_text())
            assert box["width"] >= SMALLEST_PEG_PX, (view, peg.inner_text())


def test_the_boards_are_drawn_to_one_scale_on_the_screen(look: Open) -> None:
    for size in (PHONE, DESK):
        page = look("boards", size=size)
        scales = [
            page.locator(f"svg.board[aria-label^='{name} '] .groove").evaluate(
                "g => g.getBoundingClientRect().width"
            )
            / length_mm
            for name, length_mm in (("B1", 300), ("B5", 360), ("B9", 400))
        ]
        assert max(scales) == pytest.approx(min(scales), rel=0.01)


def test_numbers_on_a_phone_names_on_a_desk(look: Open) -> None:
    name = "svg.board[aria-label^='B10 '] g.{0}:has(text)"
    assert look("boards").locator(name.format("narrow")).first.is_visible()
    assert not look("boards").locator(name.format("wide")).first.is_visible()
    assert look("boards", size=DESK).locator(name.format("wide")).first.is_visible()


def test_on_paper_there_is_what_stands_and_nothing_to_tap(look: Open) -> None:
    page = look("boards", size=DESK)
    page.emulate_media(media="print")
    assert page.locator("svg.board").first.is_visible()
    assert page.get_by_text("test it now").first.is_visible()
    assert not page.locator("nav").is_visible()
    # The first page of the paper holds more than the date.
    page.set_viewport_size({"width": 720, "height": 1018})  # A4 less its margins
    page.goto(page.url.replace("boards", ""))
    page.emulate_media(media="print")
    first = page.locator("svg.board").first.bounding_box()
    assert first
    assert first["y"] + first["height"] < 1018
    page.goto(page.url + "boards")
    page.emulate_media(media="print")
    page.goto(page.url.replace("boards", ""))
    page.emulate_media(media="print")
    assert page.locator("form:visible").count() == 0


# --- freeing a board ----------------------------------------------------------------------


@pytest.mark.parametrize("script", [True, False], ids=["javascript", "no javascript"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_free_a_board_and_take_it_back(
    look: Open, desk: Desk, size: tuple[int, int], script: bool
) -> None:
    before = image(desk)
    page = look(size=size, java_script_enabled=script)
    page.get_by_role("link", name="B8", exact=True).first.click()
    assert heading(page) == "B8: test it now"
    page.get_by_role("button", name="Stiff M-07", exact=True).click()
    page.get_by_role("button", name="Stiff M-08", exact=True).click()
    page.get_by_role("heading", name="B8: stiff: take off").wait_for()
    page.get_by_role("link", name="Today").click()
    page.get_by_role("button", name="Took all 2 off").last.click()
    page.locator("#notice").get_by_text("took M-07 and M-08 off").first.wait_for()
    page.get_by_role("link", name="Boards").click()
    assert page.get_by_role("heading", name="B8 empty").is_visible()
    page.get_by_role("link", name="Journal").click()
    for _ in range(3):
        page.locator("main li").get_by_role("button", name="Undo line").first.click()
        page.wait_for_url("**line=*")
        page.locator("#notice").wait_for()
        page.get_by_role("link", name="Journal").click()
        # What took a line back has a peg of its own, with other words.
        assert page.get_by_role("button", name="Bring it back").first.is_visible()
    assert image(desk) == before


def test_keyboard_alone(look: Open, desk: Desk) -> None:
    before = image(desk)
    page = look()

    def tab_to(words: str) -> None:
        for _ in range(200):
            page.keyboard.press("Tab")
            here = page.evaluate("document.activeElement.textContent.replace(/\\s+/g, ' ').trim()")
            outline = page.evaluate(
                "(s => s.outlineStyle + parseFloat(s.outlineWidth))"
                "(getComputedStyle(document.activeElement))"
            )
            assert re.fullmatch(r"solid[3-9].*", outline), f"no focus to be seen on {here!r}"
            if here.startswith(words):
                return
        pytest.fail(f"{words} cannot be reached")

    tab_to("Took off M-06")
    page.keyboard.press("Enter")
    page.wait_for_url("**line=*")
    assert page.evaluate("document.activeElement.id") == "notice"
    assert image(desk) != before
    tab_to("Undo")
    page.keyboard.press("Space")
    page.get_by_text("took back line").first.wait_for()
    assert image(desk) == before


def test_an_impatient_thumb_is_one_record(look: Open, desk: Desk) -> None:
    page = look()
    lines = len(journal(desk))
    page.get_by_role("button", name="Took off M-06").first.dblclick()
    page.wait_for_url("**line=*")
    assert len(journal(desk)) == lines + 1


def test_the_second_phone_is_told(look: Open, desk: Desk) -> None:
    one, other = look(), look()
    one.get_by_label("Your name").fill("Ivo Marrack (invented)")
    one.get_by_role("button", name="Took off M-06").first.click()
    one.wait_for_url("**line=*")
    lines = journal(desk)
    with other.expect_response(re.compile("release")) as answer:
        other.get_by_role("button", name="Took off M-06").first.click()
    assert answer.value.status in (400, 409)
    other.locator("main", has_text=f"Line {lines[-1].line}").wait_for()
    assert "by Ivo Marrack (invented)" in other.locator("main").inner_text()
    assert journal(desk) == lines
    other.get_by_role("link", name="Look again").click()
    assert other.get_by_role("button", name="Took off M-06").count() == 0


def test_a_phone_remembers_the_name_and_going_back_shows_no_old_forms(
    look: Open, desk: Desk
) -> None:
    page = look()
    page.get_by_label("Your name").fill("Ivo Marrack (invented)")
    page.get_by_role("link", name="Boards").click()
    page.get_by_role("link", name="B10").click()
    page.get_by_role("button", name="In north").click()
    page.wait_for_url("**line=*")
    assert journal(desk)[-1].who == "Ivo Marrack (invented)"
    # The page is the one that was open: the card has changed, and back leads where one came from.
    page.get_by_role("button", name="In study").wait_for()
    page.go_back()
    page.get_by_role("heading", name="Boards").wait_for()


def test_without_javascript_nothing_is_offered_that_needs_it(look: Open) -> None:
    page = look(java_script_enabled=False)
    assert not page.get_by_label("Your name").is_visible()
