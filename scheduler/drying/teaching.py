"""What a room's own tests make of the table's days, in the form that dates and answers need."""

from __future__ import annotations

import math
from datetime import date
from typing import Protocol

from scheduler.drying.dates import DateSpan
from scheduler.words.tuples import NamedTuple

_HAIR = 1e-9

EIGHT_IN_TEN = (0.1, 0.9)
"""The quantiles between which eight in ten lie."""


class RoomSays(NamedTuple):
    """What a room's own tests say: its specimens need so many `times` the table's days.

    The true figure lies between `low` and `high` eight times in ten. `tests` are those that told
    something; they count as `counted`, which is less where they shared air that nobody ever read. A
    specimen is due when `share_pct` of such specimens are dry.
    """

    room: str
    tests: int
    counted: float
    times: float
    low: float
    high: float
    share_pct: int


class LearnedDates(NamedTuple):
    """What was learned of one on a board: when `share_pct` of such are dry, and eight in ten.

    `table_due` and `table_clear` are by the table, the air and its own soft test, `air_due` by
    table and air alone.
    """

    says: RoomSays
    share_dry: date | None
    dry: DateSpan
    table_due: date | None
    table_clear: date | None
    air_due: date | None = None


class Teaching(Protocol):
    """What tests in a room make of the table's minimum, for a specimen with this `spread`.

    Progress is in minima of the table; spreads are standard deviations of its logarithm.
    """

    @property
    def says(self) -> RoomSays:
        """Return what the tests say of the room."""

    def due(self, min_days: float, spread: float = 0.0) -> float:
        """Return the progress from which to test it; `min_days` is at 20 deg C and 50 %."""

    def clear(self, min_days: float, spread: float = 0.0) -> float:
        """Return the progress at which the plan counts on its slot."""

    def dry(self, share: float, spread: float = 0.0) -> float:
        """Return the progress at which a share of such specimens is dry."""


def in_days(days: int, taught: Teaching, min_days: float) -> tuple[int, int]:
    """Return the learned days to due and to clear, rounded up; the table has `days` to due.

    min_days: the table's minimum at 20 deg C and 50 %.
    """
    times = taught.due(min_days), taught.clear(min_days)
    due, clear = (math.ceil(days * one - _HAIR) for one in times)
    return due, clear
