"""Two people at one time: a board is in one pair of hands, the chamber is shared."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from planner_cases import board, may, problem, problems, session, specimen

from scheduler.planner.make import Effort, best_plan, hand_plan, make_plan, mend
from scheduler.planner.problem import Plan, PlanProblem, PlanSession
from scheduler.planner.referee.verdict import judge


def twin(one: PlanSession, minutes: int | None = None) -> PlanSession:
    return replace(one, session=f"{one.session}-b", minutes=minutes or one.minutes)


def boards_of(plan: Plan, one: PlanSession) -> set[str]:
    return {p.board for p in plan.placements if p.session == one.session}


def test_two_people_never_work_on_one_board_at_one_hour() -> None:
    anke = session(8, 20)
    bo = twin(anke)
    four = [specimen(f"M{n}", ("B1", "B2"), slot_mm=20) for n in range(4)]
    alone = make_plan(
        problem([board("B1")], [anke, bo], [replace(m, spare_mm={"B1": 0.5}) for m in four])
    )
    assert len(alone.placements) == 2, "one of them has the only board, and 20 minutes"
    both = make_plan(problem([board("B1"), board("B2")], [anke, bo], four))
    assert len(both.placements) == 4
    assert boards_of(both, anke) | boards_of(both, bo) == {"B1", "B2"}
    assert not boards_of(both, anke) & boards_of(both, bo)


def test_one_after_the_other_they_may() -> None:
    morning, noon = session(8, 20, hour=9), session(8, 20, hour=12)
    four = [specimen(f"M{n}", slot_mm=20) for n in range(4)]
    assert len(make_plan(problem([board("B1")], [morning, noon], four)).placements) == 4


def test_who_is_left_over_is_told_of_the_other_hands() -> None:
    anke, bo = session(8, 120, hour=14), session(8, 10, hour=15)
    late = specimen("L", slot_mm=20, open_at=may(8, 15) - timedelta(hours=12))
    crowd = [specimen(f"M{n}", slot_mm=20) for n in range(4)]
    plan = make_plan(problem([board("B1")], [anke, bo], [*crowd, late]))
    assert plan.unplaced == (
        ("L", "every board that fits (B1) is full or in other hands on Sat 8 May 15:00"),
    )


def test_the_referee_finds_two_pairs_of_hands() -> None:
    anke, bo = session(8, 20, hour=9), session(8, 20, hour=12)
    of = problem([board("B1")], [anke, bo], [specimen(f"M{n}", slot_mm=20) for n in range(4)])
    plan = make_plan(of)
    at_once = replace(of, sessions=(anke, replace(bo, start=may(8, 9))))
    assert "two pairs of hands" in {fault.kind for fault in judge(at_once, plan)}


@given(problems())
def test_with_everybody_there_twice_every_plan_stands_before_the_referee(of: PlanProblem) -> None:
    double = with_twins(of)
    for plan in (make_plan(double), hand_plan(double), mend(double, make_plan(of))):
        assert judge(double, plan) == []


def with_twins(of: PlanProblem) -> PlanProblem:
    sessions = tuple(s for one in of.sessions for s in (one, twin(one)))
    waiting = tuple(replace(w, first=2 * w.first, last=2 * w.last + 1) for w in of.waiting)
    return replace(of, sessions=sessions, waiting=waiting)


@pytest.mark.parametrize("effort", ["quick", "normal"])
def test_the_search_keeps_to_it_on_crowded_boards(effort: Effort) -> None:
    names = [f"B{n}" for n in range(4)]
    days = [session(8 + 7 * week, 60, hour=9) for week in range(3)]
    sessions = [s for one in days for s in (one, twin(one, 45))]
    crowd = [
        specimen(f"M{n:02}", names[n % 3 :], slot_mm=17 + 7 * (n % 5), priority=1 + n % 4)
        for n in range(40)
    ]
    of = problem([board(name) for name in names], sessions, crowd, places=30)
    plan = best_plan(of, effort=effort)
    assert judge(of, plan) == []
    assert all(any(p.session == s.session for p in plan.placements) for s in sessions[:2])
