"""Specimens that miss the date by which they are wanted off the board, and what is said of them."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, weekend

SATURDAY = "2027-05-08T08:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    desk = weekend(tmp_path)
    desk.did("plan", "--effort", "quick")
    desk.did("amend", "M-28", "wanted_by=")  # the only one of the batch with a date
    return desk


def worries(desk: Desk, now: str = SATURDAY) -> str:
    said = desk.did("today", now=now)
    return " ".join(said[said.find("Worries") :].split()) if "Worries" in said else ""


def test_what_the_plan_brings_off_too_late_is_said_with_what_would_help(desk: Desk) -> None:
    desk.did("amend", "M-15", "wanted_by=2027-05-20")
    said = worries(desk)
    assert "M-15 is wanted by Thu 20 May: the plan takes it off on" in said
    assert "wingrest amend M-15 priority=10" in said


def test_what_has_no_place_at_all_is_said(desk: Desk) -> None:
    desk.did("amend", "M-23", "wanted_by=2027-06-20", "priority=10")
    said = worries(desk)
    assert "M-23 is wanted by Sun 20 Jun: the plan has no place for it" in said
    assert "wingrest plan --why M-23" in said


def test_what_stands_and_dries_too_slowly_is_said(desk: Desk) -> None:
    desk.did("amend", "M-05", "wanted_by=2027-05-09")
    assert "M-05 is wanted by Sun 9 May, and its slot is clear only on" in worries(desk)


def test_what_comes_off_in_time_is_no_worry(desk: Desk) -> None:
    desk.did("amend", "M-15", "wanted_by=2027-09-20")
    assert "wanted by" not in worries(desk)


def test_what_stands_when_its_date_is_over_is_said_no_more(desk: Desk) -> None:
    desk.did("amend", "M-05", "wanted_by=2027-05-07")
    assert "M-05" not in worries(desk)


def test_those_that_come_late_alike_are_said_together(desk: Desk) -> None:
    desk.did("amend", "M-15", "wanted_by=2027-05-20")
    desk.did("amend", "M-16", "wanted_by=2027-05-21")
    said = worries(desk)
    assert "Wanted sooner than the plan takes them off: M-15 20 May (" in said
    assert "M-16 21 May (" in said
    assert said.count("priority=10") == 1
