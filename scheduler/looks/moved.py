"""Whose due date something moved, as it is said at the bench."""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.drying.on_board import OnBoard
from scheduler.view import View
from scheduler.words import wording


def moved_dates(standing: Iterable[OnBoard], before: View) -> list[str]:
    """Return a line for each of those that stand whose due date is another than before."""
    had = {one.placement.id: one for one in before.standing()}
    lines = []
    for one in standing:
        old, new = had[one.placement.id].dates.due, one.dates.due
        if new != old:
            said = f"test from {wording.weekday(new)}" if new else "no date in this air"
            was = wording.weekday(old) if old else "it had no date"
            lines.append(f"  {one.specimen.specimen}: {said} (before: {was})")
    return lines
