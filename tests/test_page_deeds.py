"""Every deed and every look on the page: no terminal, no command line, the same rooms behind."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from bench_cases import Desk, weekend
from page_cases import SATURDAY, Phone, phones
from test_page_words import TYPED

SAMPLES = Path(__file__).parent.parent / "sample_batches"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.fixture
def phone(desk: Desk) -> Phone:
    return phones(desk)[0]


@pytest.fixture
def empty(tmp_path: Path) -> Phone:
    return phones(Desk(tmp_path / "record.sqlite"), now="2027-05-05T18:00")[0]


def pages_from(phone: Phone, most: int = 200) -> Iterator[tuple[str, str]]:
    """Every page that can be reached by links, with its text; of many alike only the first few."""
    to_go, seen = [phone.start], {phone.start}
    kinds: dict[str, int] = {}
    while to_go and len(seen) < most:
        place = to_go.pop(0)
        answer = phone.get(place)
        # Of a session that is over there is nothing to print: said on a page of its own.
        assert answer.status_code == 200 or ".pdf" in place, (place, answer.status)
        if answer.mimetype != "text/html":
            continue
        yield place, answer.text
        for link in re.findall(r'href="([^"#]+)', answer.text):
            there = urljoin(place, unescape(link))
            kind = urlsplit(there).path
            if there.startswith(phone.start) and there not in seen and kinds.get(kind, 0) < 12:
                kinds[kind] = kinds.get(kind, 0) + 1
                seen.add(there)
                to_go.append(there)


def typed_at_a_terminal(page: str) -> list[str]:
    return [page[max(0, m.start() - 60) : m.end() + 40] for m in TYPED.finditer(page)]


@pytest.mark.parametrize(
    ("batch", "loaded", "now"),
    [
        ("first_weekend", "2027-05-05T18:00", SATURDAY),
        pytest.param(
            "first_weekend", "2027-05-05T18:00", "2027-06-20T10:00", marks=pytest.mark.slow
        ),
        pytest.param(
            "damp_fortnight", "2027-07-12T09:00", "2027-07-12T10:00", marks=pytest.mark.slow
        ),
    ],
)
def test_no_page_shows_a_command(tmp_path: Path, batch: str, loaded: str, now: str) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", str(SAMPLES / batch), "--yes", now=loaded)
    desk.did("plan", "--effort", "quick", now=loaded)
    found = dict(pages_from(phones(desk, now=now)[0]))
    assert len(found) > 40
    assert {
        place: said for place, page in found.items() if (said := typed_at_a_terminal(page))
    } == {}


def test_no_page_of_an_empty_record_shows_a_command(empty: Phone) -> None:
    found = dict(pages_from(empty))
    assert len(found) > 20
    assert {
        place: said for place, page in found.items() if (said := typed_at_a_terminal(page))
    } == {}
