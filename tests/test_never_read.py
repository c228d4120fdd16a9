"""A house without a dial: what comes off by time and by hand, and what is said (invented)."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk

FILES = {
    "rooms": "room,rh_pct,temp_c\nstudy,50,20\n",
    "boards": "board,groove_mm,span_mm,length_mm,room\nB1,6,120,200,study\n",
    "sessions": "session,start,minutes\nSAT,2027-05-22T09:00,120\n",
    "specimens": "specimen,family,body_mm,wingspan_mm,state\nM-1,Noctuidae,4.5,40,fresh\n",
    "mounted": "specimen,board,from_mm,to_mm,mounted\nM-1,B1,0,40,2027-05-01T10:00\n",
}
DUE, LATER, CLEAR = "2027-05-15T10:00", "2027-05-17T10:00", "2027-05-18T10:00"
"""A body of 4.5 mm at 20 °C and 50 %: 14 days to the first test, 17 to clear."""


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    batch = tmp_path / "batch"
    batch.mkdir()
    (batch / "settings.toml").write_text('timezone = "UTC"\n', encoding="utf-8")
    for name, text in FILES.items():
        (batch / f"{name}.csv").write_text(text, encoding="utf-8")
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", str(batch), now="2027-05-02T18:00")
    return desk


def test_from_its_clear_date_on_one_stiff_test_is_enough(desk: Desk) -> None:
    early = desk("ready", "B1", now=DUE)
    assert early.status == 1
    assert "look at a dial first" in " ".join(early.out.split())
    assert "or wait until 18 May" in " ".join(early.out.split())
    asked = desk("ready", "B1", now=CLEAR)
    assert asked.status == 0
    assert "test it now" in asked.out
    assert "nobody ever read the air of study" in " ".join(asked.out.split())
    desk.did("test", "M-1", "stiff", now=CLEAR)
    assert "take off" in desk.did("ready", "B1", now=CLEAR)


def test_two_stiff_tests_with_days_between_are_enough_before(desk: Desk) -> None:
    desk.did("test", "M-1", "stiff", now=DUE)
    once = desk("ready", "B1", now=LATER)
    assert once.status == 1
    assert "test again from 18 May" in " ".join(once.out.split())
    again = desk.did("ready", "B1", now=CLEAR)
    assert "test it now" in again
    desk.did("test", "M-1", "stiff", now=CLEAR)
    said = " ".join(desk.did("ready", "B1", now=CLEAR).split())
    assert "tested stiff on 15 May and 18 May" in said
    assert "only on a day that feels dry" in said


def test_a_soft_test_between_them_begins_anew(desk: Desk) -> None:
    desk.did("test", "M-1", "stiff", now=DUE)
    desk.did("test", "M-1", "soft", now=CLEAR)
    assert desk("ready", "B1", now=CLEAR).status == 1


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
    said = desk.did("today", now=CLEAR)
    assert "wingrest test B1 stiff" in said
    assert "Nobody ever read the air of study, so what stands there comes off later" in said
