"""Whether a record's tests teach anything; what they teach is worked out only where they do."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from scheduler.drying.on_board import OnBoard
from scheduler.record.snapshot import Snapshot
from scheduler.record.tested import tested_lately
from scheduler.rulebook import Rulebook
from scheduler.words.records import Placement

if TYPE_CHECKING:
    from scheduler.learning.lessons import Lessons


def lessons_of(
    facts: Snapshot,
    rules: Rulebook,
    of: Callable[[Placement], OnBoard],
    before: datetime | None = None,
) -> Lessons | None:
    """Return what a record's tests taught, None when there are too few for any room.

    of: gives a placement with the air in which it stood; before: only tests before it count.
    """
    placements = tested_lately(facts, round(rules.limit("learn_last")))
    if len(placements) < round(rules.limit("learn_least_tests")):
        return None
    from scheduler.learning.lessons import Lessons  # most records have none
    from scheduler.learning.taught import shares_of
    from scheduler.learning.witness import witness_of

    shares = shares_of(rules, facts.settings.dry_share_pct / 100)
    drooped = {d.placement for d in facts.droops}
    every = (witness_of(_earlier(of(p), before), p.id in drooped) for p in placements)
    return Lessons([one for one in every if one is not None], shares, rules)


def _earlier(one: OnBoard, before: datetime | None) -> OnBoard:
    if before is None:
        return one
    from dataclasses import replace  # slow to import, and most records have no lessons

    return replace(one, tests=tuple(t for t in one.tests if t.tested_at < before))
