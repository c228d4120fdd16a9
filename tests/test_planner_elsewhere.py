"""Another board: what is offered can be done, pinned specimens stay, and the rest gives way."""

from __future__ import annotations

from datetime import timedelta
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st
from planner_cases import NOW, board, problem, problems, session, specimen

from scheduler.planner.elsewhere import places_for, with_place
from scheduler.planner.make import best_plan, mend
from scheduler.planner.problem import PlanProblem
from scheduler.planner.referee.verdict import judge


@given(problems(), st.randoms(use_true_random=False))
@settings(max_examples=30, deadline=None)
def test_what_is_offered_is_kept_and_the_referee_accepts_it(of: PlanProblem, rng: Random) -> None:
    kept = best_plan(of, effort="quick")
    names = [p.specimen for p in kept.placements]
    pinned = frozenset(n for n in names if rng.random() < 0.3)
    before = {p.specimen: p for p in kept.placements}
    for w in of.waiting:
        for s in of.sessions:
            others = pinned - {w.specimen}
            for place in places_for(of, kept, w.specimen, s.session, others):
                assert not others & set(place.yields)
                wished = with_place(of, kept, w.specimen, s.session, place)
                made = mend(of, wished, keep=others | {w.specimen}, rounds=0, with_bound=False)
                assert judge(of, made) == []
                now = {p.specimen: p for p in made.placements}
                there = now[w.specimen]
                assert (there.session, there.board) == (s.session, place.board)
                assert (there.from_mm, there.to_mm) == (place.from_mm, place.to_mm)
                assert all(now[n] == before[n] for n in others)


def test_a_place_in_the_chamber_counts_until_whoever_is_inside_comes_out() -> None:
    # One place: A is inside, B goes in when A came out, to be mounted two days later.
    of = problem(
        [board("B1", 80), board("B2", 80)],
        [session(4), session(6)],
        [
            specimen("A", ("B1", "B2"), chamber_since=NOW - timedelta(hours=20)),
            specimen("B", ("B1", "B2"), first_look_hours=24),
        ],
        places=1,
    )
    kept = best_plan(of, effort="quick")
    (first, later) = (s.session for s in of.sessions)
    assert {p.specimen: p.session for p in kept.placements} == {"A": first, "B": later}
    for there in ("B1", "B2"):
        (place,) = (p for p in places_for(of, kept, "B", later, frozenset()) if p.board == there)
        wished = with_place(of, kept, "B", later, place)
        made = mend(of, wished, keep=frozenset({"B"}), rounds=0, with_bound=False)
        assert {p.specimen: p.board for p in made.placements}["B"] == there
    # Kept waiting inside, A would leave B no place.
    assert places_for(of, kept, "A", later, frozenset({"B"})) == []


def full() -> PlanProblem:
    """Two boards of one place each, and two specimens: each board is taken."""
    return problem(
        [board("B1", 40), board("B2", 40)],
        [session(8, 40), session(15, 40)],
        [specimen(f"M{k}", ("B1", "B2"), slot_mm=40, days=7) for k in range(2)],
        take_off_min=0,
    )


def test_on_a_full_board_it_says_who_gives_way() -> None:
    of = full()
    kept = best_plan(of, effort="quick")
    first = kept.placements[0]
    (other,) = (p for p in kept.placements if p.specimen != first.specimen)
    assert other.session == first.session
    offered = {p.board: p for p in places_for(of, kept, first.specimen, first.session, frozenset())}
    assert offered[other.board].yields == (other.specimen,)
    assert offered[first.board].yields == ()


def test_who_is_decided_gives_way_to_nobody() -> None:
    of = full()
    kept = best_plan(of, effort="quick")
    first = kept.placements[0]
    (other,) = (p for p in kept.placements if p.specimen != first.specimen)
    decided = frozenset({other.specimen})
    offered = places_for(of, kept, first.specimen, first.session, decided)
    assert [p.board for p in offered] == [first.board]
