"""Specimens whose due date has moved."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from scheduler.drying.on_board import OnBoard
from scheduler.view import View
from scheduler.words.tuples import NamedTuple


class MovedDate(NamedTuple):
    """A specimen that stands, with its due date as told now and before; None: no date."""

    specimen: str
    was: date | None
    due: date | None


def moved_dates(standing: Iterable[OnBoard], before: View) -> tuple[MovedDate, ...]:
    """Return those of the standing whose told due date differs from before."""
    had = {one.placement.id: one for one in before.standing()}
    day = before.now.date()
    both = ((one, had[one.placement.id].told(day).due, one.told(day).due) for one in standing)
    return tuple(MovedDate(one.specimen.specimen, was, due) for one, was, due in both if was != due)
