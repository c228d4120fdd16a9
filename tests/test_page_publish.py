"""The calendar sent from the page to a real server (Radicale), and where its parts are kept."""

from __future__ import annotations

import logging
import sys
import time
import types
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_cases import Desk, local, rules, weekend
from caldav_cases import PASSWORD, USER, Radicale, Relay, events_told, radicale, relay
from page_cases import SATURDAY, Phone, phones
from test_page_words import TYPED
from verb_cases import journal

from scheduler.page import create_app
from scheduler.page.links import make_link
from scheduler.record.store import Store

DENTIST = """\
BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//somebody else//EN
BEGIN:VEVENT
UID:dentist@example.org
DTSTAMP:20270401T080000Z
DTSTART:20270510T080000Z
SUMMARY:Dentist
END:VEVENT
END:VCALENDAR
"""


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Radicale]:
    with radicale(tmp_path_factory.mktemp("radicale")) as server:
        yield server


@pytest.fixture
def server(running: Radicale, monkeypatch: pytest.MonkeyPatch) -> Iterator[Radicale]:
    monkeypatch.delenv("WINGREST_CALDAV_PASSWORD", raising=False)
    monkeypatch.setitem(sys.modules, "keyring", None)
    monkeypatch.setattr("scheduler.feed.passwords.keyring_there", lambda: False)
    running.make("bench", "Bench")
    yield running
    assert running.ask("DELETE", "bench/").status in (200, 204, 404)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.fixture
def phone(desk: Desk) -> Phone:
    return phones(desk)[0]


def sent(phone: Phone, at: str, do: str, password: str = PASSWORD, **typed: str) -> str:
    """Fill in the page and tap; return what it says once that is done."""
    phone.look("publish")
    answer = phone.send(
        phone.form("Look first"), at=at, user=USER, password=password, do=do, **typed
    )
    if answer.status_code != 303:
        return answer.text
    return ended(phone)


def ended(phone: Phone) -> str:
    until = time.monotonic() + 30
    while "Refresh" in phone.get("publish").headers:
        assert time.monotonic() < until
        time.sleep(0.05)
    return phone.look("publish")


def test_looked_at_first_and_sent_with_the_next_tap(
    desk: Desk, phone: Phone, server: Radicale
) -> None:
    server.put("dentist.ics", DENTIST)
    lines = len(journal(desk))
    would = sent(phone, server.bench, "look")
    count = events_told(SATURDAY)
    assert f"{count} changes to make; nothing was changed" in would
    assert set(server.events()) == {"dentist@example.org"}
    answer = phone.send(phone.form("Send it"))
    assert answer.status_code == 303
    assert f"{count} events created" in ended(phone)
    assert len(server.events()) == count + 1
    assert len(journal(desk)) == lines
    assert "nothing to change" in sent(phone, server.bench, "send")
    would = sent(phone, server.bench, "remove")
    assert f"{count} changes to make" in would
    phone.send(phone.form("Take them out"))
    assert f"{count} events removed" in ended(phone)
    assert set(server.events()) == {"dentist@example.org"}


def test_an_account_asks_which_calendar(phone: Phone, server: Radicale) -> None:
    which = sent(phone, server.home, "look")
    assert "Which calendar?" in which
    assert phone.send(phone.form("This one, Bench")).status_code == 303
    assert "changes to make" in ended(phone)
    assert phone.send(phone.form("Send it")).status_code == 303
    ended(phone)
    assert len(server.events()) == events_told(SATURDAY)


def test_the_password_stands_nowhere(
    desk: Desk, phone: Phone, server: Radicale, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    pages = sent(phone, server.bench, "look") + sent(phone, server.bench, "send")
    pages += sent(phone, server.bench, "send", password="wrong-7f3a")
    assert "does not let in the user" in pages
    for secret in (PASSWORD, "wrong-7f3a"):
        assert secret not in pages
        assert secret not in caplog.text
        for file in desk.store.parent.rglob("*"):
            assert file.is_dir() or secret.encode() not in file.read_bytes(), file
    # Nor is it held once it is sent.
    answer = phone.send(phone.form("Look first"), at=server.bench, user=USER, password="")
    assert "there is no password, and none is kept for this server".lower() in answer.text.lower()


def test_no_other_host_is_given_the_password(phone: Phone, server: Radicale) -> None:
    with relay(server) as other:
        told: Relay = other
        sent(phone, server.home, "look")
        asked = list(told.asked)
        # Whatever a later form says: what was typed belongs to the errand it was typed for.
        answer = phone.send(
            phone.form("Look first"), at=told.bench, user=USER, password="", do="look"
        )
        assert answer.status_code == 400
        assert told.asked == asked == []


def test_on_a_phone_without_encryption_none_is_typed(desk: Desk, server: Radicale) -> None:
    lan = {"base_url": "http://192.168.7.20:8034", "environ_base": {"REMOTE_ADDR": "192.168.7.33"}}
    app = create_app(desk.store, rules(), clock=lambda: local(SATURDAY))
    own = phones(desk)[0]
    page = app.test_client().get(f"{own.start}publish", **lan).text
    assert 'type="password"' not in page
    assert "Here no password can be typed" in page
    own.look("publish")
    form = dict(own.form("Look first").fields)
    form |= {"at": server.bench, "user": USER, "password": PASSWORD, "do": "send"}
    refused = app.test_client().post(f"{own.start}publish", data=form, **lan)
    assert refused.status_code == 400
    assert "without encryption" in refused.text
    assert server.events() == {}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"at": "calendars"}, "That is no calendar&#39;s address"),
        ({"at": "https://ada:x7@calendars.invalid/"}, "The address holds a password"),
        ({"at": "http://calendars.invalid/"}, "would cross the network in clear"),
        ({"at": "https://calendars.invalid/", "user": ""}, "No user is named"),
        ({"at": "https://calendars.invalid/", "ca_file": "/no/such"}, "is no file of this"),
        ({"at": "https://calendars.invalid/", "most": "few"}, "is no whole number"),
    ],
)
@pytest.mark.usefixtures("server")
def test_what_cannot_be_is_said_at_once(phone: Phone, typed: dict[str, str], said: str) -> None:
    phone.look("publish")
    answer = phone.send(
        phone.form("Look first"), **{"user": USER, "password": PASSWORD, "do": "look"} | typed
    )
    assert answer.status_code == 400
    assert said in answer.text
    assert not TYPED.search(answer.text)
    assert "WINGREST" not in answer.text


def test_a_server_that_cannot_be_reached_is_said_in_plain_words(phone: Phone) -> None:
    page = sent(phone, "http://127.0.0.1:9/ada/", "look")
    assert "cannot be reached. Check the address and the network" in page
    assert not TYPED.search(page)


def test_kept_in_the_keyring_if_that_is_ticked(
    phone: Phone, server: Radicale, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Stands in for the optional package `keyring`: the functions used.
    kept: dict[tuple[str, str], str] = {}
    errors = types.ModuleType("keyring.errors")
    errors.KeyringError = type("KeyringError", (Exception,), {})  # type: ignore[attr-defined]
    package = types.ModuleType("keyring")
    package.get_keyring = lambda: types.SimpleNamespace(priority=5)  # type: ignore[attr-defined]
    package.get_password = lambda s, u: kept.get((s, u))  # type: ignore[attr-defined]
    package.set_password = lambda s, u, p: kept.update({(s, u): p})  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "keyring", package)
    monkeypatch.setitem(sys.modules, "keyring.errors", errors)
    monkeypatch.setattr("scheduler.feed.passwords.keyring_there", lambda: True)
    sent(phone, server.bench, "look", password="wrong-7f3a", keep="1")
    assert kept == {}
    sent(phone, server.bench, "look")
    assert kept == {}
    sent(phone, server.bench, "look", keep="1")
    assert kept == {("wingrest:127.0.0.1", USER): PASSWORD}
    assert "changes to make" in sent(phone, server.bench, "look", password="")


def test_again_and_again_until_it_is_stopped(phone: Phone, server: Radicale) -> None:
    phone.look("publish")
    phone.send(
        phone.form("Look first"),
        at=server.bench,
        user=USER,
        password=PASSWORD,
        do="send",
        every="15",
    )
    until = time.monotonic() + 30
    while "sent again by itself" not in phone.look("publish"):
        assert time.monotonic() < until
        time.sleep(0.05)
    assert "events created" in phone.page
    phone.send(phone.form("Stop"))
    assert "events created" in ended(phone)


def test_it_is_the_keepers_alone(desk: Desk) -> None:
    app = create_app(desk.store, rules(), clock=lambda: local(SATURDAY))
    with Store(desk.store) as store:
        link = make_link(store, "Ivo", "record", local(SATURDAY))
    other = Phone(app, link.bench)
    assert other.get("publish").status_code == 403
