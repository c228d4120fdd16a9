"""After something changed: plan again, and say only what is different."""

from __future__ import annotations

from datetime import datetime

from scheduler.deeds.plan import plan
from scheduler.looks.planning import Planning
from scheduler.record.kept import kept_plan
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook


def replan(store: Store, rules: Rulebook, now: datetime) -> Planning | None:
    """Bring the kept plan up to the record; None when no plan is kept or all of it is over."""
    kept = kept_plan(store)
    if kept is None:
        return None
    made = plan(store, rules, now)
    return made if made.problem.sessions else None
