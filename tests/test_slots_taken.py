"""A session whose slots stay taken, because the air turned damp after it was planned (invented)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from bench_cases import Desk, written

FILES = {
    "rooms": "room,rh_pct,temp_c\nstudy,50,20\nloft,50,20\n",
    "boards": "board,groove_mm,span_mm,length_mm,room\nB1,6,120,40,study\nB2,6,120,40,loft\n",
    "sessions": "session,start,minutes\nSAT,2027-05-22T09:00,120\n",
    "specimens": "specimen,family,body_mm,wingspan_mm,state\n"
    "M-1,Noctuidae,4.5,40,fresh\nM-2,Noctuidae,4.5,40,frozen\nM-3,Noctuidae,4.5,40,frozen\n",
    "mounted": "specimen,board,from_mm,to_mm,mounted\nM-1,B1,0,40,2027-05-01T10:00\n",
}
BEFORE, START, AFTER = "2027-05-21T08:00", "2027-05-22T09:00", "2027-05-22T11:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """M-1 is due before SAT; M-2 and M-3 are planned for SAT, one of them on its slot."""
    batch = written(tmp_path, FILES)
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", str(batch), now="2027-05-19T18:00")
    desk.did("air", "study", "50", "20", now="2027-05-19T18:01")
    desk.did("air", "loft", "50", "20", now="2027-05-19T18:01")
    desk.did("plan", now="2027-05-19T18:02")
    desk.did("relax", "M-2", "M-3", now=BEFORE)
    return desk


def session(desk: Desk) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(desk.did("today", "--format", "json", now=START))["session"]
    return found


def test_in_dry_air_both_are_mounted(desk: Desk) -> None:
    desk.did("air", "study", "52", "20", now=START)
    bench = session(desk)
    assert {s["specimen"] for s in bench["mount"]} == {"M-2", "M-3"}
    assert (bench["held"], bench["command"]) == ([], "wingrest mount SAT")


def test_in_damp_air_the_one_whose_slot_stays_taken_waits_and_the_command_leaves_it_out(
    desk: Desk,
) -> None:
    desk.did("air", "study", "80", "20", now=START)
    bench = session(desk)
    (held,) = bench["held"]
    assert bench["command"] == f"wingrest mount SAT --except {held}"
    said = " ".join(desk.did("today", now=START).split())
    assert f"Not today: {held}, whose slot stays taken" in said
    assert said.count("wingrest mount SAT --except") == 2
    assert "wingrest release" not in said
    desk.did("mount", "SAT", "--except", held, now=AFTER)


def test_one_that_the_reading_makes_due_later_is_not_taken_off_first(desk: Desk) -> None:
    desk.did("air", "study", "80", "20", now=START)
    assert session(desk)["take_off"] == []


def test_what_is_due_and_stays_in_damp_air_holds_its_slot_as_well(desk: Desk) -> None:
    for day in (20, 21):
        desk.did("air", "study", "45", "20", now=f"2027-05-{day}T08:30")
    desk.did("air", "study", "78", "20", now=START)
    said = desk("ready", "M-1", now=START).out
    assert "dry, but not today" in said
    assert len(session(desk)["held"]) == 1


def test_planning_anew_finds_it_another_day_or_place(desk: Desk) -> None:
    desk.did("air", "study", "80", "20", now=START)
    desk.did("plan", now=START)
    assert session(desk)["held"] == []
