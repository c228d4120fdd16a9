"""A free evening: what is soft by then, is limp or needs no chamber is mounted; nothing is kept.

Specimens and boards are those of the invented first weekend, asked about on 5 May, 18:00.
"""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import Any

import pytest
from bench_cases import WEDNESDAY, Desk, weekend

from scheduler.record.kept import kept_plan
from scheduler.record.store import Store

THURSDAY = ("plan", "--at", "2027-05-06 20:00", "--minutes", "90")


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def planned(desk: Desk, *words: str, now: str = WEDNESDAY) -> dict[str, Any]:
    facts: dict[str, Any] = json.loads(desk.did(*(words or THURSDAY), "--format", "json", now=now))
    return facts


def names(facts: dict[str, Any]) -> set[str]:
    return {p["specimen"] for s in facts["sessions"] for p in s["placements"]}


def test_with_nothing_soft_nothing_can_be_mounted(desk: Desk) -> None:
    assert "Nothing can be mounted then" in desk.did(*THURSDAY)
    assert names(planned(desk)) == set()


def test_what_was_long_enough_in_the_chamber_is_mounted(desk: Desk) -> None:
    # A body of 6.6 mm, ten months in the freezer: first look after 24 hours (relax-frozen-long).
    desk.did("relax", "M-14", now="2027-05-05T18:00")
    desk.did("relax", "M-16", "--at", "2027-05-05T20:30", now="2027-05-05T21:00")
    facts = planned(desk, now="2027-05-05T21:00")
    assert names(facts) == {"M-14"}
    (waits,) = facts["unplaced"]
    assert waits["specimen"] == "M-16"
    assert "soft on Thu 6 May 20:30 at the earliest" in waits["reason"]


def test_what_would_rot_before_is_not_mounted(desk: Desk) -> None:
    desk.did("relax", "M-14", "--at", "2027-05-03T19:00")
    assert names(planned(desk)) == set()


@pytest.mark.parametrize("words", [("thaw", "M-29"), ("putback", "M-29", "fridge")])
def test_what_is_out_of_the_freezer_is_mounted_with_a_gentle_push(
    desk: Desk, words: tuple[str, ...]
) -> None:
    desk.did(*words)
    assert names(planned(desk)) == {"M-29"}
    assert planned(desk)["gently"] == ["M-29"]
    assert "Try M-29 with a gentle push first" in desk.did(*THURSDAY)


def test_thawed_too_long_by_then_it_is_lost_and_not_mounted(desk: Desk) -> None:
    # Thawed on Monday 10:00, it keeps 72 hours (limit-fresh-keeps): to Thursday 10:00.
    desk.did("thaw", "M-29", "--at", "2027-05-03T10:00")
    facts = planned(desk)
    assert names(facts) == set()
    assert "lost after Thu 6 May 10:00" in facts["unplaced"][0]["reason"]


def test_what_went_back_into_the_freezer_waits(desk: Desk) -> None:
    desk.did("thaw", "M-29", "--at", "2027-05-05T10:00")
    desk.did("putback", "M-29", "freezer")
    assert names(planned(desk)) == set()


def test_thawed_a_short_time_after_freezing_it_is_limp_without_doubt(desk: Desk) -> None:
    # Frozen on 20 April: limp on thawing (Wilkinson, in relaxing.csv).
    desk.did("thaw", "M-28")
    facts = planned(desk)
    assert names(facts) == {"M-28"}
    assert facts["gently"] == []


def test_the_minutes_are_kept(desk: Desk) -> None:
    desk.did("thaw", "M-28", "M-29", "M-30", "M-27")
    facts = planned(desk, "plan", "--at", "2027-05-06T20:00", "--minutes", "60")
    (session,) = facts["sessions"]
    assert session["minutes_used"] <= 60
    assert len(names(facts)) == 2
    assert len(facts["unplaced"]) == 2


def test_nothing_is_kept_or_recorded(desk: Desk) -> None:
    desk.did("thaw", "M-28")
    with Store(desk.store) as store:
        before, kept = store.image(), kept_plan(store)
    desk.did(*THURSDAY)
    with Store(desk.store) as store:
        assert store.image() == before
        assert kept_plan(store) == kept
        assert "free" not in store.snapshot().sessions


def test_the_commands_it_prints_record_it(desk: Desk) -> None:
    desk.did("relax", "K-07", "M-14")
    desk.did("thaw", "M-28", "M-29")
    facts = planned(desk)
    assert {"K-07", "M-14", "M-28"} <= names(facts)
    for command in facts["record"]:
        program, *words = shlex.split(command)
        assert program == "wingrest"
        desk.did(*words, now="2027-05-06T21:30")
    with Store(desk.store) as store:
        stands = {
            (p.specimen, p.board, p.from_mm, p.to_mm)
            for p in store.snapshot().standing()
            if p.specimen in names(facts)
        }
    assert stands == {
        (p["specimen"], p["board"], p["from_mm"], p["to_mm"])
        for s in facts["sessions"]
        for p in s["placements"]
    }


def test_what_an_earlier_session_will_mount_is_taken_as_mounted(desk: Desk) -> None:
    """Saturday takes M-25 and fills its slots: Saturday night counts on neither."""
    desk.did("relax", "M-25", "M-27", "--at", "2027-05-05T17:00")
    desk.did("plan")
    saturday = planned(desk, "plan", "--format", "json")
    sat = {
        (p["board"], p["from_mm"], p["to_mm"]): p["specimen"]
        for s in saturday["sessions"]
        if s["session"] == "SAT-08"
        for p in s["placements"]
    }
    assert "M-25" in sat.values()
    night = planned(desk, "plan", "--at", "2027-05-08 16:00", "--minutes", "90")
    assert "M-25" not in names(night)
    for session in night["sessions"]:
        for p in session["placements"]:
            for board, begin, end in sat:
                assert board != p["board"] or end <= p["from_mm"] or p["to_mm"] <= begin


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--at", "2027-05-06 20:00"), "a free evening needs --at and --minutes"),
        (("--minutes", "90"), "a free evening needs --at and --minutes"),
        (("--at", "2027-05-06 20:00", "--minutes", "9", "--until", "2027-05-08"), "no --until"),
        (("--at", "2027-05-05 16:00", "--minutes", "90"), "is past. Give a moment still to come"),
        (("--at", "tonight", "--minutes", "90"), "'tonight' is not a moment"),
    ],
)
def test_an_evening_that_cannot_be_is_said_so(
    desk: Desk, words: tuple[str, ...], said: str
) -> None:
    run = desk("plan", *words)
    assert run.status == 2
    assert said in run.err
