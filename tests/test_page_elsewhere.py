"""Another board for a planned specimen: offered where it fits, kept, and the plan mended."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from bench_cases import WEDNESDAY, Desk, local, planned, rules, weekend
from page_cases import Phone, phones
from test_page_deeds import plan_made
from verb_cases import journal

from scheduler.looks.planning import refuse_faulty
from scheduler.looks.problem import build_problem
from scheduler.planner.problem import Planned
from scheduler.record.kept import kept_plan
from scheduler.record.store import Store
from scheduler.view import view_of


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    desk = weekend(tmp_path)
    desk.did("plan", "--effort", "quick", now=WEDNESDAY)
    return desk


@pytest.fixture
def phone(desk: Desk) -> Phone:
    return phones(desk, now=WEDNESDAY)[0]


def offered(page: str) -> list[str]:
    return re.findall(r'name="board" value="([^"]+)"', page)


def movable(desk: Desk, phone: Phone) -> Planned:
    """The first of the session that may stand on more than one board: the stoutest may not."""
    return next(
        p
        for p in planned(desk, "SAT-08")
        if len(offered(phone.look(f"elsewhere?specimen={p.specimen}&session=SAT-08"))) > 1
    )


def test_every_board_offered_takes_it_and_the_plan_is_mended_around_it(
    desk: Desk, phone: Phone
) -> None:
    lines = len(journal(desk))
    first = movable(desk, phone)
    boards = offered(phone.look(f"elsewhere?specimen={first.specimen}&session=SAT-08"))
    assert first.board in boards
    assert len(boards) > 1
    for board in boards:
        phone.look(f"elsewhere?specimen={first.specimen}&session=SAT-08")
        form = next(f for f in phone.forms() if ("board", board) in f.fields)
        assert phone.send(form).status_code == 303
        plan_made(phone)
        now = {p.specimen: p for p in planned(desk, "SAT-08")}[first.specimen]
        assert now.board == board
        with Store(desk.store) as store:
            kept = kept_plan(store)
            assert kept is not None
            problem = build_problem(view_of(store, rules(), local(WEDNESDAY)))
        refuse_faulty(problem, kept.plan)
        assert first.specimen in kept.pinned
    assert len(journal(desk)) == lines  # a plan is no fact


def test_it_stays_there_in_every_later_plan(desk: Desk, phone: Phone) -> None:
    first = movable(desk, phone)
    page = phone.look(f"elsewhere?specimen={first.specimen}")
    other = next(b for b in offered(page) if b != first.board)
    phone.send(next(f for f in phone.forms() if ("board", other) in f.fields))
    plan_made(phone)
    desk.did("plan", "--effort", "normal", now=WEDNESDAY)
    assert {p.specimen: p for p in planned(desk, "SAT-08")}[first.specimen].board == other


def test_a_board_that_does_not_take_it_is_refused_in_words(desk: Desk, phone: Phone) -> None:
    first = planned(desk, "SAT-08")[0]
    page = phone.look(f"elsewhere?specimen={first.specimen}")
    other = next(b for b in boards_of(desk) if b not in offered(page))
    phone.send(phone.forms()[0], board=other)
    assert f"finds no place on {other}" in plan_made(phone)
    assert {p.specimen: p for p in planned(desk, "SAT-08")}[first.specimen] == first


def boards_of(desk: Desk) -> list[str]:
    with Store(desk.store) as store:
        return sorted(store.facts().boards)


def test_the_sheet_leads_there_and_on_to_another_session(phone: Phone) -> None:
    sheet = phone.look("session?name=SAT-08")
    there = re.search(r'href="([^"]*elsewhere[^"]*)"', sheet)
    assert there is not None
    page = phone.look(there[1].replace("&amp;", "&"))
    assert "pin " in page
    assert "At another session" in page
    assert phone.get("elsewhere?specimen=nobody").status_code == 404
