"""Plan the coming sessions, have the plan checked, and keep it.

An unchanged record keeps its plan. After a change the kept plan is mended: what still holds stays,
and what moved is told. `anew` starts over; a wish with an effort searches on from what is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from scheduler.looks.planning import Planning, refuse_faulty
from scheduler.looks.problem import build_problem, groove_widths
from scheduler.planner.best import SoFar
from scheduler.planner.elsewhere import named_place, places_for, with_place
from scheduler.planner.make import Effort, Moved, best_plan, hand_plan, mend, what_moved
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.record.kept import Kept, basis, keep_plan, resting_on
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import names
from scheduler.words.problems import RecordBusy, Refused

MOVING, UNSETTLED_MOVING = 20, 5
"""The least weighted days that a move must save; fewer after a deed mended without a search."""

_ROUNDS = 5
"""How often a plan is made again because others recorded something meanwhile."""


@dataclass(frozen=True, slots=True)
class PlanWish:
    """How to plan: with how much effort, whether from scratch, and what must stay.

    `put` is a specimen with the session and the board where somebody wants it to stay. `progress`
    is told how far the search is; `stop` is asked whether to break it off.
    """

    effort: Effort | None = None
    anew: bool = False
    keep: tuple[str, ...] = ()
    put: tuple[str, str, str] | None = None
    progress: SoFar | None = None
    stop: Callable[[], bool] | None = None


def plan(store: Store, rules: Rulebook, now: datetime, wish: PlanWish | None = None) -> Planning:
    """Plan every session ahead, and keep the plan.

    What others record during a search is no reason to search again: the plan that was found is
    mended. A plan that the referee rejects is never shown: that is a fault of the program, and
    raises WingrestError with what it found. Raises RecordBusy when others are quicker every time.
    """
    wish = wish or PlanWish()
    found: Kept | None = None
    for _ in range(_ROUNDS):
        on = basis(store)
        view = view_of(store, rules, now)
        problem = build_problem(view)
        pinned = _pinned(on.kept, wish)
        if wish.put is not None:
            made, pinned = _put(view, problem, on.kept, pinned, wish.put)
            moved = what_moved(problem, on.kept.plan, made, pinned) if on.kept else ()
        elif found is not None and pinned == found.pinned:
            made, _ = _made(view, problem, found, pinned, PlanWish())
            before = None if wish.anew else on.kept
            moved = what_moved(problem, before.plan, made, pinned) if before else ()
        else:
            made, moved = _made(view, problem, on.kept, pinned, wish)
        refuse_faulty(problem, made)
        mine = Kept.of(problem, made, now, pinned)
        if keep_plan(store, mine, on):
            return Planning(view, problem, made, moved)
        if wish.anew or wish.effort is not None or on.kept is None:
            found = mine
    raise RecordBusy(
        f"the record {store.path} changed each time while a plan was being made. Try again in a "
        "moment"
    )


def _pinned(kept: Kept | None, wish: PlanWish) -> frozenset[str]:
    """Return whose place a person decided, now or before; raise BadInput for unknown names."""
    planned = {p.specimen: p for p in kept.placements} if kept else {}
    wished = {name: names.lookup(name, planned) for name in wish.keep}
    strange = [name for name, found in wished.items() if found is None]
    if strange:
        raise names.unknown(strange, planned, "planned specimen")
    before = kept.pinned if kept else frozenset()
    return before | {found.specimen for found in wished.values() if found is not None}


def _put(
    view: View,
    problem: PlanProblem,
    kept: Kept | None,
    pinned: frozenset[str],
    put: tuple[str, str, str],
) -> tuple[Plan, frozenset[str]]:
    """Return the plan mended around one that is wanted on a board, and who is pinned then."""
    specimen, session, board = put
    if kept is None:
        raise Refused("no plan is kept. `wingrest plan` makes one")
    place = named_place(places_for(problem, kept.plan, specimen, session, pinned), board)
    if place is None:
        raise Refused(
            f"{specimen} finds no place on {board} at {session}: it does not fit, the groove is"
            " taken by what stands or is decided, or there are no minutes. Choose another board"
        )
    pinned |= {specimen}
    wished = with_place(problem, kept.plan, specimen, session, place)
    made = mend(problem, wished, grooves=groove_widths(view), keep=pinned, moving=MOVING)
    return made._replace(by_hand=hand_plan(problem).quality), pinned


def _made(
    view: View,
    problem: PlanProblem,
    kept: Kept | None,
    pinned: frozenset[str],
    wish: PlanWish,
) -> tuple[Plan, tuple[Moved, ...]]:
    """Return the plan, and whose place changed since the kept one."""
    if kept is None:
        return _searched(view, problem, None, pinned, wish), ()
    if not kept.sessions:
        made = _searched(view, problem, None, pinned, wish)
        return made, what_moved(problem, kept.plan, made, pinned)
    if wish.anew:
        decided = tuple(p for p in kept.placements if p.specimen in pinned)
        start = kept.plan._replace(placements=decided) if decided else None
        return _searched(view, problem, start, pinned, wish), ()
    if wish.effort is not None:
        made = _searched(view, problem, kept.plan, pinned, wish)
        return made, what_moved(problem, kept.plan, made, pinned)
    if kept.pinned == pinned and kept.rests_on == resting_on(problem):
        return kept.plan, ()
    settled = bool(kept.rests_on)
    mended = mend(
        problem,
        kept.plan,
        grooves=groove_widths(view),
        keep=pinned,
        settled=settled,
        moving=MOVING if settled else UNSETTLED_MOVING,
    )
    moved = what_moved(problem, kept.plan, mended, pinned)
    if not moved and _nothing_else_changed(kept, problem, mended):
        # Later on the same day there is less to choose from, and waiting costs the same: so what
        # was proven still holds.
        known = kept.plan
        places, unplaced, off = mended.placements, mended.unplaced, mended.off
        return known._replace(placements=places, unplaced=unplaced, off=off), ()
    return mended._replace(by_hand=hand_plan(problem).quality), moved


def _nothing_else_changed(kept: Kept, problem: PlanProblem, mended: Plan) -> bool:
    """Say whether all that was planned still waits, on the same day, with equal quality."""
    waits = {w.specimen for w in problem.waiting} | problem.misfits.keys()
    all_wait = all(p.specimen in waits for p in kept.placements)
    same_day = kept.asked_at.date() == problem.now.date()
    return all_wait and same_day and mended.quality == kept.plan.quality


def _searched(
    view: View,
    problem: PlanProblem,
    start: Plan | None,
    pinned: frozenset[str],
    wish: PlanWish,
) -> Plan:
    return best_plan(
        problem,
        grooves=groove_widths(view),
        effort=wish.effort or "normal",
        start=start,
        keep=pinned,
        progress=wish.progress,
        stop=wish.stop,
    )
