"""Mend a kept plan after a change: what still holds stays, the rest is fitted in around it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.priced import in_whole_days
from scheduler.planner.finish import as_placements, explained, made, state_of
from scheduler.planner.problem import Plan, Planned, PlanProblem
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import due_date_greedy, fill_up, perishables, place_first
from scheduler.planner.state import PlanState, Spot


def kept_spots(
    bench: PlanBench, kept: Plan, pinned: frozenset[str] = frozenset()
) -> dict[int, Spot]:
    """Return the spots of a plan that are still possible, `pinned` ones first.

    Each is tried where it was: same session, board and mm. In the order of the plan, so that
    of two that now exclude each other the earlier one stays.
    """
    number = {w.specimen: n for n, w in enumerate(bench.waiting)}
    session = {s.session: k for k, s in enumerate(bench.sessions)}
    state = PlanState(bench)
    found: dict[int, Spot] = {}
    for one in sorted(kept.placements, key=lambda p: p.specimen not in pinned):
        n, k = number.get(one.specimen), session.get(one.session)
        board = bench.board_number.get(one.board)
        if n is None or k is None or board is None or n in found:
            continue
        for menu in (bench.menus[n], bench.refused_menus[n]):
            choice = menu.by_board.get(board)
            if choice is not None and state.allows(n, k, choice, one.from_mm):
                state.insert(n, k, choice, one.from_mm)
                off_at = bench.off_at(k, choice.plan_days)
                found[n] = Spot(k, choice, one.from_mm, off_at)
    return found


Why = Literal[
    "the session is gone",
    "the board is gone",
    "the board does not fit",
    "not soft by then",
    "lost by then",
    "no minutes",
    "chamber full",
    "the groove is taken",
    "better elsewhere",
]


@dataclass(frozen=True, slots=True)
class Moved:
    """One specimen that is no longer where the kept plan had it; `now` None: it waits."""

    specimen: str
    was: Planned
    now: Planned | None
    why: Why


@dataclass(frozen=True, slots=True)
class Mended:
    """The mended plan, what moved and why, what is new in it, and how good it is at most.

    `gone` are the kept plan's specimens that no longer wait (mounted, or gone). `bound` and
    `gap` as in `Result`; None where no bound was asked for.
    """

    plan: Plan
    moved: tuple[Moved, ...]
    new: tuple[str, ...]
    gone: tuple[str, ...]
    bound: int | None = None
    gap: float | None = None


def mend(
    problem: PlanProblem,
    kept: Plan,
    *,
    grooves: Mapping[str, float] | None = None,
    keep: frozenset[str] = frozenset(),
    rounds: int = 50_000,
    moving: int = 20,
    with_bound: bool = True,
) -> Mended:
    """Return the kept plan, mended.

    What still holds stays where it is; `keep` names those that go first where two now
    exclude each other, and never move. Displaced and new ones go where they wait least. A
    perishable that finds no place otherwise may displace others. Then, with a bound and where
    anything was displaced or new, the search goes on for `rounds` rounds, and moves what held
    only where that saves more than `moving` weighted days for each that moves.
    """
    bench = PlanBench(problem)
    spots = kept_spots(bench, kept, keep)
    pinned = frozenset(n for n in spots if bench.waiting[n].specimen in keep)
    state = _filled(bench, spots)
    if _spoils(state) and len(spots) > len(pinned):
        state = _saving(bench, state, spots, pinned)
    lost = unsavable(bench)
    bound = gap = None
    if with_bound and bench.waiting and bench.sessions:
        rounds = rounds if _changed(bench, kept, spots) else 0
        state, bound = _improved(bench, state, pinned, spots, rounds, moving)
        fill_up(state, anyway=True)
        waits = made("mended", state, lost).quality.weighted_waiting_days
        gap = 0.0 if waits <= bound else (waits - bound) / waits
    plan = explained(made("mended", state, lost), grooves or {})
    moved, new, gone = _differences(bench, state, kept, spots)
    return Mended(plan, moved, new, gone, bound, gap)


def _filled(bench: PlanBench, spots: Mapping[int, Spot]) -> PlanState:
    state = state_of(bench, [spots.get(n) for n in range(len(bench.waiting))])
    return due_date_greedy(state)


def _spoils(state: PlanState) -> int:
    bench = state.bench
    return sum(
        w.priority
        for n, w in enumerate(bench.waiting)
        if bench.would_spoil[n] and state.spots[n] is None
    )


def _saving(
    bench: PlanBench, state: PlanState, spots: dict[int, Spot], pinned: frozenset[int]
) -> PlanState:
    """Return a plan in which those that would keep give way to those that would spoil.

    Taken only if it lets less spoil.
    """
    saved = {n: s for n, s in spots.items() if n in pinned or bench.would_spoil[n]}
    first = state_of(bench, [saved.get(n) for n in range(len(bench.waiting))])
    for n in perishables(bench):
        if first.spots[n] is None:
            place_first(first, n, bench.menus[n])
    for n, spot in sorted(spots.items()):
        if first.spots[n] is None and first.allows(n, spot.session, spot.choice, spot.from_mm):
            first.insert(n, spot.session, spot.choice, spot.from_mm)
    due_date_greedy(first)
    if _spoils(first) < _spoils(state):
        for n in [n for n, spot in spots.items() if first.spots[n] != spot]:
            del spots[n]
        return first
    return state


def _changed(bench: PlanBench, kept: Plan, spots: Mapping[int, Spot]) -> bool:
    """Say whether anything was displaced, or came new."""
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
    moving: int,
) -> tuple[PlanState, int]:
    from scheduler.planner.bound.find import find_bound
    from scheduler.planner.search.run import Search

    bound = find_bound(bench, _spoils(state), 60, lambda: False, closely=False)
    if rounds:
        search = Search(bench, state.spots, bound.guided, pinned, spots, moving)
        search.run(rounds)
        state = state_of(bench, search.best_spots)
        fill_up(state, anyway=True)
    return state, max(0, in_whole_days(bound.days))


def _differences(
    bench: PlanBench, state: PlanState, kept: Plan, spots: Mapping[int, Spot]
) -> tuple[tuple[Moved, ...], tuple[str, ...], tuple[str, ...]]:
    number = {w.specimen: n for n, w in enumerate(bench.waiting)}
    now = {p.specimen: p for p in as_placements(state)}
    was = {p.specimen: p for p in kept.placements}
    moved = []
    for name, before in sorted(was.items()):
        after = now.get(name)
        same = after is not None and _where(after) == _where(before)
        if name in number and not same:
            moved.append(Moved(name, before, after, _why(bench, before, number[name], spots)))
    new = tuple(sorted(now.keys() - was.keys()))
    gone = tuple(sorted(name for name in was if name not in number))
    return tuple(moved), new, gone


def _where(one: Planned) -> tuple[str, str, int]:
    return one.session, one.board, one.from_mm


def _why(bench: PlanBench, was: Planned, n: int, spots: Mapping[int, Spot]) -> Why:
    """Say why a placement does not hold: alone on the boards first, then beside what stays."""
    session = {s.session: k for k, s in enumerate(bench.sessions)}.get(was.session)
    board = bench.board_number.get(was.board)
    w = bench.waiting[n]
    if session is None:
        return "the session is gone"
    if board is None:
        return "the board is gone"
    choice = bench.menus[n].by_board.get(board) or bench.refused_menus[n].by_board.get(board)
    if choice is None:
        return "the board does not fit"
    if session < w.first:
        return "not soft by then"
    if session > w.last:
        return "lost by then"
    others = [spot if m != n else None for m, spot in _all(bench, spots)]
    around = state_of(bench, others)
    if not around.has_minutes(n, session):
        return "no minutes"
    if around.chamber_full_at(n, session) is not None:
        return "chamber full"
    if not around.slots(n, session, choice) >> was.from_mm & 1:
        return "the groove is taken"
    return "better elsewhere"


def _all(bench: PlanBench, spots: Mapping[int, Spot]) -> list[tuple[int, Spot | None]]:
    return [(m, spots.get(m)) for m in range(len(bench.waiting))]
