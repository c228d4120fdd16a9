"""The kept plan: what was last proposed. It is no fact and stands outside the journal."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from scheduler.planner import problem_json
from scheduler.planner.plan_json import quality_from_json
from scheduler.planner.problem import Plan, Planned, PlanProblem, Quality
from scheduler.record import rows
from scheduler.record.store import Store


@dataclass(frozen=True, slots=True)
class Proof:
    """How good a plan is known to be, and what is scarce in it.

    `status` as in the planner's result, or "mended". `bound` is the least weighted waiting
    that any plan has which lets no more spoil; `gap` the part of this plan's own above it.
    `minute_saves` per session and minute, `board_saves` per mm of one more board like it:
    weighted days saved at most.
    """

    status: str
    bound: int | None = None
    gap: float | None = None
    minute_saves: Mapping[str, float] = field(default_factory=dict)
    board_saves: Mapping[str, float] = field(default_factory=dict)
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class Kept:
    """A plan with the problem it answers, how good it is, and since when it is kept.

    `pinned` are the specimens whose place the person decided.
    """

    problem: PlanProblem
    plan: Plan
    kept_at: datetime
    by_hand: Quality
    proof: Proof = Proof("heuristic")
    pinned: frozenset[str] = frozenset()

    @property
    def placements(self) -> tuple[Planned, ...]:
        """Return what is planned, by session, board and position."""
        return self.plan.placements


def keep_plan(store: Store, kept: Kept) -> None:
    """Keep a plan in place of the one before; an equal one stays as it was kept."""
    text = json.dumps(
        {
            "problem": problem_json.problem_to_json(kept.problem),
            "plan": problem_json.plan_to_json(kept.problem, kept.plan, by_hand=kept.by_hand),
            "proof": asdict(kept.proof),
            "pinned": sorted(kept.pinned),
        },
        ensure_ascii=False,
    )
    # What is proposed, without the moment of asking: asking twice is no change.
    proposed = json.dumps([repr(p) for p in kept.placements])
    digest = hashlib.sha256(proposed.encode()).hexdigest()
    with store.transaction():
        store.db.execute(
            "INSERT INTO kept_plan(one, kept_at, digest, plan) VALUES (1, ?, ?, ?)"
            " ON CONFLICT(one) DO UPDATE SET plan = excluded.plan, digest = excluded.digest,"
            " kept_at = CASE WHEN digest = excluded.digest THEN kept_at ELSE excluded.kept_at END",
            (rows.moment_text(kept.kept_at), digest, text),
        )


def kept_plan(store: Store) -> Kept | None:
    """Return the kept plan, None when nothing was planned yet."""
    row = store.db.execute("SELECT kept_at, plan FROM kept_plan").fetchone()
    if row is None:
        return None
    read: dict[str, Any] = json.loads(row["plan"])
    problem = problem_json.problem_from_json(read["problem"])
    plan = problem_json.plan_from_json(problem, read["plan"])
    by_hand = quality_from_json(read["plan"]["quality"]["by_hand"])
    return Kept(
        problem,
        plan,
        rows.moment_of(row["kept_at"]),
        by_hand,
        Proof(**read["proof"]),
        frozenset(read["pinned"]),
    )
