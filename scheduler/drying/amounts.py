"""What the air of a room is worth to one body: amounts of drying, and the days that they take."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from itertools import accumulate
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


class HourSums:
    """What an anchor of the rules had before each hour [hours at 20 deg C and 50 %].

    `dawns`: before each day, and after the last; `hours_of` gives the paces of a day's 24 hours,
    which are summed when they are first asked for.
    """

    def __init__(self, dawns: Sequence[float], hours_of: Callable[[int], Iterable[float]]) -> None:
        self.dawns = dawns
        self._hours_of = hours_of
        self._last = 24 * (len(dawns) - 1) - 1
        self._days: dict[int, list[float]] = {}

    def about(self, hour: float) -> tuple[int, float, float]:
        """Return the hour in which a moment lies, and the sums before and after it.

        Before the first hour it is the first, after the last it is the last.
        """
        whole = min(max(int(hour), 0), self._last)
        day, at = divmod(whole, 24)
        sums = self._days.get(day)
        if sums is None:
            sums = [*accumulate(self._hours_of(day), initial=self.dawns[day])]
            self._days[day] = sums
        return whole, sums[at], sums[at + 1]


class BodyDrying(NamedTuple):
    """The drying of one body width in one room, `share` of the way from anchor `thin` to `thick`.

    Hours count from `start`.
    """

    start: datetime
    thin: HourSums
    thick: HourSums
    share: float

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
        whole, thin_low, thin_high = self.thin.about(hour)
        _, thick_low, thick_high = self.thick.about(hour)
        low = thin_low + self.share * (thick_low - thin_low)
        high = thin_high + self.share * (thick_high - thin_high)
        return low + (hour - whole) * (high - low)


def _first(holds: Callable[[int], bool], least: int, most: int) -> int | None:
    """Return the first day from `least` to `most` from which something holds; None: none."""
    found = least + bisect_left(range(least, most + 1), True, key=holds)
    return found if found <= most else None
