"""The compiled search: by the same rules as everything else, never worse, the same every time."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st
from planner_cases import NOW, board, problem, problems, session, specimen, standing
from test_planner_refill import refills, with_refill

from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.market import market
from scheduler.planner.finish import explained, made, state_of, tiers
from scheduler.planner.problem import PlanProblem
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import by_hand, keeping, perishables
from scheduler.planner.referee.verdict import judge
from scheduler.planner.search import machine
from scheduler.planner.search.offers import ROW_BITS, ROWS, offers, waited_days
from scheduler.planner.search.run import SHARES, Search
from scheduler.planner.state import PlanState, Spot, spread
from scheduler.words.records import Refill

ROUNDS = 300


def searched(start: PlanState, **how: object) -> Search:
    """Return a search without prices that has done its rounds."""
    bench, prices = start.bench, market(start.bench).no_prices()
    search = Search(bench, (start.spots, start.stand_off), prices, **how)  # type: ignore[arg-type]
    search.run(ROUNDS)
    return search


def faults(state: PlanState) -> list[str]:
    """Return what the referee says of a plan; its reasons are not asked for."""
    bench = state.bench
    plan = explained(made("searched", state, unsavable(bench)), {})
    return [fault.message for fault in judge(bench.problem, plan)]


def filled(search: Search) -> PlanState:
    """Return the plan with what still finds a place, so that everyone out has a reason."""
    from scheduler.planner.quick import fill_up

    state = state_of(search.bench, *search.best)
    fill_up(state, anyway=True)
    return state


@given(problems(), refills)
@settings(deadline=None)
def test_every_plan_found_passes_the_referee_and_is_no_worse(
    of: PlanProblem, rules: list[Refill]
) -> None:
    bench = PlanBench(with_refill(of, rules))
    start = by_hand(bench)
    search = searched(start)
    state = state_of(bench, *search.best)
    assert tiers(state) == search.tiers <= tiers(start)
    assert faults(filled(search)) == []


@given(problems(), refills)
@settings(deadline=None)
def test_what_is_placed_by_price_passes_the_referee(of: PlanProblem, rules: list[Refill]) -> None:
    bench = PlanBench(with_refill(of, rules))
    start = [None] * len(bench.waiting), spread(bench)
    search = Search(bench, start, market(bench).no_prices())
    search.fill(perishables(bench))
    search.fill(search.by_profit(keeping(bench)))
    assert faults(filled(search)) == []


@given(problems())
@settings(deadline=None)
def test_the_same_search_finds_the_same_plan(of: PlanProblem) -> None:
    bench = PlanBench(of)
    start = by_hand(bench)
    assert searched(start).best == searched(start).best


@given(problems(), st.randoms(use_true_random=False))
@settings(deadline=None)
def test_what_is_fixed_stays(of: PlanProblem, rng: Random) -> None:
    bench = PlanBench(of)
    start = by_hand(bench)
    fixed = frozenset(n for n, spot in enumerate(start.spots) if spot and rng.random() < 0.5)
    found, _ = searched(start, fixed=fixed).best
    assert [where(found[n]) for n in fixed] == [where(start.spots[n]) for n in fixed]


def where(spot: Spot | None) -> tuple[int, int, int] | None:
    return spot and (spot.session, spot.choice.board, spot.from_mm)


@given(problems())
@settings(deadline=None)
def test_nobody_leaves_home_for_less_than_moving_costs(of: PlanProblem) -> None:
    bench = PlanBench(of)
    start = by_hand(bench)
    home = {n: spot for n, spot in enumerate(start.spots) if spot is not None}
    dear, _ = searched(start, home=home, moving=dict.fromkeys(home, 100_000_000)).best
    assert all(where(dear[n]) == where(spot) for n, spot in home.items())


@given(problems())
@settings(deadline=None)
def test_an_offer_waits_what_the_plan_will_say(of: PlanProblem) -> None:
    bench = PlanBench(of)
    left_out = [bench.waits_on(n) for n in range(len(bench.waiting))]
    o = offers(bench, market(bench).no_prices(), SHARES, left_out)
    for n, w in enumerate(bench.waiting):
        groups = bench.menus[n].groups + bench.refused_menus[n].groups
        first_row = int(o.menu_start[o.menu[n]])
        codes = o.code[0, o.start[n] : o.start[n + 1]].tolist()
        said = {
            int(waited_days(o, n, code >> ROW_BITS, int(o.days[first_row + (code & ROWS)])))
            for code in codes
        }
        open_to = range(w.first, w.last + 1)
        assert said == {bench.waits(n, k, g) for k in open_to for g in groups}


def test_two_that_block_each_other_are_swapped() -> None:
    """By hand the one that came first is first; the urgent one should be."""
    of = problem(
        [board("B1", 40)],
        [session(4), session(12), session(20)],
        [
            specimen("M1", slot_mm=40, priority=1),
            specimen("M2", slot_mm=40, priority=9),
        ],
    )
    bench = PlanBench(of)
    found, _ = searched(by_hand(bench)).best
    assert [spot and spot.session for spot in found] == [1, 0]


def test_who_stays_in_the_chamber_longer_takes_the_place_of_another() -> None:
    """One place: S is in it until it is mounted, M must go in between the sessions.

    U needs no chamber and waits the dearest; it would go first if S could stay for M's turn.
    """
    inside = specimen("S", slot_mm=10, minutes=10, chamber_since=NOW, most_hours=200)
    urgent = specimen("U", slot_mm=10, minutes=10, priority=9)
    of = problem(
        [board("B1", 60)],
        [session(4, 10), session(8, 40)],
        [
            inside,
            replace(urgent, chamber=False),
            specimen("M", slot_mm=10, minutes=10, priority=9, most_hours=60),
        ],
        places=1,
    )
    bench = PlanBench(of)
    assert faults(filled(searched(by_hand(bench)))) == []


def test_nothing_joins_what_dries_on_a_board_filled_only_when_empty() -> None:
    of = problem(
        [replace(board("B1", 40), refill="whole")],
        [session(4, 10), session(6, 10), session(12, 30)],
        [specimen(f"M{n}", slot_mm=20, days=7, minutes=10) for n in range(2)],
    )
    found, _ = searched(PlanState(PlanBench(of))).best
    assert sorted(spot.session if spot else -1 for spot in found) == [0, 2]


def test_nothing_joins_on_the_left_of_what_dries_on_a_board_filled_at_its_end() -> None:
    """20 mm stay free on the left of what stands; only the right end may be filled."""
    of = problem(
        [replace(board("B1", 60), refill="end")],
        [session(4, 30), session(6, 30)],
        [specimen(f"M{n}", slot_mm=20, days=7, minutes=10) for n in range(2)],
        stands=[standing("T1", "B1", 20, 40, None)],
    )
    found, _ = searched(PlanState(PlanBench(of))).best
    assert [spot.from_mm for spot in found if spot] == [40]


def test_the_machine_code_is_known_by_all_it_is_made_from() -> None:
    folder = Path(machine.__file__).parent
    made_from = {
        path.stem
        for path in folder.glob("*.py")
        if re.search(
            r"import (compiled|inlined|lot|pick|Draft|Facts)|^def compiled",
            path.read_text("utf-8"),
            re.M,
        )
    }
    assert made_from - {"run"} <= set(machine.MODULES)
    assert set(machine.MODULES) <= {path.stem for path in folder.glob("*.py")}
