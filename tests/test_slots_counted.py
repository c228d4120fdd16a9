"""From when on a plan counts on a slot: a date between due and clear, as `planning.csv` says."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planner_cases import problems

from scheduler.looks.problem import slot_days
from scheduler.planner.make import best_plan, hand_plan, make_plan
from scheduler.planner.problem import BoardDays, PlanProblem, PlanWaiting
from scheduler.planner.referee.verdict import judge


def counting(problem: PlanProblem, pct: int) -> PlanProblem:
    def counted(days: BoardDays | None) -> BoardDays | None:
        if days is None:
            return None
        return replace(days, slot_days=slot_days(days.min_days, days.plan_days, pct))

    def waits(one: PlanWaiting) -> PlanWaiting:
        return replace(one, days={room: counted(days) for room, days in one.days.items()})

    return replace(problem, waiting=tuple(map(waits, problem.waiting)))


@given(problems(), st.sampled_from([0, 33, 50, 100]))
def test_the_referee_counts_slots_as_every_plan_does(problem: PlanProblem, pct: int) -> None:
    counted = counting(problem, pct)
    for found in (make_plan(counted), hand_plan(counted), best_plan(counted, effort="quick")):
        assert judge(counted, found) == []


@pytest.mark.parametrize(("pct", "days"), [(0, 14), (1, 15), (33, 15), (50, 16), (100, 17)])
def test_a_slot_is_free_after_so_much_of_the_way_from_due_to_clear(pct: int, days: int) -> None:
    assert slot_days(14, 17, pct) == days
