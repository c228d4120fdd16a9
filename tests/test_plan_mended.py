"""What changes the plan mends it at once: nobody reads a plan that is older than the record."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from bench_cases import Desk

from scheduler.record.kept import kept_plan
from scheduler.record.store import Store

SAMPLES = Path(__file__).parents[1] / "sample_batches"
NOW = "2027-05-05T18:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A first weekend with its plan."""
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", SAMPLES / "first_weekend", now=NOW)
    desk.did("plan", now=NOW)
    return desk


DEEDS = {
    "add": "add owlet --count 2 --fresh --wingspan 30 --as Z",
    "amend a session": "amend SUN-09 minutes=60",
    "amend a body": "amend K-02 body_mm=7",
    "move": "move B4 cabinet",
    "a new board": "board B13 --groove 4 --span 90 --length 350 --room study",
}


def worries(desk: Desk) -> list[str]:
    day = json.loads(desk.did("today", "--format", "json", now=NOW))
    return [worry["kind"] for worry in day["worries"]]


def planned(desk: Desk) -> str:
    """The sessions as the kept plan has them."""
    desk.did("feed", "-o", desk.store.parent / "f.ics", now=NOW)
    text = (desk.store.parent / "f.ics").read_text("utf-8").replace("\r\n ", "").splitlines()
    return "\n".join(line for line in text if line.startswith(("SUMMARY", "DESCRIPTION")))


@pytest.mark.parametrize("words", DEEDS.values(), ids=DEEDS)
def test_the_plan_answers_the_record_after_a_deed_and_after_taking_it_back(
    desk: Desk, words: str
) -> None:
    desk.did(*words.split(" "), now=NOW)
    assert "plan" not in worries(desk)
    taken = desk.did("undo", now=NOW)
    assert taken.startswith("took back line")
    assert "plan" not in worries(desk)


@pytest.mark.parametrize("words", DEEDS.values(), ids=DEEDS)
def test_what_was_taken_back_leaves_the_plan_as_it_was(desk: Desk, words: str) -> None:
    """Taken back in turn, it is as the deed had left it."""
    before = spots(desk)
    desk.did(*words.split(" "), now=NOW)
    after = spots(desk)
    desk.did("undo", now="2027-05-05T18:20")
    assert spots(desk) == before
    desk.did("undo", str(latest_line(desk)), now="2027-05-05T18:25")
    assert spots(desk) == after


def test_what_was_proven_before_is_proven_again(desk: Desk) -> None:
    with Store(desk.store) as store:
        proven = kept_plan(store)
    said = desk.did("amend", "SUN-09", "minutes=15", now=NOW)
    assert "moved" in said
    assert "The plan is as it was before: " in desk.did("undo", now=NOW)
    with Store(desk.store) as store:
        again = kept_plan(store)
    assert proven
    assert again
    assert again.plan == proven.plan
    assert again.rests_on == proven.rests_on != ""


def spots(desk: Desk) -> list[tuple[str, str, str, int]]:
    with Store(desk.store) as store:
        kept = kept_plan(store)
    assert kept is not None
    return [(p.specimen, p.session, p.board, p.from_mm) for p in kept.placements]


def latest_line(desk: Desk) -> int:
    with Store(desk.store) as store:
        return store.latest_line()


def test_whom_a_shorter_session_sends_away_is_said_and_no_longer_in_the_calendar(
    desk: Desk,
) -> None:
    said = desk.did("amend", "SUN-09", "minutes=15", now=NOW)
    assert "The plan was mended: " in said
    assert "Bench 14:00\\, 15 min" in planned(desk)
    back = desk.did("undo", now=NOW)
    assert "The plan is as it was before: " in back
    assert re.search(r"Bench 14:00\\, 150 min: .*mount", planned(desk)), planned(desk)


def test_starting_over_leaves_where_it_is_what_somebody_decided(desk: Desk) -> None:
    decided = spots(desk)[-1]
    desk.did("plan", "--keep", decided[0], now=NOW)
    desk.did("plan", "--anew", "--effort", "quick", now=NOW)
    assert decided in spots(desk)
    with Store(desk.store) as store:
        kept = kept_plan(store)
    assert kept is not None
    assert kept.pinned == {decided[0]}
