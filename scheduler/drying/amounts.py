"""What the air of a room is worth to one body: amounts of drying, and the days that they take."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Protocol

from scheduler.words.tuples import NamedTuple

HAIR = 1e-9
"""The tolerance of sums: those of many hours miss a whole by a few units in the last place."""

_HOUR = timedelta(hours=1)


class Drying(Protocol):
    """What the air of a room is worth to one body. Amounts are days at 20 deg C and 50 %."""

    def between(self, begin: datetime, end: datetime) -> float:
        """Return the days that the air between two local moments was or will be worth."""

    def whole_days(self, begin: datetime, worth: float, most: int, least: int = 0) -> int | None:
        """Return the fewest days after `begin`, `least` to `most`, worth so much; None: none."""


class SteadyDrying(NamedTuple):
    """Drying at one pace."""

    pace: float

    def between(self, begin: datetime, end: datetime) -> float:
        """Return the days that the time between two local moments is worth."""
        return (end - begin) / timedelta(days=1) * self.pace

    def whole_days(
        self,
        begin: datetime,  # noqa: ARG002 - every moment is alike
        worth: float,
        most: int,
        least: int = 0,
    ) -> int | None:
        """Return the fewest days after `begin`, `least` to `most`, worth so much; None: none."""
        return _first(lambda day: day * self.pace >= worth * (1 - HAIR), least, most)


class BodyDrying(NamedTuple):
    """The drying of one body width in one room, `share` of the way from anchor `thin` to `thick`.

    Sums count hours at 20 deg C and 50 %. Those held begin with hour `first` after `start`;
    `earlier` gives the drying whose sums begin with hour 0.
    """

    start: datetime
    thin: list[float]
    thick: list[float]
    share: float
    first: int
    earlier: Callable[[], BodyDrying]

    def between(self, begin: datetime, end: datetime) -> float:
        """Return the days that the air between two local moments was or will be worth."""
        start = self.start
        return (self.amount((end - start) / _HOUR) - self.amount((begin - start) / _HOUR)) / 24

    def whole_days(self, begin: datetime, worth: float, most: int, least: int = 0) -> int | None:
        """Return the fewest days after `begin`, `least` to `most`, worth so much; None: none."""
        hour = (begin - self.start) / _HOUR
        target = self.amount(hour) + worth * 24 * (1 - HAIR)
        return _first(lambda day: self.amount(hour + 24 * day) >= target, least, most)

    def amount(self, hour: float) -> float:
        """Return what the time from `start` to an hour was worth [hours at 20 deg C and 50 %].

        An hour before `start` is negative, and so is its worth.
        """
        if hour < self.first and self.first:
            return self.earlier().amount(hour)
        thin, thick, share = self.thin, self.thick, self.share
        whole = min(max(int(hour) - self.first, 0), len(thin) - 2)
        low = thin[whole] + share * (thick[whole] - thin[whole])
        high = thin[whole + 1] + share * (thick[whole + 1] - thin[whole + 1])
        return low + (hour - (whole + self.first)) * (high - low)


def _first(holds: Callable[[int], bool], least: int, most: int) -> int | None:
    """Return the first day from `least` to `most` from which something holds; None: none."""
    found = least + bisect_left(range(least, most + 1), True, key=holds)
    return found if found <= most else None
