"""The keeper's page for going back: snapshots, a record taken in, where copies go, own rules."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest
from bench_cases import Desk, local, rules, weekend
from flask import Flask
from page_cases import SATURDAY, Phone, forms_of
from verb_cases import image, journal
from werkzeug.test import TestResponse

from scheduler.page import create_app
from scheduler.page.links import make_link
from scheduler.page.tokens import ensure_tokens
from scheduler.record.snapshots import Snapshots
from scheduler.record.store import Store

NOW = local(SATURDAY)
RULES = Path(__file__).parent.parent / "rules"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def served(store: Path) -> tuple[Flask, str]:
    with Store(store) as opened:
        bench = ensure_tokens(opened).bench
    return create_app(store, rules(), clock=lambda: NOW), f"/bench/{bench}/"


def sent(app: Flask, start: str, words: str, **files: object) -> TestResponse:
    """Send a form of the page with files in it."""
    client = app.test_client()
    form = next(f for f in forms_of(client.get(f"{start}back").text) if f.words.startswith(words))
    data = {n: v for n, v in form.fields if n not in files} | files
    return client.post(form.action, data=data, content_type="multipart/form-data")


def test_going_back_asks_first_and_puts_aside_what_was_there(desk: Desk) -> None:
    app, start = served(desk.store)
    phone = Phone(app, start.split("/")[2])
    phone.look("record")
    phone.tap("Take a snapshot now")
    before, lines = image(desk), len(journal(desk))
    phone.look("")
    phone.tap("Took off M-06")
    assert image(desk) != before
    phone.look("back")
    asked = phone.send(phone.form(f"Go back to line {lines}"))
    assert "put aside under another name" in asked.text
    assert len(journal(desk)) == lines + 1
    phone.page = asked.text
    done = phone.send(next(f for f in phone.forms() if ("sure", "1") in f.fields))
    assert f"The record is back, up to line {lines}" in done.text
    assert image(desk) == before
    aside = [p for p in desk.store.parent.glob("record*.sqlite*") if p != desk.store]
    assert len([p for p in aside if p.suffix == ".sqlite"]) == 1
    # The same address goes on.
    assert "Took off" in phone.look("")


def test_a_record_taken_along_goes_into_an_empty_one_and_into_no_other(
    desk: Desk, tmp_path: Path
) -> None:
    app, start = served(desk.store)
    whole = app.test_client().get(f"{start}record.zip").data
    new = tmp_path / "new.sqlite"
    fresh, there = served(new)
    done = sent(fresh, there, "Take it in", file=(io.BytesIO(whole), "record.zip"))
    assert "The record is back" in done.text
    assert image(Desk(new)) == image(desk)
    assert fresh.test_client().get(there).status_code == 200  # its own address stays
    page = fresh.test_client().get(f"{there}back").text
    assert "this one holds something already" in page
    assert not [f for f in forms_of(page) if f.words.startswith("Take it in")]


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("record.zip", b"PK", "no snapshot"),
        ("note.txt", b"hello", "no snapshot"),
        ("", b"", "no file was chosen"),
    ],
)
def test_what_is_no_record_leaves_the_empty_one_empty(
    tmp_path: Path, name: str, data: bytes, told: str
) -> None:
    app, start = served(tmp_path / "new.sqlite")
    answer = sent(app, start, "Take it in", file=(io.BytesIO(data), name))
    assert answer.status_code == 409
    assert told in answer.text.replace("No file", "no file")
    assert journal(Desk(tmp_path / "new.sqlite")) == ()


def test_a_packed_name_that_leads_elsewhere_is_not_followed(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as into:
        into.writestr("../../stray.csv", "a,b\n")
        into.writestr("readme.txt", "nothing")
    app, start = served(tmp_path / "new.sqlite")
    packed.seek(0)
    answer = sent(app, start, "Take it in", file=(packed, "record.zip"))
    assert answer.status_code == 409
    assert "no export of a record" in answer.text
    assert not list(tmp_path.rglob("stray.csv"))


def test_snapshots_go_where_the_keeper_says(desk: Desk, tmp_path: Path) -> None:
    app, start = served(desk.store)
    phone = Phone(app, start.split("/")[2])
    (tmp_path / "second disk").mkdir()
    phone.look("back")
    phone.tap("Put them there from now on", folder=str(tmp_path / "second disk"))
    assert Snapshots(desk.store).folder() == (tmp_path / "second disk").resolve()
    refused = phone.send(phone.form("Put them there from now on"), folder=str(tmp_path / "none"))
    assert refused.status_code == 400
    assert "is no folder of this computer" in refused.text
    phone.tap("Put them there from now on", folder="")
    assert Snapshots(desk.store).folder() == Snapshots(desk.store).home


def test_own_rules_are_checked_with_the_shipped_ones_and_only_checked(desk: Desk) -> None:
    app, start = served(desk.store)
    sound = (RULES / "pins.csv").read_bytes()
    answer = sent(app, start, "Check them", files=(io.BytesIO(sound), "pins.csv"))
    assert "No faults." in answer.text
    broken = sound.replace(sound.splitlines()[1].split(b",")[0], b"", 1)
    answer = sent(app, start, "Check them", files=(io.BytesIO(broken), "pins.csv"))
    assert "to mend:" in answer.text
    answer = sent(app, start, "Check them", files=(io.BytesIO(b"a\n"), "mine.csv"))
    assert "no rule table has this name" in answer.text


def test_who_has_a_link_of_their_own_brings_nothing_back(desk: Desk) -> None:
    with Store(desk.store) as store:
        ivo = make_link(store, "Ivo", "record", NOW)
    app, start = served(desk.store)
    keeper, his = Phone(app, start.split("/")[2]), Phone(app, ivo.bench)
    assert his.get("back").status_code == 403
    keeper.look("back")
    before = image(desk)
    for form in keeper.forms():
        form.action = form.action.replace(keeper.start, his.start)
        assert his.send(form).status_code == 403
    assert image(desk) == before
