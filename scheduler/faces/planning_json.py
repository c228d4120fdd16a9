"""A plan, how good it is known to be, and what moved, as documented JSON."""

from __future__ import annotations

from typing import Any

from scheduler.looks.planning import Planning
from scheduler.planner.plan_json import plan_to_json
from scheduler.planner.problem import Planned


def planning_json(made: Planning) -> dict[str, Any]:
    """Return a plan as documented JSON, with how good it is known to be."""
    plan = made.plan
    facts = plan_to_json(made.problem, plan)
    facts["quality"] |= {
        "status": plan.status,
        "bound": plan.bound,
        "gap_pct": None if plan.gap is None else round(100 * plan.gap, 2),
        "minute_saves": dict(plan.scarce.minute),
        "board_mm_saves": dict(plan.scarce.board_mm),
        "stopped": plan.stopped,
    }
    facts["moved"] = [
        {
            "specimen": m.specimen,
            "was": m.was and _place(m.was),
            "now": m.now and _place(m.now),
            "why": m.why,
        }
        for m in made.moved
    ]
    return facts


def _place(planned: Planned) -> dict[str, object]:
    return {
        "session": planned.session,
        "board": planned.board,
        "from_mm": planned.from_mm,
        "to_mm": planned.to_mm,
    }
