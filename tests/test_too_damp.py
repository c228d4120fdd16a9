"""What is said where the air is too damp to take anything off; the damp July of the samples."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench_cases import Desk, weekend

JULY = Path(__file__).parent.parent / "sample_batches" / "damp_july"
FRIDAY = "2027-07-09T18:00"
MONDAY = "2027-07-12T18:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """The damp July, loaded: B6 stands in the north room, said to be at 70 %, both of it due."""
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", JULY, now=FRIDAY)
    return desk


def plain(text: str) -> str:
    return " ".join(text.split())


def test_stiff_in_damp_air_is_left_on_its_board(desk: Desk) -> None:
    # Nothing comes off above 75 %: rules/limits.csv, limit-take-off-rh, as it says.
    desk.did("air", "north", "76", "24", now=MONDAY)
    said = plain(desk.did("test", "B6", "stiff", now=MONDAY))
    assert "leave B6, where it is too damp to take off: north 76 % by the dial" in said
    assert "wingrest release" not in said


@pytest.mark.parametrize("rh", ["66", "75"])
def test_stiff_in_air_that_is_damp_but_not_too_damp_comes_off_with_a_warning(
    desk: Desk, rh: str
) -> None:
    desk.did("air", "north", rh, "24", now=MONDAY)
    asked = desk("ready", "J-05", now=MONDAY)
    assert asked.status == 0
    assert "leave what gives at all, and keep what comes off in drier air" in plain(asked.out)
    said = plain(desk.did("test", "J-05", "stiff", now=MONDAY))
    assert "take off with: wingrest release B6" in said
    off = desk("release", "J-05", now=MONDAY)
    assert off.status == 0
    assert f"the air of north is damp, {rh} % by the dial" in plain(off.err)


def test_in_ordinary_air_nothing_is_said_of_damp(desk: Desk) -> None:
    desk.did("air", "north", "64", "20", now=MONDAY)
    assert "the air is damp" not in plain(desk.did("ready", "B6", now=MONDAY))
    desk.did("test", "B6", "stiff", now=MONDAY)
    assert "is damp" not in desk("release", "B6", now=MONDAY).err


def test_stiff_on_two_boards_only_the_dry_one_comes_off(desk: Desk) -> None:
    desk.did("air", "north", "76", "24", now="2027-07-14T18:00")
    said = plain(desk.did("test", "B6", "D1", "stiff", now="2027-07-14T18:00"))
    assert "take off with: wingrest release D1 leave B6, where it is too damp" in said


def test_stiff_where_the_dial_was_not_read_for_a_day_is_looked_at_first(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    desk.did("air", "study", "52", now="2027-05-05T18:00")
    said = plain(desk.did("test", "B3", "stiff", now="2027-05-08T18:00"))
    assert "wingrest release" not in said
    assert "leave M-03 and M-04: the air of study was last read Wed 5 May 18:00" in said
    assert "look at a dial first, wingrest air study RH" in said
    # Who takes them off all the same is told, and it is recorded.
    off = desk("release", "B3", now="2027-05-08T18:00")
    assert off.status == 0
    assert "the air of study was not read for a day: a dial says" in plain(off.err)


@pytest.mark.parametrize("rh", ["56", "72"])
def test_a_drier_dial_frees_what_was_left(desk: Desk, rh: str) -> None:
    desk.did("air", "north", "76", "24", now=MONDAY)
    desk.did("test", "J-05", "stiff", now=MONDAY)
    left = desk("ready", "J-05", now=MONDAY)
    assert left.status == 1
    assert "is above 75 %, the most at which to take off" in plain(left.out)
    desk.did("air", "north", rh, "20", now="2027-07-14T18:00")
    assert "J-05  take off" in desk.did("ready", "J-05", now="2027-07-14T18:00")


def test_the_session_sheet_names_the_boards_that_cannot_be_freed(desk: Desk) -> None:
    desk.did("air", "north", "76", "24", now=FRIDAY)
    desk.did("air", "study", "76", "25", now=FRIDAY)
    said = plain(desk.did("plan", now=FRIDAY))
    assert (
        "Too damp to take anything off, above 75 %: B1 in study 76 % by the dial (read Fri 9 Jul "
        "18:00) and B6 in north 76 % by the dial" in said
    )


def test_the_session_sheet_forbids_nothing_in_air_that_is_damp_but_not_too_damp(desk: Desk) -> None:
    desk.did("air", "north", "72", "24", now=FRIDAY)
    desk.did("air", "study", "75", "25", now=FRIDAY)
    said = plain(desk.did("plan", now=FRIDAY))
    assert "B1: J-03" in said
    assert "B6: J-05" in said
    assert "Too damp to take anything off" not in said


def test_a_dial_says_whose_dates_it_moves(desk: Desk) -> None:
    said = desk.did("air", "study", "60", "--at", "2027-06-20T08:00", now=FRIDAY)
    # Drier air than was assumed brings J-03 on B1 closer, which was due on 4 July.
    assert "  J-03: test from " in said
    assert "(before: Sun 4 Jul)" in said


def test_100_pct_is_not_shown_on_the_last_evening_before(desk: Desk) -> None:
    # Days are rounded up to whole ones; the hours may be there before.
    said = plain(desk("ready", "B6", now="2027-07-05T23:59").out)
    assert "J-06 not yet 99 %" in said


@pytest.mark.parametrize(("rh", "asked"), [("76", False), ("72", True), ("56", True)])
def test_no_session_asks_for_what_the_air_of_its_day_forbids(
    desk: Desk, rh: str, asked: bool
) -> None:
    """J-05 and J-06 on B6 are due; the plan of Friday, older than the dial, takes them off."""
    saturday = "2027-07-10T08:00"
    desk.did("plan", now=FRIDAY)
    desk.did("air", "north", rh, "20", now=saturday)
    for replan in (False, True):
        if replan:
            desk.did("plan", now=saturday)
        day = json.loads(desk.did("today", "--format", "json", now=saturday))
        assert ("B6" in {one["board"] for one in day["wait"]}) is not asked
        assert ("B6" in {one["board"] for one in day["test"]}) is asked
        first = {name for one in day["session"]["take_off"] for name in one["specimens"]}
        assert ("J-05" in first) is asked
        if replan:
            after = {name for step in day["session"]["mount"] for name in step["after"]}
            assert asked or not after & {"J-05", "J-06"}
