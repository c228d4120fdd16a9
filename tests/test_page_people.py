"""People and phones on the page: links made, shown as codes, listed with last use, ended."""

from __future__ import annotations

import re
import socket
import time
import urllib.parse
import urllib.request
from datetime import timedelta
from pathlib import Path

import pytest
from bench_cases import Desk, local, rules, weekend
from flask import Flask
from page_cases import SATURDAY, Phone
from test_start import address_in, started

from scheduler.cli.server import own_address
from scheduler.page import create_app
from scheduler.page.links import Link, make_link, read_links
from scheduler.page.tokens import ensure_tokens
from scheduler.record.store import Store

NOW = local(SATURDAY)
LAN = "http://192.168.7.20:8034"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.fixture
def clock() -> list[timedelta]:
    return [timedelta()]


@pytest.fixture
def app(desk: Desk, clock: list[timedelta]) -> Flask:
    return create_app(desk.store, rules(), clock=lambda: NOW + clock[0])


def keeper(desk: Desk, app: Flask) -> Phone:
    with Store(desk.store) as store:
        return Phone(app, ensure_tokens(store).bench)


def links(desk: Desk) -> tuple[Link, ...]:
    with Store(desk.store) as store:
        return read_links(store.db)


def from_the_network(app: Flask, path: str) -> str:
    """A page as a phone asks for it, by the computer's number in the home network."""
    answer = app.test_client().get(path, base_url=LAN)
    assert answer.status_code == 200, answer.text
    return answer.text


def test_a_link_is_made_and_its_two_codes_are_shown(desk: Desk, app: Flask) -> None:
    phone = keeper(desk, app)
    phone.look("people")
    phone.tap("Show its two codes", name="  Ivo   (invented) ")
    (ivo,) = links(desk)
    assert (ivo.name, ivo.may) == ("Ivo (invented)", "record")
    page = from_the_network(app, f"{phone.start}connect?name=Ivo+(invented)")
    assert f"{LAN}/bench/{ivo.bench}/" in page
    assert f"webcal://192.168.7.20:8034/calendar/{ivo.calendar}/all.ics" in page
    assert page.count('class="qr"') == 2
    assert "http://" in page
    assert f"{socket.gethostname().partition('.')[0].lower()}.local" in page


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        (True, "It is also found by its name"),
        (False, "nothing answers for names that end in .local"),
    ],
)
def test_whether_the_name_leads_here_is_asked_before_it_is_said(
    desk: Desk, app: Flask, monkeypatch: pytest.MonkeyPatch, answers: bool, said: str
) -> None:
    asked = []

    def lookup(host: str, _: int | None) -> list[str]:
        asked.append(host)
        if not answers:
            raise socket.gaierror
        return ["an address"]

    monkeypatch.setattr("scheduler.page.reach.socket.gethostname", lambda: "cellar.home")
    monkeypatch.setattr("scheduler.page.reach.socket.getaddrinfo", lookup)
    page = from_the_network(app, f"{keeper(desk, app).start}connect")
    assert said in page
    assert asked == ["cellar.local"]
    assert "http://cellar.local:8034" in page


def test_on_this_computer_alone_no_code_leads_nowhere(desk: Desk, app: Flask) -> None:
    phone = keeper(desk, app)
    page = phone.look("connect")
    assert "No phone can come in yet" in page
    assert 'class="qr"' not in page
    assert "Asleep" in page
    assert "firewall" in page


def test_when_each_was_last_used_stands_beside_it(
    desk: Desk, app: Flask, clock: list[timedelta]
) -> None:
    with Store(desk.store) as store:
        ivo = make_link(store, "Ivo (invented)", "record", NOW)
        make_link(store, "Tablet (invented)", "read", NOW)
    app.test_client().get(f"/bench/{ivo.bench}/")
    app.test_client().get(f"/calendar/{ivo.calendar}/all.ics")
    clock[0] = timedelta(minutes=20)
    page = keeper(desk, app).look("people")
    assert "bench 20 minutes ago, calendar 20 minutes ago" in page
    assert re.search(r"Tablet \(invented\)</b>, reads only<br><span[^>]*>not used yet", page)


def test_ending_asks_once_more_and_ends_that_one_alone(desk: Desk, app: Flask) -> None:
    phone = keeper(desk, app)
    with Store(desk.store) as store:
        ivo, wren = (make_link(store, name, "record", NOW) for name in ("Ivo", "Wren"))
    phone.look("people")
    asked = phone.send(phone.form("End the link of Ivo"))
    assert asked.status_code == 200
    assert "End the link of Ivo?" in asked.text
    assert all(link.ended is None for link in links(desk))
    phone.page = asked.text
    phone.tap("End it")
    assert [link.ended is None for link in links(desk)] == [False, True]
    gone = app.test_client().get(f"/bench/{ivo.bench}/work")
    assert gone.status_code == 410
    assert "What to do now" in gone.text
    assert app.test_client().get(f"/bench/{wren.bench}/").status_code == 200


def test_who_has_a_link_sees_their_own_and_makes_none(desk: Desk, app: Flask) -> None:
    with Store(desk.store) as store:
        ivo = make_link(store, "Ivo", "record", NOW)
        wren = make_link(store, "Wren", "record", NOW)
    his = Phone(app, ivo.bench)
    page = his.look("people")
    assert "Wren" not in page
    assert his.forms() == []
    own = from_the_network(app, f"{his.start}connect?name=Wren")
    assert ivo.bench in own
    assert wren.bench not in own
    hers = keeper(desk, app)
    hers.look("people")
    taken = hers.form("End the link of Wren")
    taken.action = f"{his.start}people/end"
    assert his.send(taken).status_code == 403


@pytest.mark.parametrize("name", [" ", "x" * 41, "a\tb\x07"])
def test_a_name_that_cannot_stand_in_the_journal_is_refused_beside_the_form(
    desk: Desk, app: Flask, name: str
) -> None:
    phone = keeper(desk, app)
    phone.look("people")
    answer = phone.send(phone.form("Show its two codes"), name=name)
    assert answer.status_code == 400
    assert "is no name" in answer.text
    assert links(desk) == ()


@pytest.mark.skipif(own_address().startswith("127."), reason="no network here")
def test_from_start_the_page_lets_phones_in_until_it_is_closed(tmp_path: Path) -> None:
    record = tmp_path / "record.sqlite"
    with started(record, WAYLAND_DISPLAY="") as said:
        bench = address_in(said)
        with urllib.request.urlopen(f"{bench}connect") as answer:
            page = answer.read().decode()
        slip = re.search(r'name="slip" value="([^"]+)"', page)
        assert slip
        form = urllib.parse.urlencode({"slip": slip[1]}).encode()
        with urllib.request.urlopen(f"{bench}let-in", form, timeout=60) as answer:
            page = answer.read().decode()
        found = re.search(r"http://[\d.]+:\d+/bench/[\w-]+/", page)
        assert found, page
        assert not found[0].startswith("http://127.")
        with urllib.request.urlopen(found[0]) as answer:
            assert answer.status == 200
    assert is_shut(found[0])


def is_shut(address: str) -> bool:
    """Say whether nobody answers any more, within ten seconds."""
    for _ in range(40):
        try:
            urllib.request.urlopen(address, timeout=5).close()
        except OSError:
            return True
        time.sleep(0.25)
    return False
