"""Where boards stand, whether they are in use, and the air read off a dial."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, local, weekend
from verb_cases import changes_nothing, recorded, refused, snapshot

from scheduler.words.records import Dial


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def rooms_of(desk: Desk, board: str) -> list[str]:
    return [stay.room for stay in snapshot(desk).stays_of(board)]


# --- move ------------------------------------------------------------------------------------


def test_a_board_moved_to_the_damp_room_dries_later(desk: Desk) -> None:
    run = recorded(desk, "move", "b3", "north")
    assert rooms_of(desk, "B3") == ["study", "north"]
    assert run.out.splitlines() == [
        "moved B3 to north",
        "  M-05: test from Tue 11 May (before: Mon 10 May)",
    ]


def test_a_board_that_was_moved_last_week_dried_there_since(desk: Desk) -> None:
    recorded(desk, "move", "B4", "study", "--at", "2027-04-28T09:00")
    assert snapshot(desk).stays_of("B4")[-1].since == local("2027-04-28T09:00")


def test_a_move_between_two_known_ones_holds_until_the_next(desk: Desk) -> None:
    desk.did("move", "B3", "north", "--at", "2027-05-03T09:00")
    run = recorded(desk, "move", "B3", "cabinet", "--at", "2027-05-01T09:00")
    assert rooms_of(desk, "B3") == ["study", "cabinet", "north"]
    assert "until Mon 3 May 09:00, when it went to north" in run.out


def test_the_room_it_stands_in_is_no_move(desk: Desk) -> None:
    assert "B3 stands in study already" in changes_nothing(desk, "move", "B3", "study")
    desk.did("move", "B3", "north")
    said = changes_nothing(desk, "move", "B3", "north", now="2027-05-06T08:00")
    assert "B3 stands in north since Wed 5 May 18:00 already" in said


def test_two_moves_at_one_moment_contradict(desk: Desk) -> None:
    desk.did("move", "B3", "north")
    assert "already moved at that very moment" in refused(desk, "move", "B3", "cabinet", status=3)


def test_boards_and_rooms_nearly_named_are_guessed(desk: Desk) -> None:
    assert "no board 'B33'. Did you mean B3" in refused(desk, "move", "B33", "north", status=2)
    assert "no room 'nort'. Did you mean north?" in refused(desk, "move", "B3", "nort", status=2)


def test_a_damp_room_is_a_warning(desk: Desk) -> None:
    desk.did("amend", "north", "rh_pct=74")
    run = recorded(desk, "move", "B3", "north")
    assert "north is damp (74 %, assumed)" in run.err


def test_a_warm_cabinet_comes_with_its_cautions(desk: Desk) -> None:
    err = recorded(desk, "move", "B3", "cabinet").err
    assert "watched, nothing flammable" in " ".join(err.split())


# --- board -----------------------------------------------------------------------------------


def test_an_empty_board_goes_out_of_use_and_comes_back(desk: Desk) -> None:
    assert recorded(desk, "board", "B9", "out").out.startswith("B9 is out of use\n")
    assert snapshot(desk).boards["B9"].out
    assert "already" in changes_nothing(desk, "board", "B9", "out")
    recorded(desk, "board", "B9", "in")
    assert not snapshot(desk).boards["B9"].out


def test_a_board_goes_out_with_what_stands_on_it(desk: Desk) -> None:
    run = recorded(desk, "board", "B3", "out")
    assert "warning: B3 is out, and M-03, M-04 and M-05 still on it" in run.err
    assert [p.specimen for p in snapshot(desk).standing("B3")] == ["M-03", "M-04", "M-05"]


@pytest.mark.parametrize("refill", ["end", "whole"])
def test_where_a_board_may_be_refilled(desk: Desk, refill: str) -> None:
    recorded(desk, "board", "B3", "--refill", refill)
    assert snapshot(desk).boards["B3"].refill == refill


def test_a_board_and_nothing_about_it(desk: Desk) -> None:
    assert "what about it?" in refused(desk, "board", "B9", status=2)


# --- air -------------------------------------------------------------------------------------


def test_a_dial_is_read(desk: Desk) -> None:
    run = recorded(desk, "air", "north", "60%", "18.5")
    assert snapshot(desk).dials == (Dial("north", local("2027-05-05T18:00"), 60.0, 18.5),)
    assert run.out.startswith("north: 60 %, 18.5 °C, read Wed 5 May 18:00\n")
    assert run.err == ""


def test_a_dial_may_tell_the_humidity_alone_and_be_read_yesterday(desk: Desk) -> None:
    recorded(desk, "air", "north", "60", "--at", "2027-05-04T08:00")
    assert snapshot(desk).dials == (Dial("north", local("2027-05-04T08:00"), 60.0, None),)


def test_an_attic_can_be_below_nought(desk: Desk) -> None:
    recorded(desk, "air", "north", "60", "-3")
    assert snapshot(desk).dials[0].temp_c == -3


def test_a_damp_dial_warns_of_mould_and_of_taking_off(desk: Desk) -> None:
    # Keep below 65 %: the mould limit of NPS, as rules/limits.csv cites it.
    assert recorded(desk, "air", "north", "65").err == ""
    err = recorded(desk, "air", "north", "66", "--at", "2027-05-05T17:00").problems
    assert "above 65 %: mould may grow" in err
    assert "take nothing off there" not in err
    err = recorded(desk, "air", "north", "76", "--at", "2027-05-05T17:10").problems
    assert "above 75 %: mould may grow; dry wings soften, take nothing off there" in err


def test_a_dial_read_twice_at_one_moment(desk: Desk) -> None:
    desk.did("air", "north", "60")
    assert "already" in changes_nothing(desk, "air", "north", "60")
    assert "at that very moment: 60 %" in refused(desk, "air", "north", "61", status=3)


def test_everything_wrong_with_a_dial_is_said_at_once(desk: Desk) -> None:
    said = refused(desk, "air", "north", "168", "mild", status=2)
    assert "RH: is outside 0 to 100 %" in said
    assert "TEMP: is not a number" in said
    assert "2 problems; nothing was recorded" in said
    assert "Did you mean north" in refused(desk, "air", "norht", "60", status=2)
