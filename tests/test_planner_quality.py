"""The four tiers of a plan's quality, on cases small enough to count by hand."""

from __future__ import annotations

from datetime import timedelta

from planner_cases import board, on, problem, session, specimen
from planner_cases import standing as stands

from scheduler.planner.make import make_plan
from scheduler.planner.problem import Quality
from scheduler.planner.quality import quality


def test_what_is_left_to_spoil_counts_its_priority_and_is_named_when_nothing_saves_it() -> None:
    waiting = [
        specimen("M1", priority=3, spoils=on(9)),
        specimen("M2", priority=4, spoils=on(9), slot_mm=50),
        specimen("M3", priority=5, spoils=on(4)),
    ]
    of = problem([board("B1", 40)], [session(8)], waiting)
    none = quality(of, (), {})
    assert (none.spoiled, none.spoiled_priority) == (3, 12)
    assert none.unsavable == ("M2", "M3")


def test_what_spoils_after_the_end_of_the_plan_is_not_left_to_spoil() -> None:
    end = on(8) + timedelta(days=30)
    spoils = [end - timedelta(days=1), end]
    waiting = [specimen(f"M{n}", spoils=day) for n, day in enumerate(spoils)]
    assert quality(problem([board("B1", 40)], [session(8)], waiting), (), {}).spoiled == 1


def test_waiting_counts_from_soft_to_mounted_and_twice_what_it_stands_too_long() -> None:
    # Soft on 3 May, mounted on 8 May, clear on 15 May, wanted by 12 May: 5 + 2 x 3 days.
    of = problem([board("B1")], [session(8)], [specimen("M1", priority=2, wanted_by=on(12))])
    plan = make_plan(of)
    assert plan.quality.weighted_waiting_days == 2 * (5 + 2 * 3)


def test_what_is_not_mounted_waits_and_stands_to_the_end_of_the_plan() -> None:
    of = problem([board("B1")], [session(8)], [specimen("M1", priority=2, wanted_by=on(12))])
    to_the_end = (of.end - on(3)).days
    late = (of.end - on(12)).days
    assert quality(of, (), {}).weighted_waiting_days == 2 * (to_the_end + 2 * late)


def test_spare_groove_is_the_mean_over_what_is_planned() -> None:
    waiting = [specimen("M1", {"B1": 0.4}), specimen("M2", {"B2": 1.0})]
    of = problem([board("B1"), board("B2")], [session(8)], waiting)
    assert make_plan(of).quality.spare_groove_mm == 0.7
    assert quality(of, (), {}).spare_groove_mm == 0.0


def test_a_board_is_blocked_while_one_is_clear_and_another_is_not() -> None:
    # B1: clear on 5 May, taken off in the session of 8 May, its neighbour clear on 20 May.
    of = problem(
        [board("B1")],
        [session(8)],
        [],
        stands=[stands("M1", "B1", 0, 40, on(5)), stands("M2", "B1", 40, 80, on(20))],
    )
    assert quality(of, (), {"M1": of.sessions[0].session}).blocked_board_days == 3


def test_a_board_is_not_blocked_by_one_that_stands_alone() -> None:
    of = problem([board("B1")], [session(8)], [], stands=[stands("M1", "B1", 0, 40, on(5))])
    assert quality(of, (), {}).blocked_board_days == 0


def test_what_is_never_clear_blocks_its_board_to_the_end() -> None:
    # M1 is clear on 10 May, after the last session: 28 days to 7 June, the end of the plan.
    of = problem(
        [board("B1")],
        [session(8)],
        [],
        stands=[stands("M1", "B1", 0, 40, on(10)), stands("M2", "B1", 40, 80, None)],
    )
    assert quality(of, (), {}).blocked_board_days == (of.end - on(10)).days


def test_what_spoils_weighs_more_than_any_waiting() -> None:
    spoils_less = Quality(1, 900, 9.0, 90, 1)
    waits_less = Quality(2, 1, 0.0, 0, 1)
    assert spoils_less < waits_less
