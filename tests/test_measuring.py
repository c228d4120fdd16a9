"""What to measure: one with a thick estimated body may fit a tighter board (invented specimens)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench_cases import Desk

SETTINGS = 'timezone = "Europe/Berlin"\n'
ROOMS = "room,rh_pct,temp_c\nstudy,50,20\n"
BOARDS = "board,groove_mm,span_mm,length_mm,room\nB1,9,160,300,study\nB2,13,160,300,study\n"
SESSIONS = "session,start,minutes\nSAT,2027-05-08T09:00,120\n"
SPECIMENS = """specimen,family,body_mm,wingspan_mm,state
H-1,Sphingidae,,70,frozen
H-2,Sphingidae,11.5,90,frozen
"""
NOW = "2027-05-06T18:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    batch = tmp_path / "batch"
    batch.mkdir()
    (batch / "settings.toml").write_text(SETTINGS, encoding="utf-8")
    files = {"rooms": ROOMS, "boards": BOARDS, "sessions": SESSIONS, "specimens": SPECIMENS}
    for name, text in files.items():
        (batch / f"{name}.csv").write_text(text, encoding="utf-8")
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", str(batch), now=NOW)
    return desk


def to_measure(desk: Desk) -> list[str]:
    said = json.loads(desk.did("today", "--format", "json", now=NOW))
    return [name for w in said["worries"] if w["kind"] == "measure" for name in w["names"]]


def test_a_reckoned_body_that_may_fit_a_tighter_board_is_asked_for(desk: Desk) -> None:
    assert to_measure(desk) == ["H-1"]
    assert "wingrest amend H-1 body_mm=MM" in desk.did("today", now=NOW)


def test_what_was_measured_is_not_asked_for_again(desk: Desk) -> None:
    desk.did("amend", "H-1", "body_mm=7.8", now=NOW)
    assert to_measure(desk) == []


def test_nobody_is_measured_where_there_is_no_tighter_board(desk: Desk) -> None:
    desk.did("board", "B1", "out", now=NOW)
    assert to_measure(desk) == []
