"""Stretches of groove: a bit per mm against counting mm by mm."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from planner_cases import NOW, board, fresh_state, may, on, problem, problems, session, specimen
from planner_cases import standing as stands

from scheduler.planner.problem import PlanProblem
from scheduler.planner.state import PlanState, Spot, lowest, starts, stretch


@given(st.lists(st.booleans(), max_size=150), st.integers(1, 80))
def test_free_stretches_are_those_found_by_counting_mm_by_mm(free: list[bool], length: int) -> None:
    bits = sum(1 << mm for mm, is_free in enumerate(free) if is_free)
    counted = [mm for mm in range(len(free) - length + 1) if all(free[mm : mm + length])]
    found = starts(bits, length)
    assert [mm for mm in range(len(free)) if found >> mm & 1] == counted
    assert lowest(found) == (counted[0] if counted else -1)


@given(st.integers(0, 90), st.integers(1, 90))
def test_a_stretch_includes_its_first_mm_and_excludes_its_last(from_mm: int, length: int) -> None:
    bits = stretch(from_mm, from_mm + length)
    assert [mm for mm in range(200) if bits >> mm & 1] == list(range(from_mm, from_mm + length))


def _naive_slots(state: PlanState, number: int, k: int, n: int) -> list[int]:
    """Count free positions from who lies where, session by session and mm by mm.

    Whatever lies there keeps its mm until the session that takes it off, which may wait for one
    with minutes.
    """
    bench = state.bench
    choice = bench.choices[number][n]
    mine = range(k, state.off_at(k, choice.plan_days))
    taken: set[int] = set()
    for s, at, off_at in zip(bench.stands, bench.stand_board, state.stand_off, strict=True):
        assert off_at == len(bench.on) or (s.free_on and s.free_on.toordinal() <= bench.on[off_at])
        if at == choice.board and any(j < off_at for j in mine):
            taken.update(range(s.from_mm, s.to_mm))
    for other, spot in enumerate(state.spots):
        if spot is None or spot.choice.board != choice.board:
            continue
        days = spot.choice.plan_days
        clear = 10**9 if days is None else bench.on[spot.session] + days
        assert spot.off_at == len(bench.on) or bench.on[spot.off_at] >= clear
        if any(spot.session <= j < spot.off_at for j in mine):
            to_mm = spot.from_mm + bench.waiting[other].slot_mm
            taken.update(range(spot.from_mm, to_mm))
    length, slot = bench.boards[choice.board].length_mm, bench.waiting[number].slot_mm
    return [a for a in range(length - slot + 1) if taken.isdisjoint(range(a, a + slot))]


@given(problems(), st.data())
@settings(deadline=None)
def test_slots_on_crowded_boards_are_those_counted_mm_by_mm(
    of: PlanProblem, data: st.DataObject
) -> None:
    state = fresh_state(of)
    for number, w in enumerate(state.bench.waiting):
        for k in range(w.first, w.last + 1):
            for n, choice in enumerate(state.bench.choices[number]):
                bits = state.slots(number, k, choice)
                found = [mm for mm in range(100) if bits >> mm & 1]
                naive = _naive_slots(state, number, k, n)
                off_at = state.off_at(k, choice.plan_days)
                assert found == (naive if off_at >= 0 else [])
                if found and state.spots[number] is None and state.is_open(number, k):
                    from_mm = data.draw(st.sampled_from(found))
                    assert state.allows(number, Spot(k, choice, from_mm, off_at))
                    if data.draw(st.booleans()):
                        state.insert(number, k, choice, from_mm)
                        break
            if state.spots[number] is not None:
                break


@given(problems())
@settings(deadline=None)
def test_what_is_planned_and_taken_out_again_leaves_no_trace(of: PlanProblem) -> None:
    state, untouched = fresh_state(of), fresh_state(of)
    planned = []
    for number, w in enumerate(state.bench.waiting):
        for k in range(w.first, w.last + 1):
            for choice in state.bench.choices[number]:
                from_mm = lowest(state.slots(number, k, choice))
                if state.spots[number] is None and from_mm >= 0 and state.is_open(number, k):
                    state.insert(number, k, choice, from_mm)
                    planned.append(number)
    copied = state.copy()
    for number in reversed(planned):
        state.remove(number)
    assert _traces(state) == _traces(untouched)
    assert len(planned) == sum(spot is not None for spot in copied.spots)


def _traces(state: PlanState) -> tuple[object, ...]:
    return state.spots, state.taken, state.left_min, state.chamber.inside


def test_a_slot_is_used_again_by_the_first_session_on_its_clear_date() -> None:
    of = problem(
        [board("B1", 40)],
        [session(8), session(9)],
        [specimen("M1")],
        stands=[stands("M0", "B1", 0, 40, on(9))],
    )
    state = fresh_state(of)
    (choice,) = state.bench.choices[0]
    assert not state.allows(0, Spot(0, choice, 0, 2))
    assert state.allows(0, Spot(1, choice, 0, 2))


def test_taking_off_uses_minutes_of_the_first_session_on_the_clear_date() -> None:
    of = problem(
        [board("B1")],
        [session(8, minutes=12), session(9, minutes=11)],
        [specimen("M1", minutes=10), specimen("M2", minutes=10)],
        stands=[stands("M0", "B1", 0, 40, on(9))],
    )
    state = fresh_state(of)
    assert state.minutes_left(1) == 9
    assert state.is_open(0, 0)
    assert not state.is_open(0, 1)


def test_nothing_is_mounted_that_could_not_be_taken_off_beside_what_is_mounted_then() -> None:
    of = problem(
        [board("B1"), board("B2")],
        [session(8), session(15, minutes=10)],
        [specimen("M1", ["B1"]), specimen("M2", ["B2"], minutes=10)],
    )
    state = fresh_state(of)
    (first,), (second,) = state.bench.choices
    state.insert(1, 1, second, 0)
    assert not state.allows(0, Spot(0, first, 0, 1))
    state.remove(1)
    assert state.allows(0, Spot(0, first, 0, 1))
    state.insert(0, 0, first, 0)
    assert not state.allows(1, Spot(1, second, 0, 2))


def test_the_chamber_holds_only_so_many_at_a_time() -> None:
    of = problem(
        [board("B1", 200)],
        [session(5), session(8)],
        [specimen("M1"), specimen("M2"), specimen("M3", chamber_since=NOW)],
        places=2,
    )
    state = fresh_state(of)
    (choice,) = state.bench.choices[0]
    state.insert(0, 0, choice, 0)
    assert state.chamber_full_at(1, 0) == may(4, 20).timestamp()
    assert state.chamber_full_at(1, 1) is None, "M3 is out by Thursday 10:00"
    assert state.chamber_full_at(2, 0) is None, "it is inside already"
