"""Mend a kept plan after a change: what still holds stays, the rest is fitted around it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.priced import in_whole_days
from scheduler.planner.finish import explained, kept_offs, kept_spots, made, state_of, tiers
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import due_date_greedy, fill_up, fresh_first
from scheduler.planner.state import PlanState, Spot

_NEAR_DAYS, _FAR_MOVING = 10, 2
"""How far ahead people prepare for a plan [days], and what a move costs beyond [weighted days].

Both from memory: people look at the coming session, and at the chamber for the next.
"""

_DRIFTED = 0.03
"""Where more than this part of the waiting is above the bound, a mended plan is searched on."""

_LARGE = 1_000
"""Where more wait, each round takes so long that fewer are done."""


def mend(
    problem: PlanProblem,
    kept: Plan,
    *,
    grooves: Mapping[str, float] | None = None,
    keep: frozenset[str] = frozenset(),
    rounds: int = 200_000,
    moving: int = 20,
    with_bound: bool = True,
    settled: bool = True,
) -> Plan:
    """Return the kept plan, mended.

    What still holds stays where it is; `keep` names those that never move, and that win where two
    now exclude each other. Displaced and new ones go where they wait least. A perishable that finds
    no other place may displace others. Then, `with_bound` and where anything was displaced or is
    new, a search follows for `rounds` rounds, a quarter of them in a large plan; it moves what
    still held only where that saves more than `moving` weighted days for each that moves. What was
    planned for later than `_NEAR_DAYS` from now is nothing that people prepare for, and costs at
    most `_FAR_MOVING`. A plan that is not `settled` was mended before without a search, so it is
    searched even where nothing was displaced; and so is one that lies far above the bound.
    """
    bench = PlanBench(problem)
    spots = kept_spots(bench, kept, keep)
    pinned = frozenset(n for n in spots if bench.waiting[n].specimen in keep)
    offs = kept_offs(bench, kept)
    state = _filled(bench, spots, offs)
    if _spoils(state) and len(spots) > len(pinned):
        state = _saving(bench, state, spots, pinned, offs)
    lost = unsavable(bench)
    bound = None
    if with_bound and bench.waiting and bench.sessions:
        known = settled and not _changed(bench, kept, spots)
        prices = _prices(bench, spots, moving)
        state, bound = _improved(bench, state, pinned, spots, rounds, prices, known)
    fill_up(state, anyway=True)
    plan = explained(made("mended", state, lost), grooves or {})
    return plan._replace(status="mended", bound=bound)


def _prices(bench: PlanBench, spots: Mapping[int, Spot], moving: int) -> dict[int, int]:
    """Return what it costs to move each of the planned."""
    near = bench.problem.now + timedelta(days=_NEAR_DAYS)
    starts = [s.start for s in bench.sessions]
    far = min(moving, _FAR_MOVING)
    return {n: moving if starts[s.session] <= near else far for n, s in spots.items()}


def _filled(bench: PlanBench, spots: Mapping[int, Spot], offs: Sequence[int]) -> PlanState:
    state = state_of(bench, [spots.get(n) for n in range(len(bench.waiting))], offs)
    return due_date_greedy(state)


def _spoils(state: PlanState) -> int:
    bench = state.bench
    return sum(
        w.priority
        for n, w in enumerate(bench.waiting)
        if bench.would_spoil[n] and state.spots[n] is None
    )


def _saving(
    bench: PlanBench,
    state: PlanState,
    spots: dict[int, Spot],
    pinned: frozenset[int],
    offs: Sequence[int],
) -> PlanState:
    """Return a plan in which those that would not spoil give way to those that would.

    Where that lets no less spoil, the given plan is returned.
    """
    saved = {n: s for n, s in spots.items() if n in pinned or bench.would_spoil[n]}
    first = state_of(bench, [saved.get(n) for n in range(len(bench.waiting))], offs)
    fresh_first(first, bench.menus)
    for n, spot in sorted(spots.items()):
        if first.spots[n] is None and first.allows(n, spot):
            first.insert(n, *spot)
    due_date_greedy(first)
    if _spoils(first) < _spoils(state):
        for n in [n for n, spot in spots.items() if first.spots[n] != spot]:
            del spots[n]
        return first
    return state


def _changed(bench: PlanBench, kept: Plan, spots: Mapping[int, Spot]) -> bool:
    """Say whether anything was displaced or is new."""
    planned = {p.specimen for p in kept.placements}
    known = planned | {name for name, _ in kept.unplaced}
    names = {w.specimen for w in bench.waiting}
    return not names <= known or len(spots) < len(planned & names)


def _improved(
    bench: PlanBench,
    state: PlanState,
    pinned: frozenset[int],
    spots: Mapping[int, Spot],
    rounds: int,
    moving: Mapping[int, int],
    known: bool,
) -> tuple[PlanState, int]:
    """Return the plan searched on, and the bound; a `known` one is searched only if far from it."""
    from scheduler.planner.bound.find import find_bound
    from scheduler.planner.search.run import Search

    bound = find_bound(bench, _spoils(state), 60, lambda: False, closely=False)
    low, waits = max(0, in_whole_days(bound.days)), tiers(state)[1]
    if rounds and not (known and waits - low <= _DRIFTED * waits):
        begun = state.spots, state.stand_off
        search = Search(bench, begun, bound.guided, pinned, spots, moving)
        search.run(rounds // (4 if len(bench.waiting) > _LARGE else 1))
        state = state_of(bench, *search.best)
        fill_up(state, anyway=True)
    return state, low
