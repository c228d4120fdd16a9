"""Loggers' files beside the tables of a batch: readings-<room>.csv."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from bench_cases import Desk
from verb_cases import image, journal, refused, snapshot

ROOMS = "room,regime,rh_pct\nstudy,room,55\n"
READ = "Time,Temperature (C),RH (%)\n2027-06-01 12:00,20.0,60.0\n2027-06-01 13:00,20.0,62.0\n"
NOW = "2027-07-01T09:00"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "batch"
    folder.mkdir()
    (folder / "rooms.csv").write_text(ROOMS, encoding="utf-8")
    (folder / "readings-study.csv").write_text(READ, encoding="utf-8")
    return folder


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path / "record.sqlite")


def words(text: str) -> str:
    """What was said, however a terminal breaks it."""
    return " ".join(text.split())


def test_they_come_into_the_record_with_the_rest_in_one_line(desk: Desk, folder: Path) -> None:
    assert "1 room and 2 readings new" in words(desk.did("load", folder, now=NOW))
    assert len(journal(desk)) == 1
    assert len(snapshot(desk).air_days["study"]) == 1
    desk.did("undo", "1", "--yes", now=NOW)
    assert snapshot(desk).air_days == {}


def test_loading_again_adds_only_what_is_new(desk: Desk, folder: Path) -> None:
    desk.did("load", folder, now=NOW)
    before = image(desk)
    assert "nothing new" in words(desk.did("load", folder, now=NOW))
    assert image(desk) == before
    more = READ + "2027-06-02 12:00,20.0,61.0\n"
    (folder / "readings-study.csv").write_text(more, encoding="utf-8")
    assert "1 reading new" in words(desk.did("load", folder, now=NOW))


def test_the_room_may_be_recorded_already_and_case_does_not_matter(
    desk: Desk, folder: Path
) -> None:
    desk.did("load", folder / "rooms.csv", now=NOW)
    (folder / "rooms.csv").unlink()
    shutil.move(folder / "readings-study.csv", folder / "Readings-STUDY.csv")
    (folder / "sessions.csv").write_text("session,start,minutes\n", encoding="utf-8")
    assert "2 readings new" in words(desk.did("load", folder, now=NOW))
    assert list(snapshot(desk).air_days) == ["study"]


def test_a_file_named_after_no_room_is_a_problem(desk: Desk, folder: Path) -> None:
    shutil.move(folder / "readings-study.csv", folder / "readings-stuhdy.csv")
    said = words(refused(desk, "load", str(folder), status=2, now=NOW))
    assert "readings-stuhdy.csv" in said
    assert 'did you mean "study"?' in said


def test_what_cannot_be_read_keeps_the_batch_out_with_its_row(desk: Desk, folder: Path) -> None:
    (folder / "readings-study.csv").write_text("Time,RH (%)\nsoon,60\n", encoding="utf-8")
    said = words(refused(desk, "load", str(folder), status=2, now=NOW))
    assert "readings-study.csv, row 2, Time" in said


def test_an_impossible_value_is_left_out_and_named(desk: Desk, folder: Path) -> None:
    wrong = READ + "2027-06-02 12:00,20.0,161.0\n"
    (folder / "readings-study.csv").write_text(wrong, encoding="utf-8")
    run = desk("load", folder, now=NOW)
    assert run.status == 0
    assert "3 readings new" in words(run.out), "its temperature stays"
    assert "readings-study.csv, row 4" in words(run.err)


def test_what_a_loggers_file_leaves_open_is_answered_at_the_load(desk: Desk, folder: Path) -> None:
    text = "Time,Temperature (C),RH (%)\n03.04.2027 12:00,20.0,60.0\n"
    (folder / "readings-study.csv").write_text(text, encoding="utf-8")
    before = image(desk)
    run = desk("load", folder, now=NOW)
    assert (run.status, image(desk)) == (2, before)
    assert "--answer readings-study.csv:dates=WORD" in words(run.err)
    run = desk("load", folder, "--answer", "dates=day-first", now=NOW)
    assert run.status == 0
    assert "1 reading of study (ordinary air), 2027-04-03 12:00" in words(run.err)


def test_a_sealed_box_may_be_as_dry_as_its_desiccant(desk: Desk, folder: Path) -> None:
    (folder / "rooms.csv").write_text("room,regime\nstudy,desiccant\n", encoding="utf-8")
    (folder / "readings-study.csv").write_text(READ.replace("60.0", "6.0").replace("62.0", "7.0"))
    run = desk("load", folder, now=NOW)
    assert run.status == 0, run.err
    assert "2 readings of study (a sealed box)" in words(run.err)
