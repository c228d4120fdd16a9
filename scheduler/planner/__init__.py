"""The plan: which specimen in which session on which stretch of which board.

`make_plan` answers a `PlanProblem` at once with the best of several quick plans; `best_plan`
searches on, and says how far from the best possible its plan can be at most. The plan made
by hand is always among the candidates, so no plan is worse than that. Same problem, same plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.planner.bench import PlanBench
from scheduler.planner.best import Effort, best_plan
from scheduler.planner.finish import Result, Scarce, as_placements, explained, made
from scheduler.planner.mend import Mended, Moved, mend
from scheduler.planner.problem import PlanProblem
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import by_hand, greedy_plans
from scheduler.planner.state import PlanState

__all__ = [
    "Effort",
    "Mended",
    "Moved",
    "Result",
    "Scarce",
    "as_placements",
    "best_plan",
    "make_plan",
    "mend",
]


def make_plan(problem: PlanProblem, grooves: Mapping[str, float] | None = None) -> Result:
    """Return the best of several quick plans.

    `grooves` are the boards' groove widths (mm), for the reasons why something waits;
    without them the boards are named.
    """
    bench = PlanBench(problem)
    lost = unsavable(bench)
    candidates = [made(name, state, lost) for name, state in _candidates(bench)]
    best, hand = min(candidates, key=lambda one: one.quality), candidates[0]
    return Result(
        plan=explained(best, grooves or {}),
        method=best.name,
        by_hand=explained(hand, grooves or {}),
    )


def _candidates(bench: PlanBench) -> Iterator[tuple[str, PlanState]]:
    yield "by hand", by_hand(bench)
    yield from greedy_plans(bench)
