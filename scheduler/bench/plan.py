"""Plan the coming sessions, have the plan checked, and keep it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from scheduler.bench.kept import keep_plan
from scheduler.planner import make_plan
from scheduler.planner.build import build_problem, grooves
from scheduler.planner.check import check
from scheduler.planner.problem import Plan, PlanProblem, Quality
from scheduler.problems import WingrestError
from scheduler.rulebook import Rulebook
from scheduler.snapshot import Snapshot
from scheduler.store import Store


@dataclass(frozen=True, slots=True)
class Planning:
    """A checked plan beside the one made by hand, and the record it was made for."""

    snap: Snapshot
    problem: PlanProblem
    plan: Plan
    by_hand: Quality


def plan(store: Store, rules: Rulebook, now: datetime, until: date | None) -> Planning:
    """Plan every session up to and including `until`, and keep the plan.

    No plan is shown that the referee rejects: that would be a fault of the program, and
    raises WingrestError with what it found.
    """
    snap = store.snapshot()
    problem = build_problem(snap, rules, now, until)
    result = make_plan(problem, grooves(snap))
    faults = check(problem, result.plan)
    if faults:
        found = "\n".join(f"{f.kind}: {f.message}" for f in faults)
        raise WingrestError(
            f"{found}\nThe plan did not pass its own check and is not shown. This is a fault of"
            " the program: please report it with `wingrest plan --problem FILE`"
        )
    keep_plan(store, problem, result.plan, result.by_hand.quality, now)
    return Planning(snap, problem, result.plan, result.by_hand.quality)
