"""Boards that are not refilled at will: only at their right end, or only when empty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from planner_cases import problems

from scheduler.planner.make import best_plan, hand_plan, make_plan
from scheduler.planner.problem import PlanProblem
from scheduler.planner.referee.verdict import judge
from scheduler.words.records import REFILLS, Refill

refills = st.lists(st.sampled_from(REFILLS), min_size=8, max_size=8)


def with_refill(problem: PlanProblem, rules: Sequence[Refill]) -> PlanProblem:
    boards = tuple(
        replace(board, refill=rules[n % len(rules)]) for n, board in enumerate(problem.boards)
    )
    return replace(problem, boards=boards)


@given(problems(), refills)
def test_no_plan_joins_what_is_drying_where_it_may_not(
    problem: PlanProblem, rules: list[Refill]
) -> None:
    restricted = with_refill(problem, rules)
    found = make_plan(restricted)
    assert judge(restricted, found) == []
    assert judge(restricted, hand_plan(restricted)) == []


@given(problems())
def test_a_rule_more_never_makes_the_best_plan_better(problem: PlanProblem) -> None:
    free = best_plan(problem, effort="quick")
    whole = best_plan(with_refill(problem, ["whole"]), effort="quick")
    if free.status == "optimal":
        assert free.quality.spoiled_priority <= whole.quality.spoiled_priority


@pytest.mark.parametrize("rule", ["whole", "end"])
@given(problems())
def test_the_referee_says_refill_when_the_rule_comes_after_the_plan(
    rule: Refill, problem: PlanProblem
) -> None:
    found = make_plan(problem)
    restricted = with_refill(problem, [rule])
    kinds = {fault.kind for fault in judge(restricted, found)}
    joins = any(
        p.board == q.board
        and p.mount_at < q.mount_at
        and (p.clear is None or p.clear > q.mount_at.date())
        for p in found.placements
        for q in found.placements
    )
    if rule == "whole" and joins:
        assert "refill" in kinds
    assert kinds <= {"refill", "unsavable"}
