"""Plan the coming sessions, have the plan checked, and keep it.

An unchanged record keeps its plan. After a change the kept plan is mended: what still holds
stays, and what moved is said. `anew` starts over; a wished effort searches on from what is
kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from scheduler.planner import Effort, Moved, Result, best_plan, mend
from scheduler.planner.bench import PlanBench
from scheduler.planner.build import build_problem, groove_widths
from scheduler.planner.finish import made as made_of
from scheduler.planner.plan_json import plan_to_json
from scheduler.planner.problem import Plan, PlanProblem, Quality
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import by_hand as first_come
from scheduler.planner.referee.verdict import judge
from scheduler.record.kept import Kept, Proof, keep_plan, kept_plan
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import names
from scheduler.words.problems import WingrestError

Progress = Callable[[float, Quality, float | None], None]


@dataclass(frozen=True, slots=True)
class Wish:
    """How to plan: up to and including a date, how hard, from scratch, what must stay.

    `progress` is told how far the search is; `stop` is asked whether to break it off.
    """

    until: date | None = None
    effort: Effort | None = None
    anew: bool = False
    keep: tuple[str, ...] = ()
    progress: Progress | None = None
    stop: Callable[[], bool] | None = None


@dataclass(frozen=True, slots=True)
class Planning:
    """A checked plan beside the one made by hand, and the record it was made for.

    `moved` is who is no longer where the kept plan had it; None when nothing was mended.
    """

    snap: Snapshot
    problem: PlanProblem
    plan: Plan
    by_hand: Quality
    proof: Proof
    moved: tuple[Moved, ...] | None = None


def plan(store: Store, rules: Rulebook, now: datetime, wish: Wish | None = None) -> Planning:
    """Plan every session ahead, and keep the plan.

    No plan is shown that the referee rejects: that would be a fault of the program, and
    raises WingrestError with what it found.
    """
    wish = wish or Wish()
    snap = store.snapshot()
    problem = build_problem(snap, rules, now, wish.until)
    kept = kept_plan(store)
    pinned = _pinned(kept, wish)
    made, moved = _made(snap, problem, kept, pinned, wish)
    refuse_faulty(problem, made.plan)
    keep_plan(store, replace(made, kept_at=now))
    return Planning(snap, problem, made.plan, made.by_hand, made.proof, moved)


def refuse_faulty(problem: PlanProblem, plan: Plan) -> None:
    """Raise WingrestError with what the referee finds in a plan; none such is ever shown."""
    faults = judge(problem, plan)
    if faults:
        found = "\n".join(f"{f.kind}: {f.message}" for f in faults)
        raise WingrestError(
            f"{found}\nThe plan did not pass its own check and is not shown. This is a fault of"
            " the program: please report it with `wingrest plan --problem FILE`"
        )


def _pinned(kept: Kept | None, wish: Wish) -> frozenset[str]:
    """Return whose place the person decided, now or before; raise BadInput for strangers."""
    planned = {p.specimen: p for p in kept.placements} if kept else {}
    wished = {name: names.lookup(name, planned) for name in wish.keep}
    strange = [name for name, found in wished.items() if found is None]
    if strange:
        raise names.unknown(strange, planned, "planned specimen")
    before = kept.pinned if kept and not wish.anew else frozenset()
    return before | {found.specimen for found in wished.values() if found is not None}


def _made(
    snap: Snapshot, problem: PlanProblem, kept: Kept | None, pinned: frozenset[str], wish: Wish
) -> tuple[Kept, tuple[Moved, ...] | None]:
    if kept is None or not kept.problem.sessions:
        return _searched(snap, problem, None, pinned, wish), None
    if wish.anew:
        decided = tuple(p for p in kept.placements if p.specimen in pinned)
        start = replace(kept.plan, placements=decided) if decided else None
        return _searched(snap, problem, start, pinned, wish), None
    if wish.effort is not None:
        return _searched(snap, problem, kept.plan, pinned, wish), None
    if kept.problem == problem and kept.pinned == pinned:
        return kept, None
    mended = mend(problem, kept.plan, grooves=groove_widths(snap), keep=pinned)
    no_board = tuple(
        Moved(p.specimen, p, None, "the board is gone")
        for p in kept.placements
        if p.specimen in problem.misfits
    )
    changed = mended.moved or mended.new or mended.gone or no_board
    if not changed and _same_day(kept, problem) and mended.plan.quality == kept.plan.quality:
        # Later the same day there is less to choose from, and waiting costs the same: what was
        # proven still holds.
        same = replace(kept, problem=problem, plan=mended.plan, pinned=pinned)
        return same, None
    bench = PlanBench(problem)
    by_hand = made_of("by hand", first_come(bench), unsavable(bench)).quality
    proof = Proof("mended", mended.bound, mended.gap)
    moved = (*mended.moved, *no_board)
    return Kept(problem, mended.plan, problem.now, by_hand, proof, pinned), moved


def _same_day(kept: Kept, problem: PlanProblem) -> bool:
    return kept.problem.now.date() == problem.now.date()


def _searched(
    snap: Snapshot, problem: PlanProblem, start: Plan | None, pinned: frozenset[str], wish: Wish
) -> Kept:
    result = best_plan(
        problem,
        grooves=groove_widths(snap),
        effort=wish.effort or "normal",
        start=start,
        keep=pinned,
        progress=wish.progress,
        stop=wish.stop,
    )
    return Kept(problem, result.plan, problem.now, result.by_hand.quality, _proof(result), pinned)


def _proof(result: Result) -> Proof:
    return Proof(
        status=result.status,
        bound=result.bound,
        gap=result.gap,
        minute_saves=dict(result.prices.minute),
        board_saves=dict(result.prices.board_mm),
        stopped=result.stopped,
    )


def planning_json(made: Planning) -> dict[str, Any]:
    """Return a plan as documented JSON, with how good it is known to be."""
    facts = plan_to_json(made.problem, made.plan, by_hand=made.by_hand)
    proof = made.proof
    facts["quality"] |= {
        "status": proof.status,
        "bound": proof.bound,
        "gap_pct": None if proof.gap is None else round(100 * proof.gap, 2),
        "minute_saves": dict(proof.minute_saves),
        "board_mm_saves": dict(proof.board_saves),
        "stopped": proof.stopped,
    }
    facts["moved"] = [
        {
            "specimen": m.specimen,
            "was": _place(m.was),
            "now": None if m.now is None else _place(m.now),
            "why": m.why,
        }
        for m in made.moved or ()
    ]
    return facts


def _place(planned: Any) -> dict[str, object]:
    return {
        "session": planned.session,
        "board": planned.board,
        "from_mm": planned.from_mm,
        "to_mm": planned.to_mm,
    }
