"""The plan: which specimen in which session on which stretch of which board.

`make_plan` answers a `PlanProblem` at once with the best of several quick plans; `plan`
searches on, and says how far from the best possible its plan can be at most. The plan made
by hand is always among the candidates, so no plan is worse than that. Same problem, same plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.planner.bench import Bench
from scheduler.planner.by_hand import by_hand
from scheduler.planner.greedy import greedy_plans
from scheduler.planner.mend import Mended, Moved, mend
from scheduler.planner.occupancy import State
from scheduler.planner.plan import Effort, plan
from scheduler.planner.problem import PlanProblem
from scheduler.planner.proposal import Result, Scarce, as_placements, explained, made
from scheduler.planner.quality import unsavable

__all__ = [
    "Effort",
    "Mended",
    "Moved",
    "Result",
    "Scarce",
    "as_placements",
    "make_plan",
    "mend",
    "plan",
]


def make_plan(problem: PlanProblem, grooves: Mapping[str, float] | None = None) -> Result:
    """Return the best of several quick plans.

    `grooves` are the boards' groove widths (mm), for the reasons why something waits;
    without them the boards are named.
    """
    bench = Bench(problem)
    lost = unsavable(bench)
    candidates = [made(name, state, lost) for name, state in _candidates(bench)]
    best, hand = min(candidates, key=lambda one: one.quality), candidates[0]
    return Result(
        plan=explained(best, grooves or {}),
        method=best.name,
        by_hand=explained(hand, grooves or {}),
    )


def _candidates(bench: Bench) -> Iterator[tuple[str, State]]:
    yield "by hand", by_hand(bench)
    yield from greedy_plans(bench)
