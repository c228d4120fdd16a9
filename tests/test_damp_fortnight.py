"""The damp fortnight: a paper strip would free one board too early and block another too long."""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import damp_fortnight
import pytest
from bench_cases import Desk

FOLDER = damp_fortnight.FOLDER
NOW = damp_fortnight.NOW.isoformat()
TODAY = damp_fortnight.NOW.date()


@cache
def boards() -> dict[str, Any]:
    """The answers on the morning on which the demonstration begins."""
    with TemporaryDirectory(prefix="wingrest-tests-") as folder:
        desk = Desk(Path(folder) / "record.sqlite")
        desk.did("load", FOLDER, now=NOW)
        found = json.loads(desk("ready", "--format", "json", now=NOW).out)
    return {board["board"]: board for board in found["boards"]}


def strip(board: str) -> date:
    """The date that the assumed air alone gives a board."""
    specimens = boards()[board]["specimens"]
    return max(date.fromisoformat(s["evidence"]["assumed_due"]) for s in specimens)


def test_the_committed_files_are_what_the_generator_writes() -> None:
    written = {p.name: p.read_text(encoding="utf-8") for p in FOLDER.glob("readings-*")}
    assert written == damp_fortnight.files()


def test_no_file_is_large() -> None:
    assert max(path.stat().st_size for path in FOLDER.iterdir()) < 300_000


def test_the_strip_would_free_the_board_in_the_study_too_early() -> None:
    study = boards()["D1"]
    assert study["answer"] == "not yet"
    assert strip("D1") <= date(2027, 7, 3) < TODAY < date.fromisoformat(study["due"])
    for specimen in study["specimens"]:
        (spell,) = [s for s in specimen["evidence"]["damp_spells"] if s["lost_days"] > 1]
        assert (spell["first"], spell["last"]) == ("2027-06-21", "2027-07-04")
        assert spell["lost_days"] > 10


def test_the_strip_would_block_the_board_in_the_loft_for_the_better_part_of_a_week_more() -> None:
    loft = boards()["D2"]
    assert loft["answer"] == "test it now"
    first = loft["specimens"][0]
    due = date.fromisoformat(first["due"])
    assert due <= TODAY
    assert (date.fromisoformat(first["evidence"]["assumed_due"]) - due).days >= 7
    assert strip("D2") > TODAY


@pytest.mark.parametrize("board", ["D1", "D2"])
def test_everything_was_measured(board: str) -> None:
    for specimen in boards()[board]["specimens"]:
        assert specimen["evidence"]["known"]["logger_pct"] > 99


def test_both_rooms_are_of_one_weather(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    shown = desk.did("demo", FOLDER, "--into", tmp_path / "demo", now=NOW)
    assert "--- Can I free board D1 yet" in shown
    assert "--- Can I free board D2 yet" in shown
    assert shown.count("at the end of each day") == 2
