"""A house without a dial: what comes off by time and by hand, and what is said (invented)."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, written

FILES = {
    "rooms": "room,rh_pct,temp_c\nstudy,50,20\n",
    "boards": "board,groove_mm,span_mm,length_mm,room\nB1,6,120,200,study\n",
    "sessions": "session,start,minutes\nSAT,2027-05-22T09:00,120\n",
    "specimens": "specimen,family,body_mm,wingspan_mm,state\nM-1,Noctuidae,4.5,40,fresh\n",
    "mounted": "specimen,board,from_mm,to_mm,mounted\nM-1,B1,0,40,2027-05-01T10:00\n",
}
EARLY, DUE, LATER = "2027-05-14T10:00", "2027-05-15T10:00", "2027-05-17T10:00"
"""A body of 4.5 mm at 20 °C and 50 %: 14 days to the first test."""


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    batch = written(tmp_path, FILES)
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", str(batch), now="2027-05-02T18:00")
    return desk


def test_when_it_is_due_it_is_tested_and_comes_off_stiff(desk: Desk) -> None:
    # S2 and S1 know no dial: they say how long, to touch, and never on a rainy day.
    assert "not yet" in desk("ready", "B1", now=EARLY).out
    asked = desk("ready", "B1", now=DUE)
    assert asked.status == 0
    assert "test it now" in asked.out
    assert "nobody ever read the air of study" in " ".join(asked.out.split())
    desk.did("test", "M-1", "stiff", now=DUE)
    said = " ".join(desk.did("ready", "B1", now=DUE).split())
    assert "B1: TAKE OFF" in said
    assert "tested stiff on 15 May" in said
    assert "only on a day that feels dry" in said


def test_what_was_felt_stiff_before_it_was_due_stays_until_it_is_stiff_again(desk: Desk) -> None:
    desk.did("test", "M-1", "stiff", now=EARLY)
    assert "felt stiff on 14 May, too early to come off" in " ".join(
        desk("ready", "B1", now=EARLY).out.split()
    )
    desk.did("test", "M-1", "stiff", now=DUE)
    assert "TAKE OFF" in desk.did("ready", "B1", now=DUE)


def test_a_soft_one_stays_and_is_tested_again_later(desk: Desk) -> None:
    desk.did("test", "M-1", "soft", now=DUE)
    assert desk("ready", "B1", now=LATER).status == 1
    assert "not yet" in desk("ready", "B1", now=LATER).out


def test_a_room_that_is_said_to_be_damp_still_forbids(desk: Desk) -> None:
    desk.did("amend", "study", "rh_pct=76", now=DUE)
    desk.did("test", "M-1", "stiff", now="2027-08-01T10:00")
    said = desk("ready", "B1", now="2027-08-01T10:05").out
    assert "dry, but not today" in said
    assert "76 % assumed, is above 75 %" in " ".join(said.split())


def test_a_room_that_is_said_to_be_a_little_damp_leaves_it_to_time_and_hand(desk: Desk) -> None:
    desk.did("amend", "study", "rh_pct=70", now=DUE)
    desk.did("test", "M-1", "stiff", now="2027-08-01T10:00")
    said = " ".join(desk.did("ready", "B1", now="2027-08-01T10:05").split())
    assert "B1: TAKE OFF" in said
    assert "only on a day that feels dry" in said


def test_a_dial_that_exists_is_asked_for_however_often_it_was_tested(desk: Desk) -> None:
    desk.did("air", "study", "50", now="2027-05-10T10:00")
    desk.did("test", "M-1", "stiff", now=DUE)
    desk.did("test", "M-1", "stiff", now="2027-06-01T10:00")
    asked = desk("ready", "B1", now="2027-06-01T10:05")
    assert asked.status == 1
    assert "look at a dial first" in " ".join(asked.out.split())
    desk.did("air", "study", "55", now="2027-06-01T10:10")
    assert "take off" in desk.did("ready", "B1", now="2027-06-01T10:11")


def test_today_asks_for_the_test_and_says_on_what_it_rests(desk: Desk) -> None:
    said = desk.did("today", now=DUE)
    assert "wingrest test B1 stiff" in said
    assert "Nobody ever read the air of study: take what is stiff there off only" in said
