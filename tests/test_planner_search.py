"""The planner: every plan passes the referee, is never worse, comes out the same, is proven.

Outside checks: the rule of weighted shortest processing time (W. E. Smith 1956, Naval Research
Logistics Quarterly 3; memory), and a small quay with ships (the berth allocation problem: the
same rectangles of length by time) solved by another formulation with a general solver.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from planner_cases import board, on, problem, problems, session, specimen

from scheduler.planner.make import best_plan, make_plan
from scheduler.planner.problem import PlanProblem, Quality
from scheduler.planner.referee.verdict import judge


@given(problems())
@settings(max_examples=60, deadline=None)
def test_the_referee_accepts_every_plan_searched_for(of: PlanProblem) -> None:
    result = best_plan(of, effort="quick")
    assert judge(of, result) == []
    assert result.quality <= make_plan(of).quality
    if result.bound is not None:
        assert result.bound <= result.quality.weighted_waiting_days


@given(problems())
@settings(max_examples=15, deadline=None)
def test_the_same_problem_gives_the_same_plan(of: PlanProblem) -> None:
    assert best_plan(of, effort="quick") == best_plan(of, effort="quick")


@given(problems())
@settings(max_examples=25, deadline=None)
def test_another_board_or_more_minutes_never_make_the_best_plan_worse(of: PlanProblem) -> None:
    """For specimens that fit it alike; taking off needs minutes too, so more never hurts."""
    before = best_plan(of, effort="quick")
    extra = replace(of.boards[0], board="Z9")
    waiting = tuple(
        replace(w, spare_mm={**w.spare_mm, "Z9": w.spare_mm[of.boards[0].board]})
        if of.boards[0].board in w.spare_mm
        else w
        for w in of.waiting
    )
    longer = tuple(replace(s, minutes=s.minutes + 10) for s in of.sessions)
    for richer in (
        replace(of, boards=(*of.boards, extra), waiting=waiting),
        replace(of, sessions=longer),
    ):
        after = best_plan(richer, effort="quick")
        if before.status == after.status == "optimal":
            assert _two_tiers(after.quality) <= _two_tiers(before.quality)


def _two_tiers(quality: Quality) -> tuple[int, int]:
    return quality.spoiled_priority, quality.weighted_waiting_days


def test_smiths_rule_one_slot_and_a_session_a_day() -> None:
    """Weight over days on the board, the greatest first, is best (Smith 1956; memory)."""
    rng = Random(7)
    jobs = [(rng.randint(1, 9), rng.randint(1, 6)) for _ in range(7)]
    of = problem(
        [board("B1", 40)],
        [session(4 + k, 60) for k in range(sum(days for _, days in jobs) + 1)],
        [
            specimen(f"M{n}", slot_mm=40, days=days, priority=weight, minutes=1, most_hours=2000)
            for n, (weight, days) in enumerate(jobs)
        ],
        take_off_min=0,
    )
    result = best_plan(of)
    day, waits = 1, 0
    for weight, days in sorted(jobs, key=lambda job: -job[0] / job[1]):
        waits += weight * day
        day += days
    assert result.quality.weighted_waiting_days == waits
    assert result.bound is not None
    assert result.bound <= waits


SHIPS = [(n, 4 + n % 3, 2 + n % 4, 1 + n % 5, n % 3) for n in range(8)]
"""Number, length, days at the quay, weight, first day: invented."""


def _quay_by_positions() -> int:
    """Return the least weighted waiting, by one yes-or-no for every place, day and ship."""
    from ortools.sat.python import cp_model

    model, quay, horizon = cp_model.CpModel(), 10, 16
    cells: dict[tuple[int, int], list[cp_model.IntVar]] = {}
    cost: list[cp_model.LinearExprT] = []
    for ship, length, days, weight, first in SHIPS:
        berths = []
        for place in range(quay - length + 1):
            for day in range(first, horizon):
                berth = model.new_bool_var(f"{ship} {place} {day}")
                berths.append(berth)
                cost.append(weight * (day + 1) * berth)
                for metre in range(place, place + length):
                    for at in range(day, min(horizon, day + days)):
                        cells.setdefault((metre, at), []).append(berth)
        model.add_exactly_one(berths)
    for berths in cells.values():
        model.add_at_most_one(berths)
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def test_a_quay_with_ships_is_planned_as_another_formulation_solves_it() -> None:
    waiting = [
        replace(
            specimen(f"S{n}", ("QUAY",), slot_mm=length, days=days, priority=weight, minutes=1),
            first_look_hours=0.0,
            most_hours=2000.0,
        )
        for n, length, days, weight, _ in SHIPS
    ]
    sessions = [session(4 + k, 60) for k in range(16)]
    of = problem([board("QUAY", 10)], sessions, waiting, take_off_min=0)
    of = replace(
        of,
        waiting=tuple(
            replace(w, first=first) for w, (*_, first) in zip(of.waiting, SHIPS, strict=True)
        ),
    )
    result = best_plan(of)
    expected = _quay_by_positions()
    assert result.quality.weighted_waiting_days == expected
    assert result.bound is not None
    assert result.bound <= expected


def test_breaking_off_gives_the_best_plan_so_far() -> None:
    of = problem(
        [board("B1", 60), board("B2", 40)],
        [session(4 + k, 40) for k in range(6)],
        [specimen(f"M{n:02}", ("B1", "B2"), slot_mm=20 + n % 3 * 5) for n in range(20)],
    )
    asked: Iterator[int] = iter(range(1_000))
    result = best_plan(of, stop=lambda: next(asked) > 2)
    assert result.stopped
    assert judge(of, result) == []
    assert result.by_hand is not None
    assert result.quality <= result.by_hand


def test_what_the_person_decided_stays() -> None:
    of = problem(
        [board("B1", 40)],
        [session(4), session(20)],
        [specimen("M1", slot_mm=40, priority=1), specimen("M2", slot_mm=40, priority=9)],
    )
    late = best_plan(replace(of, waiting=of.waiting[:1]))
    kept = best_plan(of, start=late, keep=frozenset({"M1"}))
    assert kept.placements[0] == late.placements[0]
    free = best_plan(of, start=late)
    assert {p.specimen: p.session for p in free.placements}["M2"] == of.sessions[0].session


@pytest.mark.parametrize("effort", ["quick", "normal"])
def test_a_small_weekend_is_proven(effort: str) -> None:
    of = problem(
        [board("B1", 60), board("B2", 50)],
        [session(8, 60), session(9, 60)],
        [
            specimen(f"M{n}", ("B1", "B2"), slot_mm=20 + 3 * n, spoils=on(9) if n < 2 else None)
            for n in range(8)
        ],
    )
    result = best_plan(of, effort="quick" if effort == "quick" else "normal")
    assert result.status == "optimal"
    assert result.gap == 0
    assert result.quality.spoiled_priority == 0
