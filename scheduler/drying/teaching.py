"""What a room's own tests make of the table's days, as dates and answers need to know it."""

from __future__ import annotations

import math
from datetime import date
from typing import Protocol

from scheduler.drying.dates import DateSpan
from scheduler.words.tuples import NamedTuple

_HAIR = 1e-9

EIGHT_IN_TEN = (0.1, 0.9)
"""The shares between which eight in ten lie."""


class RoomSays(NamedTuple):
    """What a room's own tests say: so many times the table's days, eight in ten from low to high.

    So many of `share_pct` are to be dry when one is due.
    """

    room: str
    tests: int
    times: float
    low: float
    high: float
    share_pct: int


class LearnedDates(NamedTuple):
    """What was learned of one on a board: when `share_pct` of such are dry, and eight in ten.

    `table_due` and `table_clear` are what the table, the air and its own soft test say, `air_due`
    what table and air say alone.
    """

    says: RoomSays
    share_dry: date | None
    dry: DateSpan
    table_due: date | None
    table_clear: date | None
    air_due: date | None = None


class Teaching(Protocol):
    """What tests in a room make of the table's minimum, here of one with `spread` unknown.

    Progress is in minima of the table; spreads are standard deviations of its logarithm.
    """

    @property
    def says(self) -> RoomSays:
        """Return what the tests say of the room."""

    def due(self, min_days: float, spread: float = 0.0) -> float:
        """Return the progress from which to test; `min_days` at 20 deg C and 50 %."""

    def clear(self, min_days: float, spread: float = 0.0) -> float:
        """Return the progress at which the slot is counted on."""

    def dry(self, share: float, spread: float = 0.0) -> float:
        """Return the progress at which a share of such specimens is dry."""


def in_days(days: int, taught: Teaching, min_days: float) -> tuple[int, int]:
    """Return the days to due and to clear, rounded up, where the table has so many to due.

    min_days: the table's minimum at 20 deg C and 50 %.
    """
    times = taught.due(min_days), taught.clear(min_days)
    due, clear = (math.ceil(days * one - _HAIR) for one in times)
    return due, clear
