"""Drying summed over years of hours, so that thousands of dates are a matter of a second.

The pace is a straight line over the body between two anchors of the rules, hour by hour. So the
sums at the anchors, interpolated, are the sum at any body: running sums over the hours of a room
are made once per anchor, and a stretch of time is a difference of two.

An hour that was measured counts as it was. Any other has the pace that is believed of its day:
a mean over the paces of what was read and of what the room usually has (`air.belief`).
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from itertools import accumulate
from typing import Literal, Protocol

from scheduler.air.belief import Belief, Process, ReadOn
from scheduler.air.hours import DAY_HOURS, NO_HUMIDITY, NO_TEMPERATURE
from scheduler.air.room_air import RoomAir
from scheduler.drying.law import ORDINARY_C, Law, SteadyAir
from scheduler.words.tuples import NamedTuple

HAIR = 1e-9
"""Sums of many hours miss a share of 1 by a few units in the last place."""

YEARS_BACK = 3
"""So many earlier years tell what the room usually has on a date."""

Side = Literal["drier", "believed", "damper"]

_HOUR = timedelta(hours=1)
_YEAR_DAYS = 365


class KeptDays(NamedTuple):
    """Dates from `first` to `last`, both included."""

    first: date
    last: date

    @property
    def number(self) -> int:
        """Return how many they are."""
        return (self.last - self.first).days + 1


class Drying(Protocol):
    """What the air of a room is worth to one body. Amounts are days at 20 deg C and 50 %."""

    def between(self, begin: datetime, end: datetime) -> float:
        """Return the days that the air between two local moments was or will be worth."""

    def whole_days(self, begin: datetime, worth: float, most: int, least: int = 0) -> int | None:
        """Return the least number of days after `begin`, `least` to `most`, that are worth it."""


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
        """Return the least number of days after `begin`, `least` to `most`, that are worth it."""
        return _first(lambda day: day * self.pace >= worth * (1 - HAIR), least, most)


class RoomDrying:
    """What a room's air does to bodies of any width; keeps its sums for the next question.

    air: what was measured; assumed: the air it is said to have, None when nobody has said: then
    it usually has what was measured, all alike. `days` are those asked about and all measured;
    before them the pace of the first hour goes on, after them that of the last. Up to the date
    `recalled` a measured day tells a little of its date in later years.
    """

    def __init__(
        self,
        air: RoomAir,
        law: Law,
        assumed: SteadyAir | None,
        process: Process,
        days: KeptDays,
        recalled: date,
    ) -> None:
        self.air = air
        self.law = law
        self.assumed = assumed
        self.days = days
        self.start = datetime.combine(days.first, time())
        self._missing_c = assumed.temp_c if assumed else ORDINARY_C
        before = max(0, (air.first - days.first).days) * DAY_HOURS
        after = days.number * DAY_HOURS - before - len(air.rh)
        self._rh = _padded(air.rh, NO_HUMIDITY, before, after)
        self._temp = _padded(air.temp, NO_TEMPERATURE, before, after)
        self._known = [
            DAY_HOURS - self._rh[at : at + DAY_HOURS].count(NO_HUMIDITY)
            for at in range(0, len(self._rh), DAY_HOURS)
        ]
        self._unread = [day for day, known in enumerate(self._known) if known < DAY_HOURS]
        self._told = 1 / process.season_days
        self._alike = self._years_before((recalled - days.first).days + 1)
        shown = [
            ReadOn(day, known + self._told * len(self._alike.get(day, ())))
            for day, known in enumerate(self._known)
        ]
        self.belief = Belief(days.number, shown, process)
        self._warmths = law.warmths(self._temp, self._missing_c)
        self._paces: dict[int, tuple[array[float], list[float]]] = {}
        self._sums: dict[tuple[int, Side], list[float]] = {}
        self._bodies: dict[tuple[float, Side], BodyDrying] = {}
        self._levels: tuple[list[float], list[float], list[float]] | None = None

    def _years_before(self, until: int) -> dict[int, list[int]]:
        """Return for the days below `until` the measured days of their date in earlier years."""
        found = {}
        for day in range(_YEAR_DAYS, min(until, len(self._known))):
            years = range(day - _YEAR_DAYS, max(-1, day - YEARS_BACK * _YEAR_DAYS - 1), -_YEAR_DAYS)
            told = [d for d in years if self._known[d]]
            if told:
                found[day] = told
        return found

    def of(self, body_mm: float, side: Side = "believed") -> BodyDrying:
        """Return the drying of bodies of one width [mm], should the air be as on one side."""
        if (body_mm, side) not in self._bodies:
            thin, thick, share = self.law.anchors(body_mm)
            self._bodies[body_mm, side] = BodyDrying(
                self.start, self.sums(thin, side), self.sums(thick, side), share
            )
        return self._bodies[body_mm, side]

    def sums(self, anchor: int, side: Side) -> list[float]:
        """Return the hours at 20 deg C and 50 % that an anchor has had before each hour."""
        key = (anchor, side if self._unread else "believed")
        if key not in self._sums:
            self._sums[key] = self._summed(*key)
        return self._sums[key]

    def _summed(self, anchor: int, side: Side) -> list[float]:
        """Return the sums; up to the first day not wholly read every side has the same."""
        hours, believed = self._paces_of(anchor)
        if side == "believed":
            return list(accumulate(self._filled(hours, believed, 0), initial=0.0))
        at, sums = self._unread[0] * DAY_HOURS, self.sums(anchor, "believed")
        paces = self._filled(hours[at:], self._moved(anchor, believed, side), at)
        return sums[:at] + list(accumulate(paces, initial=sums[at]))

    def _paces_of(self, anchor: int) -> tuple[array[float], list[float]]:
        """Return an anchor's paces by hour, 0 where not read, and as believed by day."""
        if anchor not in self._paces:
            hours = self.law.hours(anchor, self._rh, self._warmths)
            believed = self.believed(self._by_day(hours), self._said(anchor))
            self._paces[anchor] = array("d", hours), believed
        return self._paces[anchor]

    def _filled(self, hours: array[float], believed: Sequence[float], at: int) -> array[float]:
        """Return the paces of the hours from `at` on, with what is believed where none was read."""
        hours = hours[:]
        for day in self._unread:
            begin = day * DAY_HOURS - at
            if not self._known[day]:
                hours[begin : begin + DAY_HOURS] = array("d", [believed[day]]) * DAY_HOURS
                continue
            for hour in range(begin, begin + DAY_HOURS):
                if self._rh[hour + at] == NO_HUMIDITY:
                    hours[hour] = believed[day]
        return hours

    def believed(self, seen: list[float], said: float | None) -> list[float]:
        """Return what is believed of every day, from the means of its measured hours."""
        told = {day: sum(seen[d] for d in days) for day, days in self._alike.items()}
        for day, total in told.items():
            known, years = self._known[day], self._told * len(self._alike[day])
            seen[day] = (seen[day] * known + total * self._told) / (known + years)
        return self.belief.of(seen, self.belief.usual(seen, said))

    def levels(self) -> tuple[list[float], list[float], list[float]]:
        """Return by day humidity and temperature as believed, and the humidity's spread."""
        if self._levels is None:
            said = (self.assumed.rh_pct, self.assumed.temp_c) if self.assumed else (None, None)
            days = range(self.days.number)
            self._levels = (
                self.believed([self._rh_on(day) for day in days], said[0]),
                self.believed([self._temp_on(day) for day in days], said[1]),
                self.belief.spread_pct(),
            )
        return self._levels

    def air_on(self, day: date) -> SteadyAir:
        """Return the air that is believed of a date, of the first or last one kept beyond."""
        at = min(max((day - self.days.first).days, 0), self.days.number - 1)
        rh, temp, _ = self.levels()
        return SteadyAir(min(100.0, max(0.0, rh[at])), temp[at])

    def _rh_on(self, day: int) -> float:
        """Return the mean of a day's measured humidities [%], 0 where none was."""
        known = self._known[day]
        total = sum(self._rh[day * DAY_HOURS : (day + 1) * DAY_HOURS])
        return (total - (DAY_HOURS - known) * NO_HUMIDITY) / 100 / known if known else 0.0

    def _temp_on(self, day: int) -> float:
        """Return the mean temperature [deg C] of a day's measured hours, 0 where none was."""
        known = self._known[day]
        if not known:
            return 0.0
        cut = slice(day * DAY_HOURS, (day + 1) * DAY_HOURS)
        temps = self._temp[cut]
        if known < DAY_HOURS:
            here = zip(temps, self._rh[cut], strict=True)
            temps = array("h", [temp for temp, rh in here if rh != NO_HUMIDITY])
        missing = temps.count(NO_TEMPERATURE)
        total = sum(temps) - missing * NO_TEMPERATURE
        return (total / 100 + missing * self._missing_c) / known

    def _by_day(self, hours: Sequence[float]) -> list[float]:
        """Return the mean of each day's measured hours; unmeasured ones are 0."""
        return [
            sum(hours[day * DAY_HOURS : (day + 1) * DAY_HOURS]) / known if known else 0.0
            for day, known in enumerate(self._known)
        ]

    def _said(self, anchor: int) -> float | None:
        if self.assumed is None:
            return None
        return self.law.pace(self.law.rules.bodies[anchor], self.assumed)

    def _moved(self, anchor: int, believed: list[float], side: Side) -> list[float]:
        """Return the believed paces of an anchor, should every day lie a spread to one side."""
        table, sign = self.law.table(anchor), -1 if side == "drier" else 1
        humidities, temps, spreads = self.levels()
        found = believed[:]
        for day in self._unread:
            rh = humidities[day]
            here = table[_hundredths(rh)]
            there = table[_hundredths(rh + sign * spreads[day])]
            found[day] = max(0.0, believed[day] + (there - here) * self.law.warmth(temps[day]))
        return found


class BodyDrying(NamedTuple):
    """Drying of one body width in one room, `share` of the way from a thin anchor to a thick."""

    start: datetime
    thin: list[float]
    thick: list[float]
    share: float

    def between(self, begin: datetime, end: datetime) -> float:
        """Return the days that the air between two local moments was or will be worth."""
        start = self.start
        return (self.amount((end - start) / _HOUR) - self.amount((begin - start) / _HOUR)) / 24

    def whole_days(self, begin: datetime, worth: float, most: int, least: int = 0) -> int | None:
        """Return the least number of days after `begin`, `least` to `most`, that are worth it."""
        hour = (begin - self.start) / _HOUR
        target = self.amount(hour) + worth * 24 * (1 - HAIR)
        return _first(lambda day: self.amount(hour + 24 * day) >= target, least, most)

    def amount(self, hour: float) -> float:
        """Return the pace-hours from the first hour kept to another; negative before it."""
        whole = min(max(int(hour), 0), len(self.thin) - 2)
        thin, thick, share = self.thin, self.thick, self.share
        low = thin[whole] + share * (thick[whole] - thin[whole])
        high = thin[whole + 1] + share * (thick[whole + 1] - thin[whole + 1])
        return low + (hour - whole) * (high - low)


def _hundredths(rh_pct: float) -> int:
    return round(100 * min(100.0, max(0.0, rh_pct)))


def _padded(values: array[int], missing: int, before: int, after: int) -> array[int]:
    blank = array(values.typecode, [missing])
    return blank * before + values + blank * after


def _first(holds: Callable[[int], bool], least: int, most: int) -> int | None:
    """Return the first day from `least` to `most` on which something holds for good."""
    found = least + bisect_left(range(least, most + 1), True, key=holds)
    return found if found <= most else None
