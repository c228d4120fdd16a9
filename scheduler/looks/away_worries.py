"""Days off that are near: what to see to before, and that nobody is asked for anything in them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words import wording

SOON = timedelta(days=3)
"""So long before days off begin they are worth a word; no source, time to act in."""


def away_worries(view: View) -> Iterator[Worry]:
    """Return a worry for days off that are on or near."""
    today = view.now.date()
    near = [a for a in view.facts.away if a.from_day - SOON <= today <= a.to_day]
    if not near:
        return
    from scheduler.feed.away_days import left_behind  # with it all that a calendar says

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
