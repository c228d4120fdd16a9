"""The benchmark in short: its problems stay the same, its plans are valid and in order."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "bench"))

from instances import SIZES, instance
from planner import measure

from scheduler.planner import plan


@pytest.mark.parametrize("size", ["weekend", "season"])
def test_the_plans_are_valid_and_between_the_bound_and_by_hand(size: str) -> None:
    row = measure(size, 1, "quick", 1.0)
    assert 0 < row["bound"] <= row["waiting"] <= row["hand_waiting"]
    assert row["spoiled"] <= row["greedy_spoiled"]
    assert row["gap_pct"] < 6


@pytest.mark.parametrize("size", ["weekend", "played", "season"])
def test_the_same_size_and_seed_give_the_same_problem(size: str) -> None:
    of = instance(size, 3)
    assert of == instance(size, 3)
    assert of != instance(size, 4)
    wanted = SIZES[size]
    counts = (len(of.boards), len(of.waiting), len(of.sessions))
    assert counts == (wanted.boards, wanted.specimens, wanted.sessions)


def test_the_same_season_gives_the_same_plan() -> None:
    of = instance("season", 2)
    assert plan(of, effort="quick") == plan(of, effort="quick")
