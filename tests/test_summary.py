"""A season summed up. Specimens and boards are invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench_cases import Desk


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """One short board for four: two are mounted, two wait ten days until it is free."""
    desk = Desk(tmp_path / "record.sqlite")
    begin = "2027-05-01T10:00"
    desk.did("room", "study", "--rh", "50", "--temp", "20", now=begin)
    desk.did(*"board B1 --room study --groove 6 --span 120 --length 60".split(" "), now=begin)
    owlets = "add Noctuidae --count 5 --frozen --body 4.5 --wingspan 38 --as M"
    desk.did(*owlets.split(" "), now=begin)
    desk.did("mount", "B1:", "M-01", "M-02", now=begin)
    desk.did("lost", "M-05", "fell", now="2027-05-02T10:00")
    desk.did("test", "M-01", "soft", now="2027-05-15T10:00")
    desk.did("release", "M-01", "M-02", "--early", "to make room", now="2027-05-16T10:00")
    desk.did("mount", "B1:", "M-03", "M-04", now="2027-05-16T11:00")
    return desk


def test_what_happened_is_counted(desk: Desk) -> None:
    found = json.loads(desk.did("summary", "--format", "json", now="2027-05-20T10:00"))
    assert (found["first"], found["last"]) == ("2027-05-01", "2027-05-20")
    counted = {key: found[key] for key in ("mounted", "came_off", "spoiled", "soft", "drooped")}
    assert counted == {"mounted": 4, "came_off": 2, "spoiled": 1, "soft": 1, "drooped": 0}


def test_one_more_board_would_have_saved_what_waited_for_a_full_one(desk: Desk) -> None:
    found = json.loads(desk.did("summary", "--format", "json", now="2027-05-20T10:00"))
    # M-3 and M-4 lay there from 1 May on; the board was full on 15 days, 1 to 15 May.
    assert found["further"] == [{"groove_mm": 6.0, "specimens": 2, "days": 30}]
    assert found["boards"][0]["empty_days"] == 0


def test_days_before_the_first_are_asked_about(desk: Desk) -> None:
    run = desk("summary", "2027-06-01", "2027-05-01", now="2027-05-20T10:00")
    assert run.status == 2
    assert "is before 2027-06-01" in run.problems


def test_it_is_printed(desk: Desk, tmp_path: Path) -> None:
    pdf = tmp_path / "season.pdf"
    desk.did("summary", "--pdf", pdf, now="2027-05-20T10:00")
    assert pdf.read_bytes().startswith(b"%PDF")
