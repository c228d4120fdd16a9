"""Whose due date something moved, as it is said at the bench."""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.deeds.replan import replan, said
from scheduler.deeds.when import When
from scheduler.drying import dates as drying
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import wording
from scheduler.words.records import Placement


def moved_dates(
    placements: Iterable[Placement], before: Snapshot, after: Snapshot, rules: Rulebook
) -> list[str]:
    """Return a line for each of the placements whose due date is another than before."""
    had = {p.id: p for p in before.placements}
    lines = []
    for placement in placements:
        old = drying.standing_dates(had[placement.id], before, rules).due
        new = drying.standing_dates(placement, after, rules).due
        if new != old:
            said = f"test from {wording.weekday(new)}" if new else "no date in this air"
            was = wording.weekday(old) if old else "it had no date"
            lines.append(f"  {placement.specimen}: {said} (before: {was})")
    return lines


def air_moved(store: Store, before: Snapshot, rules: Rulebook, when: When) -> list[str]:
    """Say whose dates newly known air moved, and bring the kept plan up to it."""
    after = store.snapshot()
    lines = moved_dates(after.standing(), before, after, rules)
    mended = replan(store, rules, when.now)
    if mended is not None and mended.changes:
        lines += said(mended)
    return lines
