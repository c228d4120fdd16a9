"""The benchmark in short: its problems stay the same, its plans are valid and in order."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent / "bench"))

from instances import SIZES, instance
from planner import measure

from scheduler.planner.bench import PlanBench
from scheduler.planner.make import best_plan


@pytest.mark.parametrize("size", ["weekend", "season"])
def test_the_plans_are_valid_and_between_the_bound_and_by_hand(size: str) -> None:
    row = measure(size, 1, "quick")
    assert 0 < row["bound"] <= row["waiting"] <= row["hand_waiting"]
    assert row["spoiled"] <= row["greedy_spoiled"]
    assert row["gap_pct"] < 6


HARDER: tuple[tuple[str, dict[str, Any]], ...] = (
    ("weekend", {"stock": "odd", "length": 0.6, "minutes": 1.0}),
    ("played", {"stock": "odd", "minutes": 0.9}),
    ("weekend", {"places": 6}),
    ("played", {"places": 5}),
)


@pytest.mark.parametrize(("size", "harder"), HARDER)
def test_harder_problems_are_planned_in_order_too(size: str, harder: dict[str, Any]) -> None:
    row = measure(size, 1, "quick", **harder)
    assert (row["spoiled"], row["waiting"]) <= (row["hand_spoiled"], row["hand_waiting"])
    assert 0 < row["bound"] <= row["waiting"]
    of = instance(size, 1, **harder)
    assert of == instance(size, 1, **harder)
    assert of != instance(size, 1)
    assert best_plan(of, effort="quick") == best_plan(of, effort="quick")


def test_boards_built_one_by_one_differ() -> None:
    sets, odd = instance("season", 1), instance("season", 1, stock="odd")
    assert len({b.length_mm for b in sets.boards}) < 5
    assert len({b.length_mm for b in odd.boards}) > 20
    kinds = PlanBench(odd).boards_of
    assert len(kinds) > len(PlanBench(sets).boards_of)
    shorter = instance("season", 1, 0.5, stock="odd")
    longest = {b.board: b.length_mm for b in shorter.boards}
    assert all(w.slot_mm <= longest[b] for w in shorter.waiting for b in w.spare_mm)


def test_a_small_chamber_binds() -> None:
    many, few = (instance("weekend", 1, places=n) for n in (40, 6))
    wide, tight = (best_plan(of, effort="quick").quality for of in (many, few))
    assert wide < tight


def test_the_minutes_are_the_share_asked_for() -> None:
    usual, full = (instance("season", 1, minutes=share) for share in (0.6, 1.2))
    assert usual == instance("season", 1)
    ratio = sum(s.minutes for s in full.sessions) / sum(s.minutes for s in usual.sessions)
    assert ratio == pytest.approx(2, rel=0.05)


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
    assert best_plan(of, effort="quick") == best_plan(of, effort="quick")
