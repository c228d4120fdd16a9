"""A finished plan pushed to the left: nothing else about it changes."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from planner_cases import board, problem, problems, session, specimen

from scheduler.planner.bench import PlanBench
from scheduler.planner.finish import explained, made, tidied, tiers
from scheduler.planner.make import best_plan, make_plan
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import fill_up, greedy_plans
from scheduler.planner.referee.verdict import judge


@given(problems())
def test_a_tidied_plan_is_as_good_and_only_positions_differ(problem: PlanProblem) -> None:
    bench = PlanBench(problem)
    for _, state in greedy_plans(bench):
        tidy = tidied(state)
        assert tiers(tidy) == tiers(state)
        for before, after in zip(state.spots, tidy.spots, strict=True):
            assert (before is None) == (after is None)
            if before is not None and after is not None:
                assert (before.session, before.choice) == (after.session, after.choice)
        fill_up(tidy, anyway=True)  # laid in one piece, the groove may hold one more
        laid: Plan = explained(made("tidied", tidy, unsavable(bench)), {})
        assert judge(problem, laid) == []


@given(problems())
def test_what_is_fixed_stays_where_it_is(problem: PlanProblem) -> None:
    bench = PlanBench(problem)
    for _, state in greedy_plans(bench):
        fixed = frozenset(n for n, spot in enumerate(state.spots) if spot is not None and n % 2)
        tidy = tidied(state, fixed)
        assert all(tidy.spots[n] == state.spots[n] for n in fixed)


@given(problems())
def test_a_plan_that_is_tidy_stays(problem: PlanProblem) -> None:
    for _, state in greedy_plans(PlanBench(problem)):
        once = tidied(state)
        assert tidied(once).spots == once.spots


@given(problems())
def test_whatever_the_search_left_the_plan_is_filled_and_explained(problem: PlanProblem) -> None:
    found = best_plan(problem, effort="quick")
    assert judge(problem, found) == []
    assert all(reason for _, reason in found.unplaced)


def test_the_board_with_the_stoutest_is_mounted_first_and_each_board_from_the_left() -> None:
    """Whoever runs out of minutes leaves a slender one."""
    slender = [specimen(f"M{n}", {"B1": 0.5}, slot_mm=20) for n in range(2)]
    stout = replace(specimen("M9", {"B2": 0.5}), body_mm=9.0)
    of = problem([board("B1"), board("B2")], [session(8)], [*slender, stout])
    found = make_plan(of).placements
    assert [(p.specimen, p.board, p.from_mm) for p in found] == [
        ("M9", "B2", 0),
        ("M0", "B1", 0),
        ("M1", "B1", 20),
    ]
