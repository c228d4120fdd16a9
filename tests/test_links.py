"""A link of its own for each person and device: it records under its name, or only reads."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench_cases import Desk, local, rules, weekend
from flask import Flask
from page_cases import SATURDAY, Phone
from verb_cases import image, journal

from scheduler.page import create_app
from scheduler.page.links import Link, May, end_link, make_link, read_links
from scheduler.page.tokens import ensure_tokens
from scheduler.record.store import Store

NOW = local(SATURDAY)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.fixture
def app(desk: Desk) -> Flask:
    return create_app(desk.store, rules(), clock=lambda: NOW)


def linked(desk: Desk, name: str, may: May = "record") -> Link:
    with Store(desk.store) as store:
        return make_link(store, name, may, NOW)


def test_the_journal_takes_the_name_from_the_link_whatever_the_form_says(
    desk: Desk, app: Flask
) -> None:
    phone = Phone(app, linked(desk, "Ivo (invented)").bench)
    phone.look()
    phone.tap("Took off M-06", who="Somebody Else (invented)")
    assert journal(desk)[-1].who == "Ivo (invented)"
    assert "Your name" not in phone.look()


def test_who_only_reads_sees_everything_and_is_offered_nothing(desk: Desk, app: Flask) -> None:
    phone = Phone(app, linked(desk, "Visitor (invented)", "read").bench)
    for place in ("", "boards", "weeks", "board?name=B10", "journal"):
        assert "B10" in phone.look(place) or place == "journal"
        assert phone.forms() == []
    before = image(desk)
    with Store(desk.store) as store:
        other = Phone(app, ensure_tokens(store).bench)
    other.look()
    taken = other.form("Took off M-06")
    taken.action = f"{phone.start}release"
    answer = phone.send(taken)
    assert (answer.status_code, "can read but not record" in answer.text) == (403, True)
    assert image(desk) == before


def test_one_link_ends_and_the_others_go_on(desk: Desk, app: Flask) -> None:
    ivo, wren = linked(desk, "Ivo (invented)"), linked(desk, "Wren (invented)")
    phone = Phone(app, wren.bench)
    phone.look()
    shown = phone.form("Took off M-06")
    with Store(desk.store) as store:
        end_link(store, "wren (INVENTED)", NOW)
    asked = app.test_client()
    gone = asked.get(f"/bench/{wren.bench}/")
    assert gone.status_code == 410
    assert "this link has ended" in gone.text
    assert "another" in gone.text
    assert asked.get(f"/calendar/{wren.calendar}/all.ics").status_code == 410
    lines = journal(desk)
    assert phone.send(shown).status_code == 410
    assert journal(desk) == lines
    assert asked.get(f"/bench/{ivo.bench}/").status_code == 200
    assert asked.get(f"/calendar/{ivo.calendar}/all.ics").status_code == 200


def test_a_slip_of_one_link_is_no_slip_of_another(desk: Desk, app: Flask) -> None:
    ivo, wren = (Phone(app, linked(desk, name).bench) for name in ("Ivo", "Wren"))
    ivo.look()
    taken = ivo.form("Took off M-06")
    taken.action = f"{wren.start}release"
    assert wren.send(taken).status_code == 403


def test_an_address_that_is_no_link_says_whom_to_ask(app: Flask) -> None:
    for path in ("/bench/nobody/", "/calendar/nobody/all.ics"):
        answer = app.test_client().get(path)
        assert answer.status_code == 404
        assert "Ask whoever keeps the record" in answer.text


def test_when_a_link_was_last_used_is_listed(desk: Desk, app: Flask) -> None:
    ivo = linked(desk, "Ivo (invented)")
    linked(desk, "Tablet (invented)", "read")
    asked = app.test_client()
    asked.get(f"/bench/{ivo.bench}/")
    asked.get(f"/calendar/{ivo.calendar}/all.ics")
    later = "2027-05-08T09:00"
    told = desk("link", now=later).out
    assert "bench 20 minutes ago, calendar 20 minutes ago" in told
    assert "not used yet" in told
    desk.did("link", "Ivo (invented)", "--end", now=later)
    found = json.loads(desk("link", "--format", "json", now=later).out)["links"]
    assert [(one["name"], one["may"], one["ended"] is None) for one in found] == [
        ("Ivo (invented)", "record", False),
        ("Tablet (invented)", "read", True),
    ]


def test_the_command_shows_a_link_again_and_makes_no_second(desk: Desk) -> None:
    first = desk("link", "Ivo", now=SATURDAY).out
    assert desk("link", "ivo", now=SATURDAY).out == first
    refused = desk("link", "Ivo", "--read", now=SATURDAY)
    assert (refused.status, "has a link already" in refused.err) == (3, True)
    assert desk("link", " ", now=SATURDAY).status == 2
    assert desk("link", "Nobody", "--end", now=SATURDAY).status == 3
    with Store(desk.store) as store:
        assert len(read_links(store.db)) == 1


def test_links_are_no_fact_and_end_for_good_when_a_snapshot_comes_back(
    desk: Desk, tmp_path: Path
) -> None:
    lines, before = journal(desk), image(desk)
    ivo = linked(desk, "Ivo (invented)")
    assert (journal(desk), image(desk)) == (lines, before)
    desk.did("backup", tmp_path / "kept.sqlite", now=SATURDAY)
    with Store(desk.store) as store:
        end_link(store, ivo.name, NOW)
    linked(desk, "Wren (invented)")
    desk.did("restore", tmp_path / "kept.sqlite", "--over", now=SATURDAY)
    with Store(desk.store) as store:
        assert [(one.name, one.ended is None) for one in read_links(store.db)] == [
            ("Ivo (invented)", False),
            ("Wren (invented)", True),
        ]
    desk.did("export", tmp_path / "out", now=SATURDAY)
    every = "".join(p.read_text(encoding="utf-8") for p in (tmp_path / "out").iterdir())
    assert ivo.bench not in every


# --- taking back ----------------------------------------------------------------------------


def test_undo_takes_ones_own_line_and_leaves_the_others(desk: Desk) -> None:
    desk.did("--who", "Ivo", "air", "study", "54", now=SATURDAY)
    desk.did("--who", "Wren", "release", "M-06", now=SATURDAY)
    run = desk("--who", "Ivo", "undo", now=SATURDAY)
    assert "54" in run.out
    nothing = desk("--who", "Ivo", "undo", now=SATURDAY)
    assert nothing.status == 3
    assert "nothing that Ivo recorded stands" in " ".join(nothing.err.split())


def test_what_another_recorded_is_asked_about_first(desk: Desk) -> None:
    desk.did("--who", "Wren", "release", "M-06", now=SATURDAY)
    line, before = journal(desk)[-1].line, image(desk)
    asked = desk("--who", "Ivo", "undo", str(line), now=SATURDAY)
    assert asked.status == 3
    assert "recorded by Wren" in asked.err
    assert image(desk) == before
    desk.did("--who", "Ivo", "undo", str(line), "--yes", now=SATURDAY)
    assert image(desk) != before


def test_a_load_says_what_would_go_before_it_goes(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    from bench_cases import FIRST_WEEKEND

    desk.did("load", FIRST_WEEKEND, now=SATURDAY)
    asked = desk("undo", "1", now=SATURDAY)
    assert asked.status == 3
    said = " ".join(asked.err.split())
    assert "12 boards" in said
    assert "specimens" in said
    assert "undo 1 --yes" in said
    desk.did("undo", "1", "--yes", now=SATURDAY)


def test_the_page_asks_once_more_and_then_does_it(desk: Desk, app: Flask) -> None:
    wren = Phone(app, linked(desk, "Wren").bench)
    wren.look()
    wren.tap("Took off M-06")
    line, before = journal(desk)[-1].line, image(desk)
    ivo = Phone(app, linked(desk, "Ivo").bench)
    ivo.look("journal")
    asked = ivo.send(ivo.form(f"Undo line {line}"))
    assert asked.status_code == 409
    assert "recorded by Wren" in asked.text
    assert image(desk) == before
    ivo.page = asked.text
    assert "took back line" in ivo.tap("Take it back")
    assert journal(desk)[-1].who == "Ivo"
