"""What moved from one plan to the next, and why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from scheduler.planner.bench import Choice, PlanBench
from scheduler.planner.finish import kept_offs, kept_spots, state_of
from scheduler.planner.problem import Plan, Planned, PlanProblem
from scheduler.planner.state import PlanState


class Moved(NamedTuple):
    """What changed for one specimen: `was` None, it had no place; `now` None, it has none now.

    `why` says what drove it from its old place; it is empty for one that had none.
    """

    specimen: str
    was: Planned | None
    now: Planned | None
    why: str = ""


def what_moved(
    problem: PlanProblem, before: Plan, after: Plan, pinned: frozenset[str] = frozenset()
) -> tuple[Moved, ...]:
    """Return the specimens that moved, lost or gained a place between two plans, by id.

    `after` is the plan for `problem`. One that no longer waits, since it was mounted or is gone,
    has not moved.
    """
    was = {p.specimen: p for p in before.placements}
    now = {p.specimen: p for p in after.placements}
    waits = {w.specimen for w in problem.waiting} | problem.misfits.keys()
    names = [n for n in sorted(was.keys() | now.keys()) if _where(was.get(n)) != _where(now.get(n))]
    names = [name for name in names if name in waits]
    if not names:
        return ()
    bench = PlanBench(problem)
    held = kept_spots(bench, before, pinned)
    spots = [held.get(n) for n in range(len(bench.waiting))]
    stays = state_of(bench, spots, kept_offs(bench, before))
    number = {w.specimen: n for n, w in enumerate(bench.waiting)}
    return tuple(
        Moved(name, was.get(name), now.get(name), _why(name, was.get(name), now, stays, number))
        for name in names
    )


def _where(one: Planned | None) -> tuple[str, str, int] | None:
    return None if one is None else (one.session, one.board, one.from_mm)


def _why(
    name: str,
    was: Planned | None,
    now: Mapping[str, Planned],
    stays: PlanState,
    number: Mapping[str, int],
) -> str:
    """Say why a placement does not hold: by itself first, then beside the others that stay."""
    if was is None:
        return ""
    bench, n = stays.bench, number.get(name)
    board = bench.board_number.get(was.board)
    session = {s.session: k for k, s in enumerate(bench.sessions)}.get(was.session)
    if n is None or (session is not None and board is None):
        return "the board is gone"
    if session is None or board is None:
        return "the session is gone"
    choice = bench.menus[n].by_board.get(board) or bench.refused_menus[n].by_board.get(board)
    if choice is None:
        return "the board does not fit"
    if not bench.waiting[n].first <= session <= bench.waiting[n].last:
        return "not soft by then" if session < bench.waiting[n].first else "lost by then"
    if stays.spots[n] is not None:
        return "better elsewhere" if name in now else "gives way to others"
    return _lacking(stays, n, session, choice)


def _lacking(stays: PlanState, n: int, session: int, choice: Choice) -> str:
    """Say what a session lacks for a specimen on a board, beside the others that stay."""
    if not stays.has_minutes(n, session):
        return "no minutes"
    if stays.chamber_full_at(n, session) is not None:
        return "chamber full"
    if stays.off_at(session, choice.plan_days) < 0:
        return "no minutes to take it off"
    return "the groove is taken"
