"""Keep what is told at a mounting: the dates, and the rule rows on which they rest."""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.record.deed import Deed
from scheduler.record.told_then import ToldDates, keep_told
from scheduler.rulebook.rulings import ruling_of
from scheduler.view import View
from scheduler.words.records import Placement


def keep_dates(deed: Deed, view: View, placed: Mapping[int, Placement]) -> None:
    """Record the dates of new placements, by their numbers in the record."""
    if not placed:
        return
    ruling = ruling_of(view.rules)
    dates = {number: view.of(placement).dates for number, placement in placed.items()}
    told = {n: ToldDates(d.due, d.clear, ruling.digest) for n, d in dates.items()}
    keep_told(deed, told, ruling.tables)
