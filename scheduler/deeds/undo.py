"""Take back what was recorded."""

from __future__ import annotations

from datetime import datetime

from scheduler.deeds.outcome import Outcome
from scheduler.record.journal import undo as take_back
from scheduler.record.store import Store


def undo(store: Store, line: int | None, *, now: datetime, who: str | None) -> Outcome:
    """Take back a journal line, the latest that stands when None; refused when built upon."""
    taken = take_back(store, line=line, now=now, who=who)
    return Outcome((f"took back line {taken.line} ({taken.command}): {taken.text}",))
