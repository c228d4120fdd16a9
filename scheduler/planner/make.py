"""Make plans, improve them and mend them: the way into the planner.

`make_plan` answers a `PlanProblem` at once with the best of several quick plans; `best_plan`
searches on, and says how far from the best possible its plan can be at most. The plan by hand is
always among the candidates of both, so neither is worse. `mend` adapts a plan to a changed
problem, and `what_moved` says whose place changed. The same problem gives the same plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.planner.bench import PlanBench
from scheduler.planner.best import Effort, best_plan
from scheduler.planner.finish import as_placements, explained, made
from scheduler.planner.mend import mend
from scheduler.planner.moved import Moved, what_moved
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import by_hand, greedy_plans
from scheduler.planner.state import PlanState

__all__ = [
    "Effort",
    "Moved",
    "as_placements",
    "best_plan",
    "hand_plan",
    "make_plan",
    "mend",
    "what_moved",
]


def make_plan(problem: PlanProblem, grooves: Mapping[str, float] | None = None) -> Plan:
    """Return the best of several quick plans.

    `grooves` are the boards' groove widths [mm], for the reasons why something waits; without
    them the reasons name the boards.
    """
    bench = PlanBench(problem)
    lost = unsavable(bench)
    candidates = [made(name, state, lost) for name, state in _candidates(bench)]
    best, hand = min(candidates, key=lambda one: one.quality), candidates[0]
    return explained(best, grooves or {})._replace(by_hand=hand.quality)


def hand_plan(problem: PlanProblem, grooves: Mapping[str, float] | None = None) -> Plan:
    """Return the plan that a careful person makes by hand; `grooves` are as in `make_plan`."""
    bench = PlanBench(problem)
    return explained(made("by hand", by_hand(bench), unsavable(bench)), grooves or {})


def _candidates(bench: PlanBench) -> Iterator[tuple[str, PlanState]]:
    yield "by hand", by_hand(bench)
    yield from greedy_plans(bench)
