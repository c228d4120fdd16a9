"""Take back what was recorded."""

from __future__ import annotations

from scheduler.deeds.outcome import Outcome
from scheduler.record.deed import When
from scheduler.record.journal import take_back
from scheduler.record.store import Store


def undo(store: Store, line: int | None, when: When) -> Outcome:
    """Take back a journal line, the latest that stands when None; refused when built upon."""
    taken, by = take_back(store, line, when)
    return Outcome((f"took back line {taken.line} ({taken.command}): {taken.text}",), line=by)
