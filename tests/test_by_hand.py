"""A record begun by hand, without a file: rooms, boards, bench time, specimens."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, weekend
from verb_cases import changes_nothing, recorded, refused, snapshot

from scheduler.record.store import Store


@pytest.fixture
def bare(tmp_path: Path) -> Desk:
    path = tmp_path / "record.sqlite"
    with Store(path):
        pass
    return Desk(path)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def test_an_empty_record_says_how_to_begin_and_every_line_of_it_works(bare: Desk) -> None:
    said = bare.did("today")
    for begun in (
        "wingrest load FOLDER",
        "wingrest room study --rh 52",
        "wingrest board B1 --groove 3 --span 80 --length 350 --room study",
        "wingrest add owlet --count 4 --wingspan 38 --frozen",
        'wingrest session "Saturdays 09:00" --minutes 120',
    ):
        assert begun in said
    bare.did("room", "study", "--rh", "52")
    bare.did("board", "B1", "--groove", "8", "--span", "80", "--length", "350", "--room", "study")
    bare.did("add", "owlet", "--count", "4", "--wingspan", "38", "--frozen")
    assert "4 wait, and no session is ahead" in bare.did("today")
    bare.did("session", "Saturdays 09:00", "--minutes", "120", "--until", "2027-05-31")
    planned = bare.did("plan")
    assert all(f"O-0{n}" in planned for n in range(1, 5))
    assert "wait, and no session" not in bare.did("today")


def test_boards_that_are_alike_are_one_line(bare: Desk) -> None:
    bare.did("room", "study", "--rh", "52")
    measures = ("--groove", "3", "--span", "80", "--length", "350")
    run = recorded(bare, "board", "T", *measures, "--room", "STUDY", "--count", "3")
    assert run.out.strip() == (
        "T-1, T-2 and T-3: groove 3 mm wide and 350 mm long, 80 mm across, in study"
    )
    assert {s.board: s.room for s in snapshot(bare).stays} == dict.fromkeys(
        ("T-1", "T-2", "T-3"), "study"
    )


def test_a_groove_measured_again_is_put_right_and_nothing_else(desk: Desk) -> None:
    before = snapshot(desk).boards["B3"]
    desk.did("board", "B3", "out")
    recorded(desk, "board", "b3", "--groove", "4.5")
    assert snapshot(desk).boards["B3"] == before._replace(groove_mm=4.5, out=True)
    assert "nothing to record" in changes_nothing(desk, "board", "B3", "--groove", "4.5")


def test_a_board_is_not_made_shorter_than_what_stands_on_it(desk: Desk) -> None:
    assert "B3" in refused(desk, "board", "B3", "--length", "40", status=2)


def test_everything_that_is_missing_of_a_new_board_is_said_at_once(bare: Desk) -> None:
    said = refused(bare, "board", "B1", "--groove", "x", "--count", "0", status=2)
    for part in ("--groove", "--span 80", "--length 350", "--count", "--room ROOM"):
        assert part in said
    assert "5 problems" in said


def test_a_board_that_stands_somewhere_is_moved_not_recorded_again(desk: Desk) -> None:
    said = refused(desk, "board", "B3", "--room", "north", status=2)
    assert "wingrest move B3 north" in said


def test_a_name_that_is_taken_is_no_new_board_and_no_new_room(desk: Desk) -> None:
    measures = ("--groove", "3", "--span", "80", "--length", "350", "--room", "study")
    assert "M-03" in refused(desk, "board", "M-03", *measures, status=2)
    assert "B3" in refused(desk, "room", "B3", "--rh", "50", status=2)


def test_what_is_assumed_of_a_room_changes_alone(desk: Desk) -> None:
    before = snapshot(desk).rooms["study"]
    recorded(desk, "room", "study", "--rh", "58 %")
    assert snapshot(desk).rooms["study"] == before._replace(rh_pct=58)


def test_a_warm_cabinet_that_is_not_warm_is_a_warning(desk: Desk) -> None:
    run = recorded(desk, "room", "shelf", "--regime", "warm", "--temp", "24")
    assert "is warm at 24 °C" in run.err


def test_air_that_no_room_has_is_refused(desk: Desk) -> None:
    said = refused(desk, "room", "attic", "--rh", "nan", "--temp", "90", status=2)
    assert "--rh" in said
    assert "--temp" in said
