"""Days off that are near: what to do before them; in them nobody is asked for anything."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words import wording

SOON = timedelta(days=3)
"""Days off are told so long before they begin; no source, enough time to act."""


def away_worries(view: View) -> Iterator[Worry]:
    """Yield a worry for each stretch of days off that has begun or is near."""
    today = view.now.date()
    near = [a for a in view.facts.away if a.from_day - SOON <= today <= a.to_day]
    if not near:
        return
    from scheduler.feed.away_days import left_behind  # it imports all that a calendar says

    for away in near:
        first, last = (wording.weekday(day, today) for day in (away.from_day, away.to_day))
        begins = f"away from {first} to {last}"
        if away.has(today):
            begins = f"days off until {last}: no session is planned"
        found = left_behind(view, away)
        names = (*found.out, *(n for n, _ in found.cold), *(b for b, _ in found.due))
        text = ". ".join([begins, *found.lines()])
        doing = f"wingrest putback {' '.join(found.out)} fridge" if found.out else "wingrest plan"
        yield Worry("away", names, text, doing)
