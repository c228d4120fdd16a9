"""Where else a specimen may be mounted, for a person who wants another board than the plan's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from scheduler.planner.bench import Choice, PlanBench
from scheduler.planner.finish import kept_offs, kept_spots, state_of
from scheduler.planner.problem import Plan, Planned, PlanProblem
from scheduler.planner.state import PlanState, Spot, lowest


class Elsewhere(NamedTuple):
    """A place for a specimen, `to_mm` excluded; `yields` are planned ones that must give way.

    `pack` says that the groove is so wide that it must be packed.
    """

    board: str
    from_mm: int
    to_mm: int
    spare_mm: float
    pack: bool
    yields: tuple[str, ...]


def places_for(
    problem: PlanProblem, plan: Plan, specimen: str, session: str, pinned: frozenset[str]
) -> list[Elsewhere]:
    """Return a place on every board where it can be mounted at a session, the tightest first.

    Where no place is free in the plan, others give way, but never those that are `pinned`.
    """
    bench = PlanBench(problem)
    number = next((n for n, w in enumerate(bench.waiting) if w.specimen == specimen), None)
    at = next((k for k, s in enumerate(bench.sessions) if s.session == session), None)
    if number is None or at is None:
        return []
    w = bench.waiting[number]
    if not w.first <= at <= w.last:
        return []
    spots = {n: s for n, s in kept_spots(bench, plan, pinned).items() if n != number}
    firm = {n: spot for n, spot in spots.items() if bench.waiting[n].specimen in pinned}
    offs = kept_offs(bench, plan)
    full, bare = (
        state_of(bench, [those.get(n) for n in range(len(bench.waiting))], offs)
        for those in (spots, firm)
    )
    found = []
    for choice in (*bench.choices[number], *bench.refused[number]):
        there = _spot(full, number, at, choice) or _spot(bare, number, at, choice, full)
        if there is not None:
            from_mm, board = there.from_mm, bench.boards[choice.board].board
            to_mm = from_mm + w.slot_mm
            yields = _in_the_way(bench, spots, there, to_mm)
            spare, pack = choice.spare_mm, board in w.pack
            place = Elsewhere(board, from_mm, to_mm, spare, pack, yields)
            wished = with_place(problem, plan, w.specimen, session, place)
            if _holds(bench, wished, {w.specimen, *(bench.waiting[n].specimen for n in firm)}):
                found.append(place)
    return found


def _holds(bench: PlanBench, wished: Plan, firm: set[str]) -> bool:
    """Say whether all `firm` ones can be where they are wished, beside what is in the chamber.

    What is inside keeps its place there until it is mounted, so a later day may leave no place.
    """
    first = firm | {w.specimen for w in bench.waiting if w.chamber_since is not None}
    tight = wished._replace(placements=tuple(p for p in wished.placements if p.specimen in first))
    return firm <= {bench.waiting[n].specimen for n in kept_spots(bench, tight, frozenset(firm))}


def _in_the_way(
    bench: PlanBench, spots: Mapping[int, Spot], there: Spot, to_mm: int
) -> tuple[str, ...]:
    """Return the planned specimens that are on the same mm of the board at the same time."""
    return tuple(
        bench.waiting[n].specimen
        for n, s in spots.items()
        if s.choice.board == there.choice.board
        and s.session < there.off_at
        and there.session < s.off_at
        and s.from_mm < to_mm
        and there.from_mm < s.from_mm + bench.waiting[n].slot_mm
    )


def _spot(
    state: PlanState, number: int, session: int, choice: Choice, rather: PlanState | None = None
) -> Spot | None:
    """Return the first place for it, None where there is no room or no time for it.

    A place that is also free in the state `rather` is preferred.
    """
    if not state.is_open(number, session):
        return None
    free = state.slots(number, session, choice)
    if rather is not None:
        free = free & rather.slots(number, session, choice) or free
    off_at = state.off_at(session, choice.plan_days)
    return Spot(session, choice, lowest(free), off_at) if free else None


def with_place(
    problem: PlanProblem, plan: Plan, specimen: str, session: str, place: Elsewhere
) -> Plan:
    """Return a plan to be mended: one specimen has another place, the others are as before."""
    start = next(s.start for s in problem.sessions if s.session == session)
    # Mending reads session, board and mm, and works out the rest itself.
    new = Planned(
        specimen=specimen, session=session, board=place.board, from_mm=place.from_mm,
        to_mm=place.to_mm, relax_from=None, out_by=None, mount_at=start, due=None, clear=None,
        min_days=None, plan_days=None, rule_ids=(), basis=None, minutes=0,
    )  # fmt: skip
    others = (p for p in plan.placements if p.specimen != specimen)
    off = {name: at for name, at in plan.off.items() if name != specimen}
    return plan._replace(placements=(new, *others), off=off)


def named_place(found: Iterable[Elsewhere], board: str) -> Elsewhere | None:
    """Return the place on a board, None where there is none."""
    return next((one for one in found if one.board == board), None)
