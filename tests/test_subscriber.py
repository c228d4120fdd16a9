"""A phone subscribes for weeks: an event of each day names whatever `today` asks for.

The seasons are invented ones (`seasons/world.py`), played through the commands in worlds of
several kinds (`seasons/subscriber.py`); their bench is on Saturdays, and one is missed.
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "seasons"))

from phone import Event, Phone, changed, untrue
from subscriber import WORLDS, Subscriber

MOST_A_WEEK = 40
"""Events of a week, all kinds together, those that were withdrawn counted."""


def followed(world: str, folder: Path, days: int) -> Phone:
    """What a phone found in a season of a kind."""
    found = Subscriber(WORLDS[world], folder, days)
    found.play_with_phone()
    assert found.crashes == []
    return found.phone


def holds(found: Phone) -> None:
    """The calendar followed the day."""
    assert found.unnamed == [], "asked for by today, named by no event of the day"
    assert found.untrue == [], "titles that the answers of the same moment deny"
    assert found.rewritten == [], "what was past is said otherwise"
    assert found.most_a_week <= MOST_A_WEEK
    assert found.most_events < 200
    assert found.long_titles == 0


def test_a_phone_follows_ten_days_with_a_bench_missed(tmp_path: Path) -> None:
    found = followed("weekly dial", tmp_path, 10)
    assert found.titles > 0
    holds(found)


@pytest.mark.slow
@pytest.mark.parametrize("world", ["logger", "damp spell", "days off", "lost, amended, undone"])
def test_a_phone_follows_five_weeks(world: str, tmp_path: Path) -> None:
    found = followed(world, tmp_path, 36)
    # Somebody who is away for eleven days of the five weeks is asked for little in the others, and
    # where the dial was not read the day asks for that first.
    assert found.asked > (0 if world == "days off" else 7)
    assert found.held > 500
    holds(found)


# --- the phone itself notices -------------------------------------------------------------------

MON, TUE, WED = (date(2027, 5, day) for day in (3, 4, 5))
ASKED = Event("1", MON, "B3: test K-07, K-08", "- K-07\n- K-08")
NOT_DONE = Event("1", MON, "B3: due, not done: K-07, K-08", "- K-07\n- K-08")
TICKED = Event("1", MON, "✓ B3: 2 off", "Taken off on Mon 3 May: K-07, K-08.")


@pytest.mark.parametrize(
    ("was", "told", "why"),
    [
        (ASKED, NOT_DONE, ""),
        (NOT_DONE, TICKED, ""),
        (NOT_DONE, None, "gone"),
        (NOT_DONE, Event("1", WED, ASKED.title, ASKED.text), "moved"),
        (TICKED, NOT_DONE, "due, not done"),
        (NOT_DONE, Event("1", MON, "✓ B3: K-07 off", "Taken off on Mon 3 May: K-07."), "dropped"),
        (NOT_DONE, Event("1", MON, "B3: due, not done: K-07", NOT_DONE.text), "due, not done"),
        (NOT_DONE, Event("1", MON, "B4: due, not done: K-07, K-08", NOT_DONE.text), "another"),
    ],
)
def test_a_phone_notices_what_changes_of_the_past(was: Event, told: Event | None, why: str) -> None:
    found = changed(was, told, TUE if was is ASKED else WED)
    assert (why in found) if why else found == ""


@pytest.mark.parametrize(
    ("title", "why"),
    [
        ("B3: test K-07", "not yet"),
        ("B3: test K-08 - leave K-07", ""),
        ("✓ B3: K-07 off", "still stands"),
        ("Chamber: out K-09 by 14:00", "not in the chamber"),
        ("Chamber: in K-09 for Sat", "need not go in"),
        ("Still due: B3 2 d", "late by 1 d"),
        ("Bench 9:00, 60 min: test 2", "of 1"),
        ("Bench 9:00, 60 min: test 1, mount 1", "0 to mount"),
    ],
)
def test_a_phone_notices_an_untrue_title(title: str, why: str) -> None:
    stands = [
        {"specimen": "K-07", "answer": "not yet", "due": "2027-05-09"},
        {"specimen": "K-08", "answer": "test it now", "due": "2027-05-03"},
    ]
    ready = {"boards": [{"board": "B3", "specimens": stands}]}
    found = list(untrue(Event("1", TUE, title, ""), {"at": "2027-05-04T07:00"}, ready))
    assert any(why in said for said in found) if why else found == []
