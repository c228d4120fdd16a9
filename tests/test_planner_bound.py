"""The bound: never above any plan, whatever the prices; and what its prices promise is true."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planner_cases import board, on, problem, problems, session, specimen

from scheduler.planner import make_plan, plan
from scheduler.planner.ascent import climb
from scheduler.planner.bench import Bench
from scheduler.planner.bound import bound, whole
from scheduler.planner.heaps import heaped
from scheduler.planner.market import Prices, market
from scheduler.planner.occupancy import State
from scheduler.planner.prices import find_bound
from scheduler.planner.problem import PlanProblem
from scheduler.planner.proposal import tiers


def least_waiting(of: PlanProblem, spoiling: int) -> int | None:
    """Return the least weighted waiting of all plans, by trying every session and position.

    Everything that can be mounted is tried in every order of boards and mm: only for very
    small problems. None where every plan lets more than `spoiling` priority spoil.
    """
    bench = Bench(of)
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
        state = State(bench)
        ordered = sorted((p[0], n) for n, p in enumerate(picked) if p is not None)
        for _, n in ordered:
            k, m, mm = picked[n] or (0, 0, 0)
            choice = (bench.choices[n] + bench.refused[n])[m]
            if not _slot_is_free(state, n, k, m, mm):
                break
            state.insert(n, k, choice, mm)
        else:
            spoiled, waits = tiers(state)
            if _within_minutes(state) and spoiled <= spoiling:
                best = waits if best is None else min(best, waits)
    return best


def _slot_is_free(state: State, n: int, k: int, m: int, mm: int) -> bool:
    bench = state.bench
    choice = (bench.choices[n] + bench.refused[n])[m]
    free = state.free(choice.board, k, bench.off_at(k, choice.plan_days))
    slot = ((1 << bench.waiting[n].slot_mm) - 1) << mm
    return free & slot == slot


def _within_minutes(state: State) -> bool:
    return all(left >= 0 for left in state.left_min)


def _small(rng: Random, take_off_min: int) -> PlanProblem:
    """Return one board or two, three sessions, four specimens of 10 or 20 mm."""
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
        )
        for n in range(4)
    ]
    return problem(boards, sessions, waiting, take_off_min=take_off_min)


@pytest.mark.parametrize("take_off_min", [0, 5, 12])
@pytest.mark.parametrize("seed", range(6))
def test_the_bound_is_not_above_the_best_of_all_plans(seed: int, take_off_min: int) -> None:
    of = _small(Random(seed), take_off_min)
    found = plan(of)
    spoiled = found.plan.quality.spoiled_priority
    best = least_waiting(of, spoiled)
    assert best is not None
    assert found.bound is not None
    assert found.bound <= best <= found.plan.quality.weighted_waiting_days
    relaxed = find_bound(Bench(of), spoiled, 80, lambda: False)
    assert whole(relaxed.days) <= best


@given(problems(), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_any_prices_give_a_bound(of: PlanProblem, rng: Random) -> None:
    quality = make_plan(of).plan.quality
    offered = market(Bench(of))
    free = offered.no_prices()
    prices = Prices(
        free.minute + [rng.uniform(0, 5) for _ in free.minute],
        free.mm + [[rng.uniform(0, 1) for _ in row] for row in free.mm],
        rng.uniform(0, 50),
    )
    found = bound(offered, prices, quality.spoiled_priority)
    assert whole(found.days) <= quality.weighted_waiting_days


@given(problems())
@settings(max_examples=40, deadline=None)
def test_heaps_and_steps_only_cost_tightness(of: PlanProblem) -> None:
    quality = make_plan(of).plan.quality
    full = market(Bench(of))
    if not len(full.owner):
        return
    found = climb(heaped(full, 2), full, quality.spoiled_priority, 40, lambda: False)
    assert whole(found.days) <= quality.weighted_waiting_days


@given(problems(), st.integers(1, 60), st.integers(0, 4))
@settings(max_examples=40, deadline=None)
def test_more_minutes_save_no_more_than_their_price(of: PlanProblem, more: int, at: int) -> None:
    """The bound falls by the price times the change at most, at the same prices.

    This is what the prices promise; it needs minutes of which all can be used.
    """
    offered = market(Bench(of))
    at %= len(of.sessions)
    spoiled = make_plan(of).plan.quality.spoiled_priority
    before = find_bound(Bench(of), spoiled, 60, lambda: False)
    sessions = tuple(
        replace(s, minutes=s.minutes + (more if k == at else 0)) for k, s in enumerate(of.sessions)
    )
    after = market(Bench(replace(of, sessions=sessions)))
    change = float(after.supply.minutes[at] - offered.supply.minutes[at])
    found = bound(after, before.prices, spoiled)
    if offered.supply.open[at]:
        price = float(before.prices.minute[at])
        assert found.days >= before.days - price * change - 1e-6


@given(problems(), st.integers(1, 30))
@settings(max_examples=40, deadline=None)
def test_more_groove_saves_no_more_than_its_price(of: PlanProblem, more_mm: int) -> None:
    bench = Bench(of)
    spoiled = make_plan(of).plan.quality.spoiled_priority
    before = find_bound(bench, spoiled, 60, lambda: False)
    longer = tuple(
        replace(b, length_mm=b.length_mm + more_mm) if n == 0 else b
        for n, b in enumerate(of.boards)
    )
    after = market(Bench(replace(of, boards=longer)))
    found = bound(after, before.prices, spoiled)
    price = float(before.prices.mm[bench.kind_of[bench.board_number[of.boards[0].board]]].sum())
    assert found.days >= before.days - price * more_mm - 1e-6


def test_what_could_not_be_taken_off_in_its_session_waits_for_another() -> None:
    """Three wait a day each and would all come off on the 7th: 30 minutes in a session of 10."""
    of = problem(
        [board("B1", 30)],
        [session(4, 30), session(7, 10), session(12, 30)],
        [specimen(f"M{n}", slot_mm=10, days=3) for n in range(3)],
        take_off_min=10,
    )
    found = plan(of)
    assert found.plan.quality.weighted_waiting_days == 1 + 9 + 9
    assert (found.status, found.bound) == ("optimal", 19)
