"""Plans: by hand, greedy, the better of them; and laws that every plan keeps."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import timedelta
from itertools import permutations
from random import Random
from typing import TypeVar

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planner_cases import (
    NOW,
    board,
    fresh_state,
    may,
    on,
    problem,
    problems,
    session,
    specimen,
    takes,
)
from planner_cases import standing as stands

from scheduler.planner.finish import taken_off
from scheduler.planner.make import as_placements, hand_plan, make_plan
from scheduler.planner.problem import Plan, Planned, PlanProblem
from scheduler.planner.quality import quality
from scheduler.planner.quick import by_hand
from scheduler.planner.referee.verdict import judge
from scheduler.planner.state import PlanBench

_T = TypeVar("_T")


def _where(plan: Plan) -> dict[str, tuple[str, str, int]]:
    return {p.specimen: (p.session, p.board, p.from_mm) for p in plan.placements}


def _one(of: PlanProblem) -> Planned:
    (placement,) = make_plan(of).placements
    return placement


@given(problems())
@settings(max_examples=200, deadline=None)
def test_the_referee_accepts_every_plan(of: PlanProblem) -> None:
    result = make_plan(of)
    assert judge(of, result) == []
    assert judge(of, hand_plan(of)) == []


@given(problems())
@settings(deadline=None)
def test_no_two_specimens_share_a_mm_of_groove_in_any_session(of: PlanProblem) -> None:
    days = [s.on for s in of.sessions]
    taken: Counter[tuple[str, int, int]] = Counter()
    spans = [(s.board, s.from_mm, s.to_mm, days[0], s.free_on) for s in of.standing]
    begins = {s.session: s.on for s in of.sessions}
    for p in make_plan(of).placements:
        spans.append((p.board, p.from_mm, p.to_mm, begins[p.session], p.clear))
    for name, from_mm, to_mm, since, clear in spans:
        for k, day in enumerate(days):
            if since <= day and (clear is None or day < clear):
                taken.update((name, mm, k) for mm in range(from_mm, to_mm))
    assert all(count == 1 for count in taken.values())


@given(problems())
@settings(deadline=None)
def test_a_plan_is_never_worse_than_by_hand(of: PlanProblem) -> None:
    result = make_plan(of)
    assert result.by_hand == hand_plan(of).quality
    assert result.quality <= result.by_hand


@given(problems(), st.randoms())
@settings(deadline=None)
def test_the_same_problem_in_any_order_gets_the_same_plan(
    of: PlanProblem, shuffled: Random
) -> None:
    def mixed(things: tuple[_T, ...]) -> tuple[_T, ...]:
        return tuple(shuffled.sample(things, len(things)))

    other = replace(
        of,
        waiting=mixed(of.waiting),
        boards=mixed(of.boards),
        standing=mixed(of.standing),
    )
    assert make_plan(other) == make_plan(of)


@given(problems())
@settings(deadline=None)
def test_every_waiting_specimen_is_planned_or_has_a_reason(of: PlanProblem) -> None:
    plan = make_plan(of)
    named = [p.specimen for p in plan.placements] + [name for name, _ in plan.unplaced]
    assert sorted(named) == sorted(w.specimen for w in of.waiting)
    assert all(reason for _, reason in plan.unplaced)


@given(problems())
@settings(deadline=None)
def test_the_slot_ledger_and_the_quality_agree_on_days_waited(of: PlanProblem) -> None:
    state = by_hand(PlanBench(of))
    bench = state.bench
    days = sum(
        bench.waits_on(n) if spot is None else bench.waits(n, spot.session, spot.choice)
        for n, spot in enumerate(state.spots)
    )
    days += sum(bench.left_days(s, off) for s, off in enumerate(state.stand_off))
    assert quality(of, as_placements(state), taken_off(state)).weighted_waiting_days == days


_JOBS = st.lists(st.tuples(st.integers(1, 10), st.integers(2, 9)), min_size=1, max_size=5)


@given(_JOBS)
@settings(deadline=None)
def test_one_slot_is_given_in_the_order_of_priority_over_days_smith_1956(
    jobs: list[tuple[int, int]],
) -> None:
    """W. E. Smith 1956, Naval Research Logistics Quarterly 3: weight over time is optimal.

    One slot, a session every day, everything soft at once: the board is one machine.
    """
    waiting = [
        specimen(f"M{n}", days=days, priority=priority) for n, (priority, days) in enumerate(jobs)
    ]
    horizon = sum(days for _, days in jobs)
    of = problem([board("B1", 40)], [session(4 + n) for n in range(horizon)], waiting)
    plan = make_plan(of)
    assert len(plan.placements) == len(jobs)
    planned = {p.specimen: p for p in plan.placements}
    ratios = [_ratio(jobs, p.specimen) for p in planned.values()]
    assert ratios == sorted(ratios, reverse=True)
    best = min(_weighted_start(order) for order in permutations(jobs))
    soft_on = waiting[0].soft_at.date()
    assert plan.quality.weighted_waiting_days == best + sum(
        priority * (on(4) - soft_on).days for priority, _ in jobs
    )


def _ratio(jobs: list[tuple[int, int]], name: str) -> float:
    priority, days = jobs[int(name[1:])]
    return priority / days


def _weighted_start(order: tuple[tuple[int, int], ...]) -> int:
    start = total = 0
    for priority, days in order:
        total += priority * start
        start += days
    return total


def test_equal_days_on_one_slot_go_by_priority() -> None:
    waiting = [specimen(f"M{n}", priority=n) for n in (3, 9, 1, 7)]
    of = problem([board("B1", 40)], [session(4 + n) for n in range(40)], waiting)
    assert [p.specimen for p in make_plan(of).placements] == ["M9", "M7", "M3", "M1"]


def test_by_hand_takes_the_tightest_board_and_the_first_free_stretch() -> None:
    of = problem(
        [board("B1"), board("B2"), board("B3")],
        [session(5)],
        [specimen("M1", {"B1": 3.0, "B2": 0.4, "B3": 0.9})],
        stands=[stands("M0", "B2", 0, 30, None)],
    )
    assert _where(hand_plan(of)) == {"M1": (of.sessions[0].session, "B2", 30)}


def test_a_board_to_be_packed_is_taken_only_when_no_other_is_free() -> None:
    fits = {"B1": 4.0, "B2": 6.0}
    waiting = [specimen(name, fits, slot_mm=100, pack=["B1"]) for name in ("M1", "M2")]
    of = problem([board("B1"), board("B2")], [session(5)], waiting)
    planned = _where(hand_plan(of))
    assert planned["M1"][1] == "B2"
    assert planned["M2"][1] == "B1"


def test_by_hand_serves_the_perishable_before_the_earlier_comer() -> None:
    waiting = [
        specimen("M1"),
        specimen("M2", open_at=NOW + timedelta(hours=2), spoils=on(5)),
    ]
    of = problem([board("B1", 40)], [session(5)], waiting)
    assert list(_where(hand_plan(of))) == ["M2"]


def test_the_perishable_with_the_earliest_last_session_is_saved_first() -> None:
    waiting = [specimen("M1", spoils=on(12)), specimen("M2", spoils=on(6))]
    of = problem([board("B1", 40)], [session(5), session(12)], waiting)
    plan = make_plan(of)
    assert {name: where[0] for name, where in _where(plan).items()} == {
        "M2": of.sessions[0].session,
        "M1": of.sessions[1].session,
    }
    assert plan.quality.spoiled == 0


def test_damp_air_is_used_only_for_what_would_spoil() -> None:
    keeps, spoils = specimen("M1", days=None), specimen("M2", days=None, spoils=on(8))
    of = problem([board("B1", 100)], [session(5), session(12)], [keeps, spoils])
    plan = make_plan(of)
    (saved,) = plan.placements
    assert (saved.specimen, saved.due, saved.clear, saved.basis) == ("M2", None, None, None)
    assert plan.unplaced == (
        (
            "M1",
            "body 4.5 mm: in the air of study no time can be promised, "
            "and no other room has a board that fits",
        ),
    )


def test_a_perishable_prefers_a_later_session_in_dry_air_to_damp_air_now() -> None:
    rooms = {"study": takes(5, 7), "cellar": None}
    of = problem(
        [board("B1", 40), board("B2", 40, "cellar")],
        [session(5), session(8)],
        [specimen("M1", ["B1", "B2"], rooms=rooms, spoils=on(9))],
        stands=[stands("M0", "B1", 0, 40, on(8))],
    )
    placement = _one(of)
    assert (placement.board, placement.mount_at) == ("B1", may(8))


def test_the_slot_of_one_that_is_due_is_given_after_it_is_tested() -> None:
    of = problem(
        [board("B1", 90)],
        [session(5)],
        [specimen("M1")],
        stands=[stands("M0", "B1", 10, 50, on(3)), stands("M9", "B1", 50, 90, None)],
    )
    assert (_one(of).from_mm, _one(of).after) == (0, ("M0",))


def test_into_the_chamber_at_the_latest_chamber_time_that_keeps_the_first_look() -> None:
    placement = _one(problem([board("B1")], [session(8)], [specimen("M1", first_look_hours=24)]))
    assert placement.relax_from == may(6, 20)
    assert placement.out_by == may(9, 20)


def test_into_the_chamber_just_in_time_when_it_comes_after_the_chamber_time() -> None:
    late = specimen("M1", open_at=may(7, 21), first_look_hours=12)
    assert _one(problem([board("B1")], [session(8)], [late])).relax_from == may(8, 2)


def test_what_is_in_the_chamber_stays_from_when_it_was_put_in() -> None:
    since = NOW - timedelta(hours=20)
    placement = _one(problem([board("B1")], [session(4)], [specimen("M1", chamber_since=since)]))
    assert (placement.relax_from, placement.out_by) == (since, since + timedelta(hours=72))


def test_a_place_in_the_chamber_that_a_planned_one_leaves_is_used_again() -> None:
    waiting = [
        specimen("M1", priority=9, spoils=on(6)),
        specimen("M2", chamber_since=NOW - timedelta(hours=2), most_hours=96),
    ]
    of = problem([board("B1")], [session(4), session(6)], waiting, places=1)
    planned = _where(hand_plan(of))
    assert sorted(planned) == ["M1", "M2"]


def test_a_running_session_mounts_now_what_is_soft_already() -> None:
    of = problem(
        [board("B1")], [session(3, 60, hour=9)], [specimen("M1", chamber_since=may(2, 20))]
    )
    running = replace(of.sessions[0], running=True)
    of = replace(of, sessions=(running,), waiting=(replace(of.waiting[0], first=0, last=0),))
    assert _one(of).mount_at == NOW
    assert judge(of, make_plan(of)) == []


def test_due_and_clear_follow_from_the_mounting_date_and_the_rooms_days() -> None:
    placement = _one(problem([board("B1")], [session(8)], [specimen("M1", days=7)]))
    assert (placement.min_days, placement.plan_days) == (5, 7)
    assert (placement.due, placement.clear) == (on(13), on(15))
    assert (placement.rule_ids, placement.basis) == (("fresh-4.5",), "scaled")


def test_without_any_session_everything_waits() -> None:
    of = problem([board("B1")], [session(8)], [specimen("M1")])
    none = replace(of, sessions=(), waiting=(replace(of.waiting[0], first=0, last=-1),))
    assert make_plan(none).unplaced == (("M1", "there is no session to mount it in"),)


def test_a_state_refuses_to_take_out_what_is_not_planned() -> None:
    state = fresh_state(problem([board("B1")], [session(8)], [specimen("M1")]))
    with pytest.raises(ValueError, match="M1 is not planned"):
        state.remove(0)
