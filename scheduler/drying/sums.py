"""Drying summed over years of hours, so that thousands of dates are a matter of a second.

The rate is a straight line over the body between two anchors of the rules, hour by hour. So the
sums at the anchors, interpolated, are the sum at any body. One thing is not straight: a rate
under the limit `least_rate` counts as 0. Damper is never faster, so for one body the hours that
count are those up to one humidity, its cut. Running sums are kept over the hours up to each of a
ladder of humidities (shelves); the few hours between the shelf below a body's cut and the cut
itself are summed one by one. The result is the hour-by-hour sum, but for floating point.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import accumulate, chain, pairwise
from operator import add

from scheduler.air.hours import DAY_HOURS, NO_HUMIDITY
from scheduler.air.room_air import AirMean, RoomAir
from scheduler.rulebook import Rulebook
from scheduler.rulebook.answers import along, straddle
from scheduler.words.problems import BadInput

SHELF = 10
"""The height of a shelf in hundredths of a percent: a smaller one costs memory, a larger time."""

HAIR = 1e-9
"""Sums of many hours miss a share of 1 by a few units in the last place."""

_FULL = NO_HUMIDITY - 1


class Rates:
    """The drying rates of the rules at every hundredth of a percent; made once per rulebook."""

    def __init__(self, rules: Rulebook) -> None:
        self.rules = rules
        self.least = rules.limit("least_rate")
        self._rows = {(row.body_mm, row.rh_pct): row.rate for row in rules.tables.humidity}
        self._tables: dict[int, list[float]] = {}

    def table(self, anchor: int) -> list[float]:
        """Return the rate at a body anchor for 0.00 to 100.00 %; a missing humidity gives 0.

        Nothing is cut here. Raises BadInput when damper air dries faster.
        """
        if anchor not in self._tables:
            body, humidities = self.rules.bodies[anchor], self.rules.humidities
            rates = [self._rows[body, rh] for rh in humidities]
            if any(damp > dry for dry, damp in pairwise(rates)):
                raise BadInput(
                    f"humidity.csv: a body of {body:g} mm dries faster in damper air. "
                    "Find the row with `wingrest rules check`"
                )
            table = _between_anchors(humidities, rates)
            self._tables[anchor] = [*table, 0.0]
        return self._tables[anchor]

    def at(self, body_mm: float) -> tuple[int, int, float]:
        """Return the anchors around a body and how far it is from the first to the second."""
        return straddle(self.rules.bodies, body_mm)

    def cut(self, body_mm: float) -> int:
        """Return the dampest humidity [0.01 %] that still counts for a body; -1 for none."""
        thin, thick, share = self.at(body_mm)
        one, two = self.table(thin), self.table(thick)
        every = range(_FULL + 1)
        return bisect_left(every, True, key=lambda h: along(one[h], two[h], share) < self.least) - 1


class RoomDrying:
    """What a room's air does to bodies of any width; keeps its sums for the next question.

    assumed_pct: the humidity that counts in gaps, and after the last known hour when too little
    is known to expect anything [%]; None dries nothing.
    """

    def __init__(self, air: RoomAir, rates: Rates, assumed_pct: float | None) -> None:
        self.air = air
        self.rates = rates
        self.assumed_pct = assumed_pct
        self.hours = air.known_hours
        self.days = self.hours // DAY_HOURS
        gaps = accumulate((h == NO_HUMIDITY for h in air.counting[: self.hours]), initial=0)
        self.gaps = list(gaps)[::DAY_HOURS]
        self.expected_time = air.expected_time()
        expected = air.expected()
        self.expected_pct = None if expected is None else expected.counting_pct
        self._parts: dict[tuple[datetime, datetime], tuple[int, int, int, int]] = {}
        self._bodies: dict[float, BodyDrying] = {}
        self._sums: dict[int, dict[int, list[float]]] = {}
        cuts = [rates.cut(body) for body in rates.rules.bodies]
        self._low = min(cuts)
        self._at: list[list[int]] = [[] for _ in range(max(cuts) - self._low)]
        for hour, humidity in enumerate(air.counting[: self.hours]):
            if self._low < humidity <= max(cuts):
                self._at[humidity - self._low - 1].append(hour)

    def of(self, body_mm: float) -> BodyDrying:
        """Return the drying of bodies of one width [mm]."""
        if body_mm not in self._bodies:
            self._bodies[body_mm] = BodyDrying(self, body_mm)
        return self._bodies[body_mm]

    @cached_property
    def fortnights(self) -> tuple[AirMean, AirMean] | None:
        """Return the driest and the dampest 14 days in a row, None without such a time."""
        return self.air.fortnights()

    def part(self, begin: datetime, end: datetime) -> tuple[int, int, int, int]:
        """Return the first and last hour of whole days as known, their known hours and gaps."""
        if (begin, end) not in self._parts:
            air = self.air
            first = min(self.hours, max(0, (begin - air.start).days * DAY_HOURS))
            until = min(self.hours, max(first, (end - air.start).days * DAY_HOURS))
            gaps = air.counting[first:until].count(NO_HUMIDITY)
            self._parts[begin, end] = (first, until, until - first - gaps, gaps)
        return self._parts[begin, end]

    def shelf(self, cut: int) -> int:
        """Return the highest shelf whose top is not above a cut."""
        return (cut - self._low) // SHELF

    def hours_up_to(self, cut: int) -> list[int]:
        """Return the hours above the shelf below a cut that are not damper than the cut."""
        own = self._at[self.shelf(cut) * SHELF : cut - self._low]
        return sorted(chain.from_iterable(own))

    def sums(self, anchor: int, shelf: int) -> list[float]:
        """Return the rate-hours at an anchor before each midnight, over the hours up to a shelf."""
        known = self._sums.setdefault(anchor, {})
        if not known:
            known[0] = self._lowest(anchor)
        if shelf not in known:
            table, counting = self.rates.table(anchor), self.air.counting
            below = max(at for at in known if at < shelf)
            more = [0.0] * (self.days + 2)
            for hour in chain.from_iterable(self._at[below * SHELF : shelf * SHELF]):
                more[hour // DAY_HOURS + 1] += table[counting[hour]]
            known[shelf] = list(map(add, known[below], accumulate(more)))
        return known[shelf]

    def _lowest(self, anchor: int) -> list[float]:
        table = self.rates.table(anchor)[: self._low + 1]
        table += [0.0] * (NO_HUMIDITY + 1 - len(table))
        rates = map(table.__getitem__, self.air.counting[: self.hours])
        return list(accumulate(rates, initial=0.0))[::DAY_HOURS]


class BodyDrying:
    """Drying of one body width in one room. Amounts are days at 50 %."""

    def __init__(self, room: RoomDrying, body_mm: float) -> None:
        rates = room.rates
        thin, thick, self._share = rates.at(body_mm)
        self.room = room
        self._thin, self._thick = rates.table(thin), rates.table(thick)
        self.cut = rates.cut(body_mm)
        shelf = room.shelf(self.cut)
        self._thin_sums, self._thick_sums = room.sums(thin, shelf), room.sums(thick, shelf)
        self._single = room.hours_up_to(self.cut)
        between = range(max(0, self.cut - SHELF), self.cut + 1)
        rate_at = {humidity: self._bare(humidity) for humidity in between}
        single = map(rate_at.__getitem__, map(room.air.counting.__getitem__, self._single))
        self._single_sums = list(accumulate(single, initial=0.0))
        assumed = room.assumed_pct
        self.assumed_rate = 0.0 if assumed is None else rates.rules.rate(body_mm, assumed)
        self.expected_rate = self._expected()

    def rate(self, hour: int) -> float:
        """Return the rate in an hour of the room, counted from its first midnight."""
        if hour < 0:
            return self.assumed_rate
        if hour >= self.room.hours:
            return self.expected_rate
        humidity = self.room.air.counting[hour]
        if humidity == NO_HUMIDITY:
            return self.assumed_rate
        return self._bare(humidity) if humidity <= self.cut else 0.0

    def between(self, begin: datetime, end: datetime, onward: float | None = None) -> float:
        """Return the days at 50 % that the air between two local moments was worth.

        onward: the rate after the last known hour; None: the one expected.
        """
        hour_of = self.room.air.hour_of
        onward = self.expected_rate if onward is None else onward
        return (self._amount(hour_of(end), onward) - self._amount(hour_of(begin), onward)) / 24

    def mean_rate(self, begin: datetime, end: datetime) -> float | None:
        """Return the mean rate of the known hours of whole days, None when none is known."""
        first, until, known, gaps = self.room.part(begin, end)
        if not known:
            return None
        total = self._amount(until, 0.0) - self._amount(first, 0.0)
        return (total - gaps * self.assumed_rate) / known

    def first_morning(
        self,
        begin: datetime,
        end: datetime | None,
        days_at_50: float,
        onward: float | None = None,
    ) -> date | None:
        """Return the first date at whose 00:00 a body has had its days at 50 %, None if never.

        It stands in this room from local `begin` to `end` (None: for good); when what it has had
        at `end` is not enough, the answer is None, too.
        """
        hour_of = self.room.air.hour_of
        onward = self.expected_rate if onward is None else onward
        start = hour_of(begin)
        target = self._amount(start, onward) + days_at_50 * 24 * (1 - HAIR)
        if end is not None and self._amount(hour_of(end), onward) < target:
            return None
        day = self._day_of(target, max(0, math.ceil(start / 24)), onward)
        if day is None:
            return None
        return self.room.air.first + timedelta(days=max(day, math.ceil(start / 24)))

    def _day_of(self, target: float, first: int, onward: float) -> int | None:
        """Return the first midnight, not before `first` in known air, that reaches a target."""
        room = self.room
        if target <= 0 and self.assumed_rate:
            return math.ceil(target / self.assumed_rate / 24 - HAIR)
        if first <= room.days and self._midnight(room.days) >= target:
            return _first(lambda day: self._midnight(day) >= target, first, room.days)
        left = target - self._amount(room.hours, onward)
        if left <= 0:
            return room.days + 1
        if not onward:
            return None
        return math.ceil((room.hours + left / onward) / 24 - HAIR)

    def _amount(self, hour: float, onward: float) -> float:
        """Return the rate-hours from the room's first midnight to an hour; negative before it."""
        if hour <= 0:
            return hour * self.assumed_rate
        known = min(hour, self.room.hours)
        day, whole = int(known // DAY_HOURS), int(known)
        total = self._midnight(day) + sum(map(self.rate, range(day * DAY_HOURS, whole)))
        if known > whole:
            total += (known - whole) * self.rate(whole)
        return total + (hour - known) * onward

    def _midnight(self, day: int) -> float:
        """Return the rate-hours before a midnight of the known time."""
        thin = self._thin_sums[day]
        return (
            thin
            + self._share * (self._thick_sums[day] - thin)
            + self._single_sums[bisect_left(self._single, day * DAY_HOURS)]
            + self.room.gaps[day] * self.assumed_rate
        )

    def _bare(self, humidity: int) -> float:
        return along(self._thin[humidity], self._thick[humidity], self._share)

    def _expected(self) -> float:
        when = self.room.expected_time
        rate = None if when is None else self.mean_rate(*when)
        return self.assumed_rate if rate is None else rate


def _between_anchors(humidities: Sequence[float], rates: Sequence[float]) -> list[float]:
    """Return the rate on straight lines between humidities, at every hundredth of a percent."""
    every = range(_FULL + 1)
    table = [rates[0]] * bisect_left(every, humidities[0], key=_pct)
    for at in range(len(rates) - 1):
        dry, span = humidities[at], humidities[at + 1] - humidities[at]
        start, end = rates[at], rates[at + 1]
        below = bisect_left(every, humidities[at + 1], key=_pct)
        if start == end:
            table += [start] * (below - len(table))
        else:
            # As `along` reckons, written out: a call for each would double a quick question.
            rise = end - start
            table += [start + (h / 100 - dry) / span * rise for h in range(len(table), below)]
    return table + [rates[-1]] * (_FULL + 1 - len(table))


def _pct(hundredth: int) -> float:
    return hundredth / 100


def _first(holds: Callable[[int], bool], low: int, high: int) -> int:
    """Return the first day from `low` to `high` on which something holds for good."""
    step, top = 32, low
    while top < high and not holds(top):
        low, top, step = top + 1, min(high, top + step), step * 2
    return low + bisect_left(range(low, top), True, key=holds)
