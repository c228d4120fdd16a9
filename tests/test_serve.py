"""Serving a record: addresses that nobody can guess, safe pages, and one record for each tap."""

from __future__ import annotations

import logging
import os
import re
import signal
import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_cases import WEDNESDAY, Desk, local, rules, weekend
from flask import Blueprint, Flask, render_template_string, request
from flask.testing import FlaskClient
from itsdangerous import URLSafeSerializer
from serve_cases import ended, serving
from werkzeug.test import TestResponse

from scheduler import page
from scheduler.deeds.undo import undo
from scheduler.feed import calendars as bench_feed
from scheduler.feed.calendars import Calendars, calendars
from scheduler.page import create_app
from scheduler.page.safety import BODY_MOST
from scheduler.page.taps import Slip, tapped
from scheduler.page.tokens import Tokens, ensure_tokens, same
from scheduler.record.deed import When
from scheduler.record.journal import read_journal
from scheduler.record.store import Store
from scheduler.words.problems import BadInput

LATE_MAY = "2027-05-28T12:00"
NOON = local("2027-05-08T12:00")


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


# --- the command --------------------------------------------------------------------------


def test_serve_says_where_and_ends_cleanly(desk: Desk) -> None:
    with serving(desk.store) as running:
        port = running.address.rsplit(":", 1)[1]
        said = running.greeting
        assert f"  http://127.0.0.1:{port}/calendar/{running.calendar}/all.ics\n" in said
        assert f"  webcal://127.0.0.1:{port}/calendar/{running.calendar}/all.ics\n" in said
        assert "▀" in said
        assert max(len(line) for line in said.splitlines()) <= 80
        running.feed()
        out, err = ended(running.process, signal.SIGINT)
    assert running.process.returncode == 0
    assert out.endswith("Stopped.\n")
    assert "Traceback" not in err
    assert "warning" not in err


def test_the_request_log_has_no_token(desk: Desk) -> None:
    with serving(desk.store) as running:
        running.feed("room/study.ics")
        running.ask(f"/calendar/{running.calendar}x/all.ics")
        running.ask(f"/nowhere/{running.calendar}")
        _, err = ended(running.process)
    lines = err.splitlines()
    assert len(lines) == 3
    assert "GET /calendar/<token>/room/<path:room>.ics 200" in lines[0]
    assert "404" in lines[1]
    assert "GET (no such page) 404" in lines[2]
    assert running.calendar not in err


def test_the_network_is_let_in_with_a_warning(desk: Desk) -> None:
    with serving(desk.store, "--host", "0.0.0.0") as running:
        _, err = ended(running.process)
    assert "http without encryption" in err


def test_a_port_that_is_taken(desk: Desk) -> None:
    with serving(desk.store) as running:
        port = running.address.rsplit(":", 1)[1]
        run = desk("serve", "--port", port)
    assert run.status == 2
    assert f"port {port}" in run.err
    assert "--port" in run.err.splitlines()[-1]


def test_a_new_address_ends_the_old_one_even_while_it_is_served(desk: Desk) -> None:
    with serving(desk.store) as first:
        assert first.feed().status == 200
        with serving(desk.store, "--new-address") as second:
            assert second.calendar != first.calendar
            assert first.feed().status == 404
            assert first.ask(f"/calendar/{second.calendar}/all.ics").status == 200
            assert second.feed().status == 200


def test_the_address_stays_from_one_day_to_the_next(desk: Desk) -> None:
    with serving(desk.store) as first:
        pass
    with serving(desk.store) as second:
        assert second.calendar == first.calendar


# --- tokens -------------------------------------------------------------------------------


def test_tokens_have_128_bits_and_more_and_differ(desk: Desk) -> None:
    with Store(desk.store) as store:
        made = [ensure_tokens(store, anew=True) for _ in range(50)]
    every = {t for pair in made for t in (pair.calendar, pair.bench)}
    assert len(every) == 100
    assert all(re.fullmatch(r"[\w-]{22,}", t) for t in every)


def test_tokens_are_no_fact(desk: Desk) -> None:
    with Store(desk.store) as store:
        before, image = read_journal(store), store.image()
        ensure_tokens(store, anew=True)
        assert (read_journal(store), store.image()) == (before, image)


@pytest.mark.parametrize("given", ["", "a", "secret ", "SECRET", "sécret", "\udc80", "secret\x00"])
def test_only_the_same_token_is_the_same(given: str) -> None:
    assert not same(given, "secret")
    assert same("secret", "secret")


# --- pages --------------------------------------------------------------------------------


class Web:
    """An app of the record and its addresses, asked without a network."""

    def __init__(self, store: Path) -> None:
        self.path = store
        self.app = create_app(store, rules(), clock=lambda: NOON)
        self.client = self.app.test_client()
        with Store(store) as opened:
            self.tokens: Tokens = ensure_tokens(opened)

    def subscribe(self) -> str:
        return self.client.get(f"/calendar/{self.tokens.calendar}/").text


@pytest.fixture
def web(desk: Desk) -> Web:
    return Web(desk.store)


def test_the_page_says_which_switch_to_turn(web: Web) -> None:
    said = web.subscribe()
    for words in ("Remove Alerts", "ICSx5", "Keeps the alarms", "Drops the alarms", "webcal://"):
        assert words in said
    for kind in ("all", "releases", "chamber-and-sessions", "bench-days", "room/study"):
        assert f"/calendar/{web.tokens.calendar}/{kind}.ics" in said
    assert web.tokens.bench not in said


def test_every_address_on_the_page_works(web: Web) -> None:
    links = set(re.findall(r'href="(http://[^"]+|/[^"]+)"', web.subscribe()))
    links |= {f"http://{rest}" for rest in re.findall(r'href="webcal://([^"]+)"', web.subscribe())}
    assert len(links) >= 8
    for link in links:
        with web.client.get(link) as answer:
            assert (answer.status_code, bool(answer.data)) == (200, True)


def test_the_page_loads_nothing_from_elsewhere_and_runs_nothing(web: Web) -> None:
    said = web.subscribe()
    assert not re.search(r"<script|\son\w+=|\sstyle=", said)
    assert set(re.findall(r'(?:src|href)="([^"/]*//[^"/]*)', said)) <= {
        "http://localhost",
        "webcal://localhost",
    }


@pytest.mark.parametrize("path", ["subscribe", "all.ics", "wrong token", "static", "nowhere"])
def test_every_answer_is_safe(web: Web, path: str) -> None:
    base = f"/calendar/{web.tokens.calendar}/"
    paths = {"subscribe": base, "all.ics": f"{base}all.ics", "static": "/look/board.css"}
    with web.client.get(paths.get(path, f"/calendar/{path}/")) as answer:
        assert answer.data
    policy = answer.headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "Set-Cookie" not in answer.headers


def test_a_room_named_like_a_script_is_text(desk: Desk) -> None:
    name = "<script>alert(1)</script>"
    with Store(desk.store) as store, store.deed(When(NOON, NOON), "load", "rooms") as deed:
        deed.insert("room", {"room": name, "regime": "room"})
    web = Web(desk.store)
    said = web.subscribe()
    assert "<script" not in said
    assert "&lt;script&gt;" in said
    link = re.search(r'href="webcal(://localhost/calendar/[^"]+script[^"]+)"', said)
    assert link
    assert web.client.get(f"http{link[1]}").status_code == 200


def test_a_fault_shows_no_trace(web: Web, caplog: pytest.LogCaptureFixture) -> None:
    @web.app.get("/broken")
    def broken() -> str:
        raise RuntimeError("the secret is 42")

    answer = web.client.get("/broken")
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
    assert "the secret is 42" in caplog.text


def test_a_record_that_cannot_be_read_is_busy_not_broken(web: Web) -> None:
    path = f"/calendar/{web.tokens.calendar}/all.ics"
    assert web.client.get(path).status_code == 200
    kept = web.path.with_name("away")
    web.path.rename(kept)
    answer = web.client.get(path)
    assert answer.status_code == 503
    assert answer.headers["Retry-After"]
    assert str(web.path) not in answer.text
    assert not web.path.exists()
    kept.rename(web.path)
    assert web.client.get(path).status_code == 200


def test_a_record_put_back_in_its_place_is_noticed(web: Web, tmp_path: Path) -> None:
    path = f"/calendar/{web.tokens.calendar}/all.ics"
    before = web.client.get(path)
    other = tmp_path / "other.sqlite"
    with sqlite3.connect(web.path) as old, sqlite3.connect(other) as new:
        old.backup(new)
    old.close()
    new.close()
    Desk(other).did("release", "B5", now=LATE_MAY)
    for ending in ("-wal", "-shm"):
        Path(f"{web.path}{ending}").unlink(missing_ok=True)
    os.replace(other, web.path)
    after = web.client.get(path)
    assert after.data != before.data
    assert after.headers["Last-Modified"] != before.headers["Last-Modified"]


def test_polls_while_the_record_is_held_are_answered(web: Web) -> None:
    path = f"/calendar/{web.tokens.calendar}/all.ics"
    before = web.client.get(path)
    with Store(web.path) as store, store.transaction():
        assert web.client.get(path).data == before.data


def test_many_phones_at_once_read_the_same(web: Web) -> None:
    path = f"/calendar/{web.tokens.calendar}/all.ics"
    found: list[bytes] = []
    phones = [
        threading.Thread(target=lambda: found.append(web.app.test_client().get(path).data))
        for _ in range(16)
    ]
    for phone in phones:
        phone.start()
    for phone in phones:
        phone.join()
    assert len(found) == 16
    assert len(set(found)) == 1


# --- the ledger ---------------------------------------------------------------------------


def test_publishing_what_is_unchanged_waits_for_nobody(desk: Desk) -> None:
    with Store(desk.store) as store:
        before = calendars(store, rules(), local(WEDNESDAY))
        with Store(desk.store) as other, other.transaction():
            assert calendars(store, rules(), local(WEDNESDAY)) == before


def test_two_who_publish_at_once_tell_phones_the_later_state(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = desk.store.parent / "all.ics"
    made = bench_feed._calendars

    def overtaken(*read: Any) -> Calendars:
        monkeypatch.setattr(bench_feed, "_calendars", made)
        desk.did("release", "B5", now=LATE_MAY)
        desk.did("feed", "-o", file, now=LATE_MAY)
        return made(*read)

    monkeypatch.setattr(bench_feed, "_calendars", overtaken)
    with Store(desk.store) as store:
        told = bench_feed.record_calendar(store, rules(), local(LATE_MAY))
    assert told == file.read_bytes()
    desk.did("feed", "-o", file, now=LATE_MAY)
    assert told == file.read_bytes()


# --- taps ---------------------------------------------------------------------------------
# A page of the bench as its author would write one: what it shows was made from one line, and
# each form records one thing.

FORM = '<form method="post">{{ slip(line) }}</form>'


def bench_page() -> Blueprint:
    pages = Blueprint("bench", __name__)

    @pages.get("/")
    def show() -> str:
        with Store(page.web().store_path) as store:
            return render_template_string(FORM, line=store.latest_line())

    @pages.post("/")
    def record() -> tuple[str, int]:
        try:
            with page.tap() as store:
                said = note_test(store, request.form["specimen"], request.form["verdict"])
        except page.AlreadyRecorded as done:
            return str(done), 200
        return said, 201

    @pages.post("/undo")
    def take_back() -> str:
        with page.tap() as store:
            return undo(store, rules(), None, When(NOON, NOON)).done[0]

    return pages


def note_test(store: Store, specimen: str, verdict: str) -> str:
    """Record a dryness test of what stands."""
    with store.deed(When(NOON, NOON), "test", f"{specimen} {verdict}") as deed:
        standing = {p.specimen: p for p in store.snapshot().standing()}
        if specimen not in standing:
            raise BadInput(f"{specimen} stands on no board. Look where it is")
        at = "2027-05-08T10:00:00Z"
        number = standing[specimen].id
        deed.insert("dryness_test", {"placement": number, "tested_at": at, "verdict": verdict})
    return "recorded"


Form = dict[str, str]


class Bench(Web):
    """The bench page of a record, in the hands of somebody with the address."""

    def form(self, specimen: str = "M-09", verdict: str = "soft") -> Form:
        shown = self.client.get(f"/bench/{self.tokens.bench}/").text
        slip = dict(re.findall(r'name="(\w+)" value="([^"]*)"', shown))
        return {**slip, "specimen": specimen, "verdict": verdict}

    def send(
        self,
        form: Form,
        path: str = "",
        headers: Form | None = None,
        client: FlaskClient | None = None,
    ) -> TestResponse:
        url = f"/bench/{self.tokens.bench}/{path}"
        return (client or self.client).post(url, data=form, headers=headers)

    def tests(self) -> list[str]:
        with Store(self.path) as store:
            return [t.verdict for t in store.snapshot().tests]


@pytest.fixture
def bench(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> Bench:
    class Module:
        blueprint = bench_page()

    monkeypatch.setattr(page, "BENCH_PAGES", ("a page",))
    monkeypatch.setattr(page, "import_module", lambda _: Module)
    return Bench(desk.store)


def test_one_tap_one_record(bench: Bench) -> None:
    assert bench.send(bench.form()).status_code == 201
    assert bench.tests() == ["soft"]


def test_a_repeated_tap_is_one_record_and_says_which(bench: Bench) -> None:
    form = bench.form()
    bench.send(form)
    again = bench.send(form)
    assert again.status_code == 200
    assert "recorded already, as line" in again.text
    assert "M-09 soft" in again.text
    assert bench.tests() == ["soft"]


def test_a_tap_repeated_sixteen_times_at_once_is_one_record(bench: Bench) -> None:
    form, found = bench.form(), []
    taps = [
        threading.Thread(
            target=lambda: found.append(bench.send(form, client=bench.app.test_client()))
        )
        for _ in range(16)
    ]
    for one in taps:
        one.start()
    for one in taps:
        one.join()
    assert sorted(a.status_code for a in found) == [200] * 15 + [201]
    assert bench.tests() == ["soft"]


def test_the_same_tap_between_looking_and_writing(bench: Bench) -> None:
    form = bench.form()
    slip = Slip(*URLSafeSerializer(bench.tokens.bench, "slip").loads(form["slip"]))

    def overtaken_by_itself() -> None:
        with tapped(bench.path, slip) as store:
            bench.send(form)
            note_test(store, "M-09", "soft")

    with pytest.raises(page.AlreadyRecorded, match="M-09 soft"):
        overtaken_by_itself()
    assert bench.tests() == ["soft"]


def test_the_second_phone_is_told_what_the_first_recorded(bench: Bench) -> None:
    mine, hers = bench.form(verdict="stiff"), bench.form(verdict="soft")
    bench.send(hers)
    answer = bench.send(mine)
    assert answer.status_code == 409
    assert "M-09 soft" in answer.text
    assert "not recorded" in answer.text
    assert bench.tests() == ["soft"]


def test_two_phones_on_two_specimens_both_record(bench: Bench) -> None:
    mine, hers = bench.form("M-09"), bench.form("M-05")
    assert [bench.send(f).status_code for f in (hers, mine)] == [201, 201]
    assert bench.tests() == ["soft", "soft"]


def test_what_another_phone_took_off_is_said_not_just_refused(bench: Bench, desk: Desk) -> None:
    form = bench.form("M-01")
    desk.did("release", "B5", now=LATE_MAY)
    answer = bench.send(form)
    assert answer.status_code == 409
    assert "stands on no board" in answer.text
    assert "M-01 and M-02" in answer.text


def test_what_is_wrong_from_the_start_is_said_as_it_is(bench: Bench) -> None:
    answer = bench.send(bench.form("M-99"))
    assert answer.status_code == 400
    assert "M-99 stands on no board" in answer.text
    assert "since this page" not in answer.text


def test_a_refused_tap_can_be_sent_again_and_is_no_repeat(bench: Bench) -> None:
    form = bench.form("M-99")
    bench.send(form)
    assert bench.send({**form, "specimen": "M-09"}).status_code == 201


def test_undo_is_one_tap_too(bench: Bench) -> None:
    bench.send(bench.form())
    form = bench.form()
    assert bench.send(form, "undo").status_code == 200
    assert bench.tests() == []
    assert bench.send(form, "undo").status_code == 409
    assert bench.tests() == []


@pytest.mark.parametrize(
    "change",
    [
        lambda _: "",
        lambda _: "é",
        lambda slip: "." + slip,
        lambda slip: "WyJvbmNlIiwgMF0" + slip[slip.rindex(".") :],
        lambda slip: slip[:-4] + ("BBBB" if slip.endswith("AAAA") else "AAAA"),
        lambda _: URLSafeSerializer("another token", "slip").dumps(["once", 0]),
    ],
    ids=["none", "no slip", "moved", "another line", "another proof", "another house"],
)
def test_a_forged_slip_is_refused(bench: Bench, change: Callable[[str], str]) -> None:
    form = bench.form()
    assert bench.send({**form, "slip": change(form["slip"])}).status_code == 403
    assert bench.tests() == []


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "http://localhost:81", "Sec-Fetch-Site": "same-origin"},
    ],
)
def test_a_form_on_another_site_is_refused(bench: Bench, headers: Form) -> None:
    assert bench.send(bench.form(), headers=headers).status_code == 403
    assert bench.tests() == []


@pytest.mark.parametrize(
    "headers",
    [{"Origin": "http://localhost"}, {"Origin": "null", "Sec-Fetch-Site": "same-origin"}],
)
def test_what_browsers_send_from_our_own_page_is_taken(bench: Bench, headers: Form) -> None:
    assert bench.send(bench.form(), headers=headers).status_code == 201


def test_a_slip_ends_with_its_address(bench: Bench) -> None:
    form = bench.form()
    with Store(bench.path) as store:
        bench.tokens = ensure_tokens(store, anew=True)
    assert bench.send(form).status_code == 403


def test_the_calendar_token_does_not_open_the_bench(bench: Bench) -> None:
    assert bench.client.get(f"/bench/{bench.tokens.calendar}/").status_code == 404
    assert bench.client.get(f"/calendar/{bench.tokens.bench}/all.ics").status_code == 404


def test_a_form_that_is_too_large_is_not_read(bench: Bench) -> None:
    form = {**bench.form(), "specimen": "x" * (BODY_MOST + 1)}
    assert bench.send(form).status_code == 413


def test_the_app_keeps_quiet_unless_asked(web: Web, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING, "wingrest"):
        web.subscribe()
    assert caplog.records == []
    assert isinstance(web.app, Flask)
