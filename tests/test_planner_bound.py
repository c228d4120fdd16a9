"""The bound: never above any plan, whatever the prices; and what its prices promise is true."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import product
from pathlib import Path
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planner_cases import NOW, board, every_off, on, problem, problems, session, specimen, standing

sys.path.insert(0, str(Path(__file__).parent / "bench"))

from instances import instance

from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.ascent import climb, heaped
from scheduler.planner.bound.find import find_bound
from scheduler.planner.bound.market import Prices, market
from scheduler.planner.bound.priced import Bound, ByLength, bound, in_whole_days
from scheduler.planner.bound.program import Program, counted_bound
from scheduler.planner.bound.stock import groove_counts
from scheduler.planner.finish import tiers
from scheduler.planner.make import best_plan, make_plan
from scheduler.planner.problem import PlanProblem
from scheduler.planner.state import PlanState, roomiest


def least_waiting(of: PlanProblem, spoiling: int) -> int | None:
    """Return the least weighted waiting of all plans, by trying every session and position.

    Everything that can be mounted is tried in every order of boards and mm: only for very
    small problems. None where every plan lets more than `spoiling` priority spoil.
    """
    bench = PlanBench(of)
    best: int | None = None
    options = []
    for n, w in enumerate(bench.waiting):
        found: list[tuple[int, int, int] | None] = [None]
        for m, choice in enumerate(bench.choices[n] + bench.refused[n]):
            most = bench.boards[choice.board].length_mm - w.slot_mm
            for k in range(w.first, w.last + 1):
                found += [(k, m, mm) for mm in range(0, most + 1, 5)]
        options.append(found)
    for picked in product(*options):
        state = roomiest(bench)
        ordered = sorted((p[0], n) for n, p in enumerate(picked) if p is not None)
        for _, n in ordered:
            k, m, mm = picked[n] or (0, 0, 0)
            choice = (bench.choices[n] + bench.refused[n])[m]
            if not _slot_is_free(state, n, k, m, mm):
                break
            state.insert(n, k, choice, mm, bench.off_at(k, choice.plan_days))
        else:
            spoiled, waits = tiers(state)
            if spoiled > spoiling or (best is not None and waits >= best):
                continue
            if _within_places(state):
                best = _least_off(state, best, waits)
    return best


def _least_off(state: PlanState, best: int | None, least: int) -> int | None:
    """Return the least waiting by any way of taking off, or `best`; none is below `least`."""
    for whole in every_off(state.bench, state.spots):
        waits = tiers(whole)[1]
        best = waits if best is None else min(best, waits)
        if best <= least:
            break
    return best


def _slot_is_free(state: PlanState, n: int, k: int, m: int, mm: int) -> bool:
    bench = state.bench
    choice = (bench.choices[n] + bench.refused[n])[m]
    free = state.free(choice.board, k, bench.off_at(k, choice.plan_days))
    slot = ((1 << bench.waiting[n].slot_mm) - 1) << mm
    return free & slot == slot


def _crowded(rng: Random) -> PlanProblem:
    """Return two short boards with little free beside what stands there, and longer slots."""
    boards = [board("B1", 35), board("B2", rng.choice((25, 30)))]
    stands = [
        standing("T1", "B1", 15, 20, on(rng.randint(5, 9))),
        standing("T2", "B2", 0, rng.choice((5, 15)), on(rng.randint(5, 9))),
    ]
    waiting = [
        specimen(
            f"M{n}",
            ("B1", "B2") if rng.random() < 0.5 else ("B1",),
            slot_mm=rng.choice((10, 15, 15, 20)),
            days=rng.choice((3, 6)),
            priority=rng.randint(1, 4),
        )
        for n in range(4)
    ]
    return problem(boards, [session(4 + 3 * k, 60) for k in range(3)], waiting, stands=stands)


def _within_places(state: PlanState) -> bool:
    """Say whether the chamber has room whenever something is put in, counted one by one."""
    bench, places = state.bench, state.bench.problem.chamber_places
    inside, begins = [], []
    for n, spot in enumerate(state.spots):
        stay = bench.stay[n]
        spell = stay if spot is None else bench.in_chamber[n][spot.session]
        if spell is not None:
            inside.append(spell)
            begins += [] if stay is not None else [spell[0]]
    full = (sum(since <= t < until for since, until in inside) for t in begins)
    return places is None or all(number <= places for number in full)


def _small(rng: Random, take_off_min: int, places: int | None = None) -> PlanProblem:
    """Return one board or two, three sessions, four specimens of 10 or 20 mm.

    With a chamber of so many places, every second time one or two are in it already.
    """
    inside = rng.choice((0, 0, 1, 2)) if places is not None else 0
    boards = [board("B1", 30), board("B2", rng.choice((10, 20)))]
    sessions = [session(4 + 3 * k, rng.choice((10, 15, 25, 40))) for k in range(3)]
    waiting = [
        specimen(
            f"M{n}",
            ("B1", "B2") if rng.random() < 0.5 else ("B1",),
            slot_mm=rng.choice((10, 20)),
            days=rng.choice((2, 3, 6, None)),
            minutes=rng.choice((5, 10)),
            priority=rng.randint(1, 4),
            spoils=on(rng.randint(5, 12)) if rng.random() < 0.3 else None,
            wanted_by=on(rng.randint(6, 20)) if rng.random() < 0.3 else None,
            chamber_since=NOW - timedelta(hours=6) if n < inside else None,
        )
        for n in range(4)
    ]
    return problem(boards, sessions, waiting, take_off_min=take_off_min, places=places)


@pytest.mark.parametrize("take_off_min", [0, 5, 12])
@pytest.mark.parametrize("seed", range(6))
def test_the_bound_is_not_above_the_best_of_all_plans(seed: int, take_off_min: int) -> None:
    _not_above_the_best(_small(Random(seed), take_off_min))


@pytest.mark.parametrize("places", [1, 2])
@pytest.mark.parametrize("seed", range(8))
def test_nor_where_the_chamber_is_small(seed: int, places: int) -> None:
    _not_above_the_best(_small(Random(seed), 5, places))


@pytest.mark.parametrize("seed", range(12))
def test_nor_where_slots_leave_a_rest(seed: int) -> None:
    _not_above_the_best(_crowded(Random(seed)))


def _not_above_the_best(of: PlanProblem) -> None:
    found = best_plan(of)
    spoiled = found.quality.spoiled_priority
    best = least_waiting(of, spoiled)
    assert best is not None
    assert found.bound is not None
    assert found.bound <= best <= found.quality.weighted_waiting_days
    full = market(PlanBench(of))
    relaxed = find_bound(PlanBench(of), spoiled, 80, lambda: False)
    climbed = climb(full, full, spoiled, 80, lambda: False)
    assert in_whole_days(climbed.days) <= in_whole_days(relaxed.days) <= best


@given(problems(), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_any_prices_give_a_bound(of: PlanProblem, rng: Random) -> None:
    quality = make_plan(of).quality
    offered = market(PlanBench(of))
    free = offered.no_prices()
    prices = Prices(
        free.minute + [rng.uniform(0, 5) for _ in free.minute],
        free.mm + [[rng.uniform(0, 1) for _ in row] for row in free.mm],
        free.place + [rng.uniform(0, 20) for _ in free.place],
        rng.uniform(0, 50),
    )
    found = bound(offered, prices, quality.spoiled_priority)
    assert in_whole_days(found.days) <= quality.weighted_waiting_days


@given(problems(), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_any_prices_of_counted_slots_give_a_bound(of: PlanProblem, rng: Random) -> None:
    quality = make_plan(of).quality
    offered, held = market(PlanBench(of)), groove_counts(PlanBench(of))
    counted = np.zeros_like(held.holds)
    for _, kind, k in product(range(4), *map(range, held.longest_mm.shape)):
        counted[rng.randrange(len(counted)), kind, k] += rng.choice((0, 0.2, 5))
    rents = ByLength(offered, held, counted)
    prices, spoiling = offered.no_prices(), quality.spoiled_priority
    found = counted_bound(offered, prices, rents, counted, spoiling)
    assert in_whole_days(found) <= quality.weighted_waiting_days


@given(st.integers(5, 70), st.lists(st.integers(5, 40), min_size=1, max_size=4))
@settings(max_examples=80, deadline=None)
def test_a_stretch_holds_what_some_filling_of_it_counts(free_mm: int, slots_mm: list[int]) -> None:
    waiting = [specimen(f"M{n}", slot_mm=mm) for n, mm in enumerate(slots_mm)]
    held = groove_counts(PlanBench(problem([board("B1", free_mm)], [session(4)], waiting)))
    fillings = [held.counts @ filled for filled in _fillings(held.slots_mm.tolist(), free_mm)]
    assert held.holds[:, 0, 0].tolist() == np.max(fillings, axis=0).tolist()


def _fillings(slots_mm: list[int], free_mm: int) -> Iterator[list[int]]:
    """Yield how often each slot lies on a board, in every way."""
    if not slots_mm:
        yield []
        return
    for often in range(free_mm // slots_mm[0] + 1):
        for rest in _fillings(slots_mm[1:], free_mm - often * slots_mm[0]):
            yield [often, *rest]


@given(problems())
@settings(max_examples=40, deadline=None)
def test_heaps_and_steps_only_cost_tightness(of: PlanProblem) -> None:
    quality = make_plan(of).quality
    full = market(PlanBench(of))
    if not len(full.owner):
        return
    found = climb(heaped(full, 2), full, quality.spoiled_priority, 40, lambda: False)
    assert in_whole_days(found.days) <= quality.weighted_waiting_days


@dataclass(frozen=True)
class _Change:
    """A problem with more of one thing, the price of it, and how much more."""

    before: PlanProblem
    after: PlanProblem
    price: float
    more: float


def _more_minutes(of: PlanProblem, prices: Prices, at: int, more: int) -> _Change | None:
    """Return more minutes in a session; None where the first ones would let something in.

    What can be used of the minutes grows by a few more or less than the session does.
    """
    sessions = tuple(
        replace(s, minutes=s.minutes + (more if k == at else 0)) for k, s in enumerate(of.sessions)
    )
    now, after = market(PlanBench(of)).supply, replace(of, sessions=sessions)
    if not now.open[at] or now.full[at]:
        return None
    usable = market(PlanBench(after)).supply.minutes[at] - now.minutes[at]
    return _Change(of, after, float(prices.minute[at]), float(usable))


def _more_groove(of: PlanProblem, prices: Prices, name: str, more_mm: int) -> _Change:
    longer = tuple(
        replace(b, length_mm=b.length_mm + (more_mm if b.board == name else 0)) for b in of.boards
    )
    return _Change(of, replace(of, boards=longer), _price_of_mm(of, prices, name), more_mm)


def _one_more_board(of: PlanProblem, prices: Prices, like: str) -> _Change:
    (one,) = (b for b in of.boards if b.board == like)
    twin = like + "-twin"
    waiting = tuple(
        replace(
            w,
            spare_mm={**w.spare_mm, twin: w.spare_mm[like]},
            pack=w.pack | {twin} if like in w.pack else w.pack,
        )
        if like in w.spare_mm
        else w
        for w in of.waiting
    )
    after = replace(of, boards=(*of.boards, replace(one, board=twin)), waiting=waiting)
    return _Change(of, after, _price_of_mm(of, prices, like), one.length_mm)


def _price_of_mm(of: PlanProblem, prices: Prices, name: str) -> float:
    bench = PlanBench(of)
    return float(prices.mm[bench.kind_of[bench.board_number[name]]].sum())


def _found(of: PlanProblem, spoiling: int) -> Bound:
    return find_bound(PlanBench(of), spoiling, 60, lambda: False)


def _by_prices(found: Bound, of: PlanProblem, spoiling: int) -> float:
    """Return the bound that its prices alone give: summed lengths only."""
    return bound(market(PlanBench(of)), found.prices, spoiling).days


def _keeps_its_promise(before: Bound, change: _Change, spoiling: int) -> None:
    """Say whether the bound, at the old prices and found anew, falls no further than promised.

    The old prices are no secret of the old problem: they give a bound of the changed one too,
    and it falls by price x change exactly. Found anew, the bound is the best over all prices
    and so no lower, if the search for prices goes on until no offer pays; the programs of
    these sizes do. Beyond `EXACTLY` offers prices are climbed in a set number of steps, and
    the new bound may come out a little below the old prices' one. The slack is what a linear
    program leaves of its own precision.
    """
    promised = (
        _by_prices(before, change.before, spoiling)
        - change.price * change.more
        - 1e-6 * (1 + abs(before.days))
    )
    assert bound(market(PlanBench(change.after)), before.prices, spoiling).days >= promised
    assert _found(change.after, spoiling).days >= promised


@given(problems(), st.integers(1, 60), st.integers(0, 4))
@settings(max_examples=60, deadline=None)
def test_more_minutes_save_no_more_than_their_price(of: PlanProblem, more: int, at: int) -> None:
    spoiling = make_plan(of).quality.spoiled_priority
    before = _found(of, spoiling)
    change = _more_minutes(of, before.prices, at % len(of.sessions), more)
    if change is not None:
        _keeps_its_promise(before, change, spoiling)


@given(problems(), st.integers(1, 60))
@settings(max_examples=60, deadline=None)
def test_more_groove_saves_no_more_than_its_price(of: PlanProblem, more_mm: int) -> None:
    spoiling = make_plan(of).quality.spoiled_priority
    before = _found(of, spoiling)
    name = of.boards[0].board
    _keeps_its_promise(before, _more_groove(of, before.prices, name, more_mm), spoiling)


@given(problems())
@settings(max_examples=60, deadline=None)
def test_one_more_board_saves_no_more_than_its_price(of: PlanProblem) -> None:
    spoiling = make_plan(of).quality.spoiled_priority
    before = _found(of, spoiling)
    _keeps_its_promise(before, _one_more_board(of, before.prices, of.boards[0].board), spoiling)


def test_in_a_season_the_scarcest_save_no_more_than_their_price() -> None:
    of = instance("season", 1)
    spoiling = make_plan(of).quality.spoiled_priority
    before = _found(of, spoiling)
    bench = PlanBench(of)
    sessions = sorted(range(len(of.sessions)), key=lambda k: -before.prices.minute[k])
    boards = sorted(bench.board_number, key=lambda b: -_price_of_mm(of, before.prices, b))
    assert before.prices.minute[sessions[0]] > 1
    assert _price_of_mm(of, before.prices, boards[0]) > 0.05
    for change in (
        _more_minutes(of, before.prices, sessions[0], 30),
        _more_minutes(of, before.prices, sessions[3], 120),
        _more_groove(of, before.prices, boards[0], 100),
        _one_more_board(of, before.prices, boards[0]),
    ):
        assert change is not None
        _keeps_its_promise(before, change, spoiling)


def test_a_session_that_takes_nothing_has_no_price() -> None:
    """The 4th has minutes for taking off alone, the 6th too few even for that."""
    of = problem(
        [board("B1", 60)],
        [session(4, 5), session(6, 4), session(12, 30)],
        [specimen("M1", slot_mm=10)],
        stands=[standing("T1", "B1", 50, 60, on(4))],
        take_off_min=5,
    )
    assert set(best_plan(of).scarce.minute) == {of.sessions[0].session, of.sessions[2].session}


def test_what_could_not_be_taken_off_in_its_session_waits_for_another() -> None:
    """Three wait a day each and would all come off on the 7th: 30 minutes in a session of 10."""
    of = problem(
        [board("B1", 30)],
        [session(4, 30), session(7, 10), session(12, 30)],
        [specimen(f"M{n}", slot_mm=10, days=3) for n in range(3)],
        take_off_min=10,
    )
    assert best_plan(of).quality.weighted_waiting_days == 3, "two come off on the 12th"
    found = best_plan(replace(of, weights=replace(of.weights, off_sessions=0)))
    assert found.quality.weighted_waiting_days == 1 + 9 + 9
    assert (found.status, found.bound) == ("optimal", 19)


@pytest.mark.parametrize("solved", [0, 1, 2])
def test_a_program_that_the_solver_gives_up_leaves_the_bound_of_before(
    solved: int, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Of a program that was not solved nobody asks the prices: the solver would cry for each."""
    left = iter([True] * solved)
    solve = Program.solve
    monkeypatch.setattr(Program, "solve", lambda one: next(left, False) and solve(one))
    of = instance("weekend", 2)
    waits = make_plan(of).quality.weighted_waiting_days
    found = find_bound(PlanBench(of), 0, 300, lambda: False)
    assert 0 <= found.days <= waits
    assert capfd.readouterr().err == ""


def _one_at_a_time(places: int | None) -> PlanProblem:
    """Return five that one evening could mount, if there were places to relax them all."""
    sessions = [session(4 + 3 * k, 60) for k in range(3)]
    waiting = [specimen(f"M{n}", slot_mm=10, days=3) for n in range(5)]
    return problem([board("B1", 60)], sessions, waiting, places=places)


def test_a_small_chamber_has_its_price() -> None:
    """Of five, two are mounted each evening and one at the third: 1 + 1 + 4 + 4 + 7 days."""
    of = _one_at_a_time(2)
    prices = _found(of, 0).prices
    assert prices.place.max() > 1
    found = best_plan(of)
    assert (found.quality.weighted_waiting_days, found.bound) == (17, 17)
    full = market(PlanBench(of))
    assert climb(full, full, 0, 300, lambda: False).days > 16


@pytest.mark.parametrize("places", [None, 5])
def test_a_chamber_that_cannot_be_too_full_has_no_price(places: int | None) -> None:
    of = _one_at_a_time(places)
    assert not market(PlanBench(of)).places.binds.any()
    assert not _found(of, 0).prices.place.any()


def test_one_that_is_relaxed_already_holds_its_place_until_it_is_mounted() -> None:
    """M0 may stay to the 6th; the others relax in the one place only once it is mounted."""
    waiting = [
        specimen("M0", slot_mm=10, days=3, chamber_since=NOW - timedelta(hours=6)),
        specimen("M1", slot_mm=10, days=3),
        specimen("M2", slot_mm=10, days=3, priority=2),
    ]
    of = problem([board("B1", 60)], [session(4), session(5), session(6)], waiting, places=1)
    found = best_plan(of)
    assert found.bound == found.quality.weighted_waiting_days == least_waiting(of, 0)


def test_a_board_holds_whole_slots_only() -> None:
    """One of 30 mm lies on 50 mm, not one and two thirds: 1, 4 and 7 days, 10 with the end."""
    sessions = [session(4 + 3 * k, 60) for k in range(3)]
    waiting = [specimen(f"M{n}", slot_mm=30, days=3) for n in range(3)]
    of = problem([board("B1", 50)], sessions, waiting)
    found = _found(of, 0)
    assert _by_prices(found, of, 0) < 11
    assert in_whole_days(found.days) == 1 + 4 + 7 == best_plan(of).quality.weighted_waiting_days


def test_between_two_that_stand_nothing_longer_is_promised() -> None:
    """40 mm are free, but 20 on either side of one that stays to the 9th."""
    of = problem(
        [board("B1", 60)],
        [session(4), session(7), session(10)],
        [specimen("M1", slot_mm=30, days=3)],
        stands=[standing("T1", "B1", 20, 40, on(9))],
    )
    found = _found(of, 0)
    assert in_whole_days(_by_prices(found, of, 0)) == 1
    assert in_whole_days(found.days) == 7
    assert best_plan(of).quality.weighted_waiting_days == 7
