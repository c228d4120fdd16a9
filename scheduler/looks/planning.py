"""A plan that passed its check, the problem it answers, and the record it was made for."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.planner.make import Moved
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.referee.verdict import judge
from scheduler.view import View
from scheduler.words.problems import WingrestError


@dataclass(frozen=True, slots=True)
class Planning:
    """A checked plan, the problem that it answers, and the record for which it was made.

    `moved` is whose place changed since the plan kept before; empty where that was not asked.
    """

    view: View
    problem: PlanProblem
    plan: Plan
    moved: tuple[Moved, ...] = ()


def refuse_faulty(problem: PlanProblem, plan: Plan) -> None:
    """Raise WingrestError with what the referee finds wrong in a plan: it is never shown."""
    faults = judge(problem, plan)
    if faults:
        found = "\n".join(f"{f.kind}: {f.message}" for f in faults)
        raise WingrestError(
            f"{found}\nThe plan did not pass its own check and is not shown. This is a fault of"
            " the program: please report it with `wingrest plan --problem FILE`"
        )
