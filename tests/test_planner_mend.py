"""Mending a kept plan: what still holds stays, and it says what moved and why."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planner_cases import board, on, problem, problems, session, specimen, standing

from scheduler.planner.make import Moved, best_plan, mend, what_moved
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.referee.verdict import judge


def _where(of: Plan) -> dict[str, tuple[str, str, int]]:
    return {p.specimen: (p.session, p.board, p.from_mm) for p in of.placements}


def _why(moved: tuple[Moved, ...]) -> dict[str, str]:
    return {one.specimen: one.why for one in moved if one.was is not None}


def attic(n: int = 4) -> PlanProblem:
    return problem(
        [board("B1", 80), board("B2", 80)],
        [session(8, 40), session(15, 40), session(22, 40)],
        [specimen(f"M{k}", ("B1", "B2"), slot_mm=40, days=7) for k in range(n)],
        take_off_min=0,
    )


@given(problems())
@settings(max_examples=60, deadline=None)
def test_an_unchanged_problem_keeps_its_plan(of: PlanProblem) -> None:
    kept = best_plan(of, effort="quick")
    mended = mend(of, kept)
    assert mended.placements == kept.placements
    assert what_moved(of, kept, mended) == ()


@given(problems(), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_the_referee_accepts_every_mended_plan(of: PlanProblem, rng: Random) -> None:
    kept = best_plan(of, effort="quick")
    gone = rng.choice(of.sessions)
    changed = replace(
        of,
        sessions=tuple(replace(s, minutes=rng.randint(1, 60)) for s in of.sessions),
        waiting=tuple(
            replace(w, last=-1, lost_at=of.now) if rng.random() < 0.1 else w
            for w in of.waiting
            if rng.random() < 0.9
        ),
    )
    assert judge(changed, mend(changed, kept)) == [], gone


def test_a_board_that_is_out_moves_only_what_was_to_go_there() -> None:
    of = attic()
    kept = best_plan(of)
    on_b2 = {p.specimen for p in kept.placements if p.board == "B2"}
    assert on_b2
    waiting = tuple(replace(w, spare_mm={"B1": 0.5}) for w in of.waiting)
    less = replace(of, boards=of.boards[:1], waiting=waiting)
    mended = mend(less, kept)
    assert _why(what_moved(less, kept, mended)) == dict.fromkeys(on_b2, "the board is gone")
    before, after = _where(kept), _where(mended)
    assert all(after[name] == before[name] for name in before.keys() - on_b2)
    assert mended.gap is not None


def test_a_session_that_is_cancelled_moves_what_was_planned_then() -> None:
    of = attic(8)
    kept = best_plan(of)
    first = of.sessions[0].session
    then = {p.specimen for p in kept.placements if p.session == first}
    later = tuple(replace(w, first=max(0, w.first - 1), last=1) for w in of.waiting)
    less = replace(of, sessions=of.sessions[1:], waiting=later)
    moved = what_moved(less, kept, mend(less, kept))
    assert _why(moved) == dict.fromkeys(then, "the session is gone")
    assert all(one.was.session == first for one in moved if one.was)


def test_fewer_minutes_send_away_no_more_than_they_must() -> None:
    of = attic()
    kept = best_plan(of)
    short = (replace(of.sessions[0], minutes=20), *of.sessions[1:])
    less = replace(of, sessions=short)
    assert list(_why(what_moved(less, kept, mend(less, kept))).values()) == [
        "no minutes",
        "no minutes",
    ]


def test_a_soft_test_holds_the_slot() -> None:
    of = attic(1)
    kept = best_plan(of)
    (one,) = kept.placements
    from planner_cases import standing

    soft = standing("OLD", one.board, one.from_mm, one.to_mm, on(12))
    held = replace(of, standing=(soft,))
    (moved,) = what_moved(held, kept, mend(held, kept))
    assert (moved.specimen, moved.why) == ("M0", "the groove is taken")
    assert moved.now is not None


def test_a_new_specimen_is_fitted_in_and_nothing_moves() -> None:
    of = attic(3)
    kept = best_plan(of)
    new = specimen("NEW", ("B1", "B2"), slot_mm=40, priority=9)
    more = problem(of.boards, of.sessions, [*of.waiting, new], take_off_min=0)
    (moved,) = what_moved(more, kept, mend(more, kept))
    assert (moved.specimen, moved.was, moved.why) == ("NEW", None, "")


@pytest.mark.parametrize("pinned", [False, True])
def test_one_that_would_spoil_displaces_one_that_keeps_unless_pinned(pinned: bool) -> None:
    of = problem([board("B1", 40)], [session(8), session(20)], [specimen("M1", slot_mm=40, days=7)])
    kept = best_plan(of)
    fresh = specimen("FRESH", slot_mm=40, days=7, spoils=on(9))
    more = problem(of.boards, of.sessions, [*of.waiting, fresh])
    mended = mend(more, kept, keep=frozenset({"M1"}) if pinned else frozenset())
    assert mended.quality.spoiled == int(pinned)
    assert (_where(mended)["M1"] == _where(kept)["M1"]) == pinned
    reason = {} if pinned else {"M1": "better elsewhere"}
    if "M1" not in _where(mended):
        reason = {"M1": "gives way to others"}
    assert _why(what_moved(more, kept, mended)) == reason


def test_what_was_mounted_meanwhile_is_no_move() -> None:
    of = attic(3)
    kept = best_plan(of)
    fewer = replace(of, waiting=of.waiting[1:])
    assert what_moved(fewer, kept, mend(fewer, kept)) == ()


def test_what_a_deed_mended_without_a_search_is_searched_the_next_time() -> None:
    waits = [specimen("M")]
    kept = best_plan(problem([board("B1")], [session(12)], waits))
    sooner = problem([board("B1")], [session(6), session(12)], waits)
    assert [p.session for p in mend(sooner, kept).placements] == ["12.05-14"], "it stands"
    searched = mend(sooner, kept, settled=False, moving=5)
    assert [p.session for p in searched.placements] == ["06.05-14"]


@pytest.mark.parametrize(("planned", "sooner", "moves"), [(8, 6, False), (22, 18, True)])
def test_what_is_planned_within_ten_days_stays_for_a_few_days_and_what_is_later_does_not(
    planned: int, sooner: int, moves: bool
) -> None:
    waits = [specimen("M")]
    kept = best_plan(problem([board("B1")], [session(planned)], waits))
    of = problem([board("B1")], [session(sooner), session(planned)], waits)
    (found,) = mend(of, kept, settled=False).placements
    assert found.session == session(sooner if moves else planned).session


def test_far_ahead_as_well_nobody_moves_for_nothing() -> None:
    waits = [specimen(f"M{n}", slot_mm=40) for n in range(2)]
    kept = best_plan(problem([board("B1", 80)], [session(22)], waits))
    turned = kept._replace(
        placements=tuple(
            p._replace(specimen=other.specimen)
            for p, other in zip(kept.placements, reversed(kept.placements), strict=True)
        )
    )
    of = problem([board("B1", 80)], [session(22)], waits)
    assert _where(mend(of, turned, settled=False)) == _where(turned)


def test_a_slot_that_is_free_sooner_than_planned_is_used_sooner() -> None:
    # What stands dries faster than it was believed to: nothing is displaced and nobody is new.
    def until(day: int) -> PlanProblem:
        old = standing("OLD", "B1", 0, 80, on(day))
        sessions, waits = [session(15), session(22)], [specimen("M", slot_mm=60)]
        return problem([board("B1", 80)], sessions, waits, stands=[old])

    kept = best_plan(until(20))
    assert [p.session for p in kept.placements] == [session(22).session]
    assert [p.session for p in mend(until(14), kept).placements] == [session(15).session]
