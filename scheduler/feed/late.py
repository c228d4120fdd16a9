"""What should have been done in the chamber and the cold before today, and was not."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from scheduler.feed.cold import for_the_cold
from scheduler.feed.gathered import inside, midnight
from scheduler.view import View
from scheduler.words.wording import listed, moment


def late_besides_boards(view: View, today: date) -> dict[str, Sequence[str]]:
    """Return lines for what should have been done before today, by "chamber" and "cold"."""
    morning = midnight(today, view)
    chamber = [
        f"Out of the chamber: {s.specimen}, since {moment(s.out_by, today)}"
        for s in inside(view)
        if s.until is None and s.out_by < morning
    ]
    cold = [
        f"Into the {c.place}: {listed(c.specimens)}, since {moment(view.local(c.by), today)}"
        for c in for_the_cold(view)
        if c.by < morning
    ]
    return {place: lines for place, lines in (("chamber", chamber), ("cold", cold)) if lines}
