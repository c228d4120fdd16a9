"""What the page remembers from tap to tap: its answers never differ from those of a new page."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
from bench_cases import Desk, weekend
from page_cases import Phone, phones

from scheduler.page.bench import remembered as kept_answers


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def said(page: str) -> str:
    """What a page says, without what is new on each: slips, its pulse, what the tap just did."""
    main = page[page.index("<main>") : page.index("</main>")]
    main = re.sub(r'<section class="notice".*?</section>', "", main, flags=re.DOTALL)
    return re.sub(r'<input type="hidden"[^>]*>', "", main)


def after_a_while(phone: Phone, refreshed: kept_answers.Remembered) -> str:
    """Today once what is done aside is done."""
    until = time.monotonic() + 60
    while refreshed._refreshing:
        assert time.monotonic() < until
        time.sleep(0.05)
    return phone.look("")


def test_dear_worries_come_after_the_tap_and_are_then_those_of_a_page_made_anew(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept_answers, "DEAR_SECONDS", 0.0)
    monkeypatch.setattr(kept_answers, "QUIET_SECONDS", 0.05)
    (phone,) = phones(desk)
    before = said(phone.look(""))
    for words in ("Took off M-06", "Mounted as planned"):
        if any(f.words.startswith(words) for f in phone.forms()):
            at_once = said(phone.tap(words))
            assert at_once != before
            kept = phone._client.application.extensions["wingrest_remembered"]
            then = said(after_a_while(phone, kept))
            (anew,) = phones(desk)
            assert then == said(anew.look(""))
            before = then
            phone.look("")


def test_what_is_done_shows_at_once_whatever_worries_are_still_to_be_found(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept_answers, "DEAR_SECONDS", 0.0)
    monkeypatch.setattr(kept_answers, "QUIET_SECONDS", 3600.0)
    monkeypatch.setattr(kept_answers, "QUIET_WAIT_MOST", 1.0)
    (phone,) = phones(desk)
    phone.look("")
    assert any(f.words.startswith("Took off M-06") for f in phone.forms())
    phone.tap("Took off M-06")
    phone.look("")
    assert not any(f.words.startswith("Took off M-06") for f in phone.forms())
    kept = phone._client.application.extensions["wingrest_remembered"]
    after_a_while(phone, kept)
