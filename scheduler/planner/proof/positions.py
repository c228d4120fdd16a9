"""The part of the proof that looks at positions: do these slots fit beside each other?

It is asked for one stretch of a board at a time, with sessions decided: first a quick try from the
left, then exactly, as rectangles of groove by time that must not overlap.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from scheduler.planner.bench import Choice, PlanBench, stretch
from scheduler.planner.state import lowest, starts

if TYPE_CHECKING:
    from ortools.sat.python import cp_model


class Use(NamedTuple):
    """A specimen mounted at a session somewhere on a free stretch of a board.

    From `session` until `off_at`, the stretch `from_mm` (included) to `to_mm` (excluded) is free of
    all that is fixed or cannot be off yet. A standing specimen has `session` -1, its own mm as the
    stretch, and a number that follows those that wait.
    """

    number: int
    session: int
    off_at: int
    choice: Choice
    from_mm: int
    to_mm: int
    slot_mm: int


class Layout(NamedTuple):
    """The first mm of each specimen, None where they do not fit together.

    Where it is not `decided`, the allowed work was used up before it was known. `spent` is work.
    """

    places: dict[int, int] | None
    decided: bool
    spent: float


def quiet_solver(effort: float) -> cp_model.CpSolver:
    """Return a solver that gives the same answer every time: one worker, counted work."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = effort
    # Else the solver takes over Ctrl-C and does not give it back.
    solver.parameters.catch_sigint_signal = False
    return solver


def laid(bench: PlanBench, uses: Sequence[Use], effort: float) -> Layout:
    """Lay the slots of one board beside each other, or say that they do not fit."""
    orders: tuple[Callable[[Use], tuple[int, ...]], ...] = (
        lambda use: (use.session, -use.slot_mm, use.number),
        lambda use: (use.session >= 0, use.session - use.off_at, -use.slot_mm, use.number),
        lambda use: (use.session >= 0, use.to_mm - use.from_mm, -use.slot_mm, use.number),
    )
    for order in orders:
        places = _from_the_left(bench, sorted(uses, key=order))
        if places is not None:
            return Layout(places, True, 0.0)
    return _exactly(bench, uses, effort)


def smallest_clash(bench: PlanBench, uses: Sequence[Use], effort: float) -> tuple[list[Use], float]:
    """Return a small part of these slots that do not fit together, and the work spent.

    Leaving out any further one was tried: the rest fits, or the allowed work did not suffice.
    """
    left, spent = list(uses), 0.0
    for use in sorted(uses, key=lambda u: (u.slot_mm, u.number)):
        fewer = [other for other in left if other != use]
        found = laid(bench, fewer, max(0.0, effort - spent))
        spent += found.spent
        if found.places is None and found.decided:
            left = fewer
    return left, spent


def _ends(bench: PlanBench, board: int) -> bool:
    return bench.refill[board] == "end"


def _from_the_left(bench: PlanBench, uses: Sequence[Use]) -> dict[int, int] | None:
    """Return the first free mm for each slot in turn, None where one finds none."""
    places: dict[int, int] = {}
    laid: list[tuple[Use, int, int]] = []
    for use in uses:
        free, slot_mm = stretch(use.from_mm, use.to_mm), use.slot_mm
        for other, from_mm, to_mm in laid:
            if other.session < use.off_at and use.session < other.off_at:
                taken = stretch(from_mm, to_mm)
                if _ends(bench, use.choice.board) and other.session < use.session:
                    taken = stretch(0, to_mm)
                elif _ends(bench, use.choice.board) and use.session < other.session:
                    taken = stretch(from_mm, max(use.to_mm, to_mm))
                free &= ~taken
        at = lowest(starts(free, slot_mm))
        if at < 0:
            return None
        places[use.number] = at
        laid.append((use, at, at + slot_mm))
    return places


def _exactly(bench: PlanBench, uses: Sequence[Use], effort: float) -> Layout:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    at, across, along = [], [], []
    for use in uses:
        slot_mm = use.slot_mm
        begin = model.new_int_var(use.from_mm, use.to_mm - slot_mm, "")
        at.append(begin)
        across.append(model.new_fixed_size_interval_var(begin, slot_mm, ""))
        along.append(model.new_fixed_size_interval_var(use.session, use.off_at - use.session, ""))
    model.add_no_overlap_2d(across, along)
    for m, first in enumerate(uses):
        for n, then in enumerate(uses):
            joins = first.session < then.session < first.off_at
            if joins and _ends(bench, first.choice.board):
                model.add(at[m] + first.slot_mm <= at[n])
    solver = quiet_solver(effort)
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        places = {use.number: solver.value(mm) for use, mm in zip(uses, at, strict=True)}
        return Layout(places, True, solver.deterministic_time)
    return Layout(None, status == cp_model.INFEASIBLE, solver.deterministic_time)
