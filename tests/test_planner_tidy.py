"""A finished plan pushed to the left: nothing else about it changes."""

from __future__ import annotations

from hypothesis import given
from planner_cases import problems

from scheduler.planner import plan
from scheduler.planner.bench import Bench
from scheduler.planner.check import check
from scheduler.planner.greedy import greedy_plans
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.proposal import explained, made, tiers
from scheduler.planner.quality import unsavable
from scheduler.planner.tidy import tidied


@given(problems())
def test_a_tidied_plan_is_as_good_and_only_positions_differ(problem: PlanProblem) -> None:
    bench = Bench(problem)
    for _, state in greedy_plans(bench):
        tidy = tidied(state)
        assert tiers(tidy) == tiers(state)
        for before, after in zip(state.spots, tidy.spots, strict=True):
            assert (before is None) == (after is None)
            if before is not None and after is not None:
                assert (before.session, before.choice) == (after.session, after.choice)
        laid: Plan = explained(made("tidied", tidy, unsavable(bench)), {})
        assert check(problem, laid) == []


@given(problems())
def test_what_is_fixed_stays_where_it_is(problem: PlanProblem) -> None:
    bench = Bench(problem)
    for _, state in greedy_plans(bench):
        fixed = frozenset(n for n, spot in enumerate(state.spots) if spot is not None and n % 2)
        tidy = tidied(state, fixed)
        assert all(tidy.spots[n] == state.spots[n] for n in fixed)


@given(problems())
def test_a_plan_that_is_tidy_stays(problem: PlanProblem) -> None:
    for _, state in greedy_plans(Bench(problem)):
        once = tidied(state)
        assert tidied(once).spots == once.spots


@given(problems())
def test_whatever_the_search_left_the_plan_is_filled_and_explained(problem: PlanProblem) -> None:
    found = plan(problem, effort="quick").plan
    assert check(problem, found) == []
    assert all(reason for _, reason in found.unplaced)
