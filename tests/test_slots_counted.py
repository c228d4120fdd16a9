"""From when on a plan counts on a slot: a date between due and clear, as `planning.csv` says."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planner_cases import problems

from scheduler.planner.make import best_plan, hand_plan, make_plan
from scheduler.planner.problem import PlanProblem, slot_days
from scheduler.planner.referee.verdict import judge


def counting(problem: PlanProblem, pct: int) -> PlanProblem:
    return replace(problem, weights=replace(problem.weights, slot_pct=pct))


@given(problems(), st.sampled_from([0, 33, 50, 100]))
def test_the_referee_counts_slots_as_every_plan_does(problem: PlanProblem, pct: int) -> None:
    counted = counting(problem, pct)
    for found in (make_plan(counted), hand_plan(counted), best_plan(counted, effort="quick")):
        assert judge(counted, found) == []


@pytest.mark.parametrize(("pct", "days"), [(0, 14), (1, 15), (33, 15), (50, 16), (100, 17)])
def test_a_slot_is_free_after_so_much_of_the_way_from_due_to_clear(pct: int, days: int) -> None:
    assert slot_days(14, 17, pct) == days
