"""Taking off is work like mounting: it may wait, except where its slot is used again."""

from __future__ import annotations

import json
from datetime import timedelta

from hypothesis import given, settings
from planner_cases import NOW, board, on, problem, problems, session, specimen
from planner_cases import standing as stands

from scheduler.planner.bench import PlanBench
from scheduler.planner.make import best_plan, make_plan, mend
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.referee.verdict import judge
from scheduler.planner.state import PlanState
from scheduler.record.plan_text import Kept, kept_of, text_of


def used_min(of: PlanProblem, plan: Plan) -> dict[str, int]:
    """Count the minutes of every session by hand."""
    used = {s.session: 0 for s in of.sessions}
    for p in plan.placements:
        used[p.session] += p.minutes
    for at in plan.off.values():
        used[at] += of.take_off_min
    return used


def forty_overdue() -> PlanProblem:
    """Eight boards, four of them empty; forty overdue, four fresh, one session of 90 minutes."""
    return problem(
        [board(f"B{n}", 200) for n in range(8)],
        [session(4, 90)],
        [
            specimen(f"F{n}", [f"B{n}" for n in range(8)], minutes=20, priority=10, spoils=on(5))
            for n in range(4)
        ],
        stands=[
            stands(f"T{n:02}", f"B{n % 4}", n // 4 * 20, n // 4 * 20 + 20, on(3)) for n in range(40)
        ],
        take_off_min=3,
    )


def test_fresh_ones_come_before_what_is_long_dry() -> None:
    of = forty_overdue()
    for plan in (make_plan(of), best_plan(of)):
        assert judge(of, plan) == []
        assert plan.quality.spoiled == 0
        assert used_min(of, plan) == {of.sessions[0].session: 89}, "three come off beside 80 min"
        assert len(plan.off) == 3


def test_a_day_on_which_much_is_due_is_not_over_its_minutes_and_mounts_too() -> None:
    of = problem(
        [board(f"B{n:02}", 400) for n in range(24)],
        [session(4 + n, 300) for n in range(6)],
        [specimen(f"M{n}", [f"B{n:02}" for n in range(24)], minutes=15) for n in range(30)],
        stands=[
            stands(f"T{n:03}", f"B{n // 20:02}", n % 20 * 20, n % 20 * 20 + 20, on(3))
            for n in range(400)
        ],
        take_off_min=3,
    )
    plan = make_plan(of)
    assert judge(of, plan) == []
    assert all(used <= 300 for used in used_min(of, plan).values())
    assert any(p.session == of.sessions[0].session for p in plan.placements)


def test_what_is_planned_waits_for_a_session_with_time_to_take_it_off() -> None:
    """M1 is clear on the 11th; that session is full with M2, and nobody needs the slot."""
    of = problem(
        [board("B1", 40), board("B2", 40)],
        [session(4, 10), session(11, 10), session(13, 10)],
        [
            specimen("M1", ["B1"], minutes=10, days=7, priority=9),
            specimen("M2", ["B2"], minutes=10, days=30, priority=5),
        ],
        take_off_min=2,
    )
    plan = best_plan(of)
    assert judge(of, plan) == []
    assert {p.specimen: p.session for p in plan.placements} == {
        "M1": of.sessions[0].session,
        "M2": of.sessions[1].session,
    }
    assert plan.off == {"M1": of.sessions[2].session}
    assert plan.status == "optimal"


def test_a_slot_that_is_used_again_is_free_before_that() -> None:
    of = problem(
        [board("B1", 40)],
        [session(4, 12), session(11, 12)],
        [specimen("M1", priority=3)],
        stands=[stands("T1", "B1", 0, 40, on(3))],
    )
    plan = best_plan(of)
    assert judge(of, plan) == []
    (placed,) = plan.placements
    assert placed.session == of.sessions[0].session
    assert placed.after == ("T1",)
    assert plan.off["T1"] == of.sessions[0].session


@given(problems())
@settings(deadline=None, max_examples=40)
def test_a_mended_plan_takes_off_as_it_did(of: PlanProblem) -> None:
    before = make_plan(of)
    after = mend(of, before, with_bound=False)
    assert judge(of, after) == []
    kept = {p.specimen for p in before.placements}
    order = {s.session: k for k, s in enumerate(of.sessions)}
    for name in kept & before.off.keys():
        assert order[after.off[name]] <= order[before.off[name]], "sooner, if at another session"


@given(problems())
@settings(deadline=None, max_examples=40)
def test_no_session_is_begun_with_more_to_take_off_than_it_has_time_for(of: PlanProblem) -> None:
    state = PlanState(PlanBench(of))
    assert min(state.left_min, default=0) >= 0
    for s, off in enumerate(state.stand_off):
        assert off >= state.bench.stand_first[s]


def test_a_kept_plan_says_when_everything_comes_off() -> None:
    of = forty_overdue()
    plan = make_plan(of)
    text = text_of(Kept.of(of, plan, NOW))
    assert kept_of(text, NOW).plan.off == plan.off


def test_of_a_plan_kept_before_that_was_written_all_comes_off_as_soon_as_it_may() -> None:
    of = problem(
        [board("B1")],
        [session(4), session(11), session(13)],
        [specimen("M1", days=7)],
        stands=[stands("T1", "B1", 60, 100, on(12)), stands("T2", "B1", 50, 60, None)],
    )
    read = json.loads(text_of(Kept.of(of, make_plan(of), NOW)))
    read["dates"] = [one[:4] for one in read["dates"]]
    read["standing"] = [one[:7] for one in read["standing"]]
    off = kept_of(json.dumps(read), NOW + timedelta(hours=1)).plan.off
    assert off == {"M1": of.sessions[1].session, "T1": of.sessions[2].session}
