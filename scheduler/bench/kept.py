"""The kept plan: what was last proposed. It is no fact and stands outside the journal."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime

from scheduler import rows
from scheduler.planner import problem_json
from scheduler.planner.problem import Plan, Planned, PlanProblem, Quality
from scheduler.store import Store


@dataclass(frozen=True, slots=True)
class Kept:
    """A plan with the problem it answers, and when it was first kept."""

    problem: PlanProblem
    plan: Plan
    kept_at: datetime

    @property
    def placements(self) -> tuple[Planned, ...]:
        """Return what is planned, by session, board and position."""
        return self.plan.placements


def keep_plan(
    store: Store, problem: PlanProblem, plan: Plan, by_hand: Quality, now: datetime
) -> None:
    """Keep a plan in place of the one before; an equal one stays as it was kept."""
    text = json.dumps(
        {
            "problem": problem_json.problem_to_json(problem),
            "plan": problem_json.plan_to_json(problem, plan, by_hand=by_hand),
        },
        ensure_ascii=False,
    )
    # What is proposed, without the moment of asking: asking twice is no change.
    proposed = json.dumps([repr(p) for p in plan.placements])
    digest = hashlib.sha256(proposed.encode()).hexdigest()
    with store.transaction():
        store.db.execute(
            "INSERT INTO kept_plan(one, kept_at, digest, plan) VALUES (1, ?, ?, ?)"
            " ON CONFLICT(one) DO UPDATE SET plan = excluded.plan, digest = excluded.digest,"
            " kept_at = CASE WHEN digest = excluded.digest THEN kept_at ELSE excluded.kept_at END",
            (rows.moment_text(now), digest, text),
        )


def kept_plan(store: Store) -> Kept | None:
    """Return the kept plan, None when nothing was planned yet."""
    row = store.db.execute("SELECT kept_at, plan FROM kept_plan").fetchone()
    if row is None:
        return None
    both = json.loads(row["plan"])
    problem = problem_json.problem_from_json(both["problem"])
    return Kept(
        problem,
        problem_json.plan_from_json(problem, both["plan"]),
        rows.moment_of(row["kept_at"]),
    )
