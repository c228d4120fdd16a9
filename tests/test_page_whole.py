"""Nothing needs a terminal: a thumb can reach the deeds and looks of each command as pages."""

from __future__ import annotations

import re
from html import unescape
from urllib.parse import parse_qs, urljoin, urlsplit

import pytest
from bench_cases import Desk, local, weekend
from page_cases import SATURDAY, Phone, forms_of, phones
from test_page_deeds import pages_from

from scheduler.cli import COMMANDS
from scheduler.page.bench.deed_pages import FORMS
from scheduler.page.links import make_link
from scheduler.record.store import Store

ON_THE_PAGE: dict[str, tuple[str, ...]] = {
    "add": ("do/add",),
    "air": ("POST dial", "do/dial"),
    "amend": ("correct", "POST correct"),
    "away": ("do/away",),
    "backup": ("POST snapshot", "POST back/folder"),
    "bag": ("do/bag",),
    "board": ("do/boards", "do/use"),
    "boards": ("boards", "board", "weeks"),
    "check": ("record",),
    "demo": ("POST invented",),
    "drooped": ("do/drooped",),
    "export": ("record.zip",),
    "feed": ("connect", "publish"),
    "find": ("find",),
    "handover": ("do/handover",),
    "journal": ("journal",),
    "link": ("people", "POST people", "POST people/end"),
    "list": ("list", "waiting", "list/standing.xlsx", "list/lost.csv"),
    "load": ("bring", "POST bring"),
    "lost": ("do/lost",),
    "lot": ("do/lot", "find"),
    "mount": ("do/mount", "POST mount-list", "POST mounted-some"),
    "move": ("do/move", "POST move"),
    "phone": ("connect",),
    "photo": ("POST photo",),
    "plan": ("plan", "POST plan", "session", "evening", "elsewhere", "POST elsewhere"),
    "print": ("do/labels", "paper", "print/sheet.pdf", "print/slips.pdf", "print/strips.pdf",
              "print/pull.pdf"),
    "publish": ("publish", "POST publish"),
    "putback": ("do/putback",),
    "readings": ("POST logger",),
    "ready": ("board",),
    "relax": ("do/relax", "POST relax"),
    "release": ("do/release", "POST release"),
    "restore": ("back", "POST back", "POST back/file"),
    "room": ("do/room",),
    "rooms": ("tests", "air"),
    "rules": ("rules", "POST back/rules"),
    "session": ("do/session", "do/minutes"),
    "show": ("specimen",),
    "summary": ("season", "season.pdf"),
    "test": ("do/test", "POST test"),
    "thaw": ("do/thaw",),
    "today": ("", "work"),
    "undo": ("POST undo",),
}  # fmt: skip
"""Where on the page each command's deed is done or its question answered."""

NOT_ON_IT = {
    "serve": "it is what shows the page",
    "start": "it is what opens the page",
}


def places_within(phone: Phone, limit: int = 400) -> set[str]:
    """Every place of the page that links and buttons lead to, named without what is asked."""
    found = set()
    for place, page in pages_from(phone, limit):
        links = re.findall(r'href="([^"#]+)', page)
        for link in (place, *links):
            there = urlsplit(urljoin(place, unescape(link)))
            name = there.path.removeprefix(phone.start)
            which = parse_qs(there.query).get("which", [""])[0]
            found.add(f"do/{which}" if name == "do" else name)
        for form in forms_of(page):
            name = urlsplit(urljoin(place, form.action)).path.removeprefix(phone.start)
            found |= {name if name.startswith("do/") else f"POST {name}"}
    return found


def test_every_command_is_on_the_page_or_it_is_said_why_not() -> None:
    assert ON_THE_PAGE.keys() & NOT_ON_IT.keys() == set()
    assert set(COMMANDS) == ON_THE_PAGE.keys() | NOT_ON_IT.keys()


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    desk = weekend(tmp_path_factory.mktemp("whole"))
    with Store(desk.store) as store:
        make_link(store, "Ivo (invented)", "record", local(SATURDAY))
    empty = Desk(tmp_path_factory.mktemp("empty") / "record.sqlite")
    return places_within(phones(desk)[0]) | places_within(phones(empty)[0])


@pytest.mark.parametrize("command", sorted(ON_THE_PAGE))
def test_it_is_reached_by_taps_alone(places: set[str], command: str) -> None:
    assert set(ON_THE_PAGE[command]) - places == set()


def test_every_form_of_the_house_is_reached(places: set[str]) -> None:
    assert {f"do/{name}" for name in FORMS} - places == set()
