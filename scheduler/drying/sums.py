"""Drying summed over years of hours, so that thousands of dates take a second or so.

Between two body anchors of the rules the pace is a straight line, hour by hour. So the sum for any
body is interpolated between the sums at the two anchors, and a stretch of time is a difference of
two of them. Each day's sum is computed once per anchor; the hours within a day are summed only when
somebody asks about that day, and few of the days of a year are asked about.

An hour that was measured counts as it was. Any other hour has the pace that is believed of its day:
a mean over the paces of what was read and of what is usual in the room (`air.belief`).
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time
from functools import cached_property, partial
from itertools import accumulate, chain
from operator import add, mul
from typing import Literal, TypeVar

from scheduler.air.belief import Belief, Process
from scheduler.air.hours import DAY_HOURS, NO_HUMIDITY, NO_TEMPERATURE
from scheduler.air.leaning import Leaning, Recalled
from scheduler.air.room_air import NOTHING, RoomAir
from scheduler.drying.amounts import BodyDrying, HourSums
from scheduler.drying.law import ORDINARY_C, Law, SteadyAir
from scheduler.words.tuples import NamedTuple

YEARS_BACK = 3
"""So many earlier years tell what is usual in the room on a date."""

STEP_PCT = 8.0
"""The step [points of humidity] from one believed air to the next, up to the ends of a span."""

Side = Literal["drier", "believed", "damper"]

_YEAR_DAYS = 365

_Number = TypeVar("_Number", int, float)


class KeptDays(NamedTuple):
    """Dates from `first` to `last`, both included."""

    first: date
    last: date

    @property
    def number(self) -> int:
        """Return the number of days."""
        return (self.last - self.first).days + 1


class _Paces(NamedTuple):
    """The paces of an anchor, by day.

    `measured`: the sums of the hours that were read; `believed`: what is believed of an hour of
    each day from the first one that was not wholly read.
    """

    measured: list[float]
    believed: list[float]


class RoomDrying:
    """What a room's air does to bodies of any width; keeps its sums for the next question.

    air: what was measured; assumed: the air that the room is said to have, None when nobody has
    said; then the mean of what was measured is the usual air. `days` must hold all days asked about
    and all measured ones; before them the pace of the first hour goes on, after them the pace of
    the last. Every date up to `recalled` (included) leans a little on the measured days of the same
    date in earlier years.
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
        self._before = max(0, (air.first - days.first).days)
        self._rh = air.rh.tolist()
        self._warmths = law.warmths(air.temp, self._missing_c)
        self._known = self._padded(_hours_known(air), 0)
        self._unread = [day for day, known in enumerate(self._known) if known < DAY_HOURS]
        self._asked_from = self._unread[0] if self._unread else days.number
        self._told = 1 / process.season_days
        self._alike = self._years_before((recalled - days.first).days + 1)
        shown: dict[int, float] = dict(enumerate(self._known))
        for day, recalled_on in self._alike.items():
            shown[day] += self._told * len(recalled_on.others)
        self.belief = Belief(days.number, shown, process)
        self._leaning = Leaning(self.belief, self._asked_from, self._alike)
        self._paces: dict[int, _Paces] = {}
        self._sums: dict[tuple[int, Side], HourSums] = {}
        self._bodies: dict[tuple[float, Side], BodyDrying] = {}
        self._damper: dict[float, list[int]] = {}

    def _padded(self, measured: list[_Number], nothing: _Number) -> list[_Number]:
        """Return what the days of the air have, by day, with the days before and after them."""
        after = self.days.number - self._before - len(measured)
        return [nothing] * self._before + measured + [nothing] * after

    def _years_before(self, until: int) -> dict[int, Recalled]:
        """Return, for days below `until`, the measured days of the same date in earlier years."""
        found = {}
        for day in range(_YEAR_DAYS, min(until, len(self._known))):
            years = range(day - _YEAR_DAYS, max(-1, day - YEARS_BACK * _YEAR_DAYS - 1), -_YEAR_DAYS)
            told = [d for d in years if self._known[d]]
            if told:
                known = self._known[day]
                each = self._told / (known + self._told * len(told))
                found[day] = Recalled(each * known / self._told, each, told)
        return found

    def of(self, body_mm: float, side: Side = "believed") -> BodyDrying:
        """Return the drying of bodies of one width [mm], in air on one side of the belief."""
        if (body_mm, side) not in self._bodies:
            thin, thick, share = self.law.anchors(body_mm)
            sums = self.sums(thin, side), self.sums(thick, side)
            self._bodies[body_mm, side] = BodyDrying(self.start, *sums, share)
        return self._bodies[body_mm, side]

    def sums(self, anchor: int, side: Side) -> HourSums:
        """Return the hours at 20 deg C and 50 % that an anchor has had before each hour."""
        key = (anchor, side if self._unread else "believed")
        if key not in self._sums:
            self._sums[key] = self._summed(*key)
        return self._sums[key]

    def _summed(self, anchor: int, side: Side) -> HourSums:
        """Return the sums; up to the first day not wholly read they are the same on every side."""
        paces, first = self._paces_of(anchor), self._asked_from
        believed = paces.believed
        if side != "believed":
            believed = self._moved(anchor, believed, side)
        unread = map(mul, believed, (DAY_HOURS - known for known in self._known[first:]))
        by_day = chain(paces.measured[:first], map(add, paces.measured[first:], unread))
        dawns = [*accumulate(by_day, initial=0.0)]
        return HourSums(dawns, partial(self._hours_of, anchor, believed))

    def _paces_of(self, anchor: int) -> _Paces:
        """Return an anchor's paces."""
        if anchor not in self._paces:
            worth = _by_day(self.law.paces(anchor, self._rh, self._warmths))
            measured = self._padded(worth, 0.0)
            means = [w and w / known for w, known in zip(measured, self._known, strict=True)]
            believed = self._leaning.of(means, self._said(anchor))
            self._paces[anchor] = _Paces(measured, believed)
        return self._paces[anchor]

    def _hours_of(self, anchor: int, believed: Sequence[float], day: int) -> list[float]:
        """Return an anchor's paces in the hours of a day, unread hours as believed."""
        known, pace = self._known[day], 0.0
        if known < DAY_HOURS:
            pace = believed[day - self._asked_from]
        if not known:
            return [pace] * DAY_HOURS
        cut = self._hours(day)
        rh = self._rh[cut]
        paces = zip(rh, self.law.paces(anchor, rh, self._warmths[cut]), strict=True)
        return [pace if humidity == NO_HUMIDITY else own for humidity, own in paces]

    def _hours(self, day: int) -> slice:
        """Return where the hours of a day stand in the air."""
        at = (day - self._before) * DAY_HOURS
        return slice(at, at + DAY_HOURS)

    @cached_property
    def _levels_ahead(self) -> tuple[list[float], list[float]]:
        """Return humidity and temperature as believed, from the first day not wholly read."""
        return self._levels(self._leaning)

    @cached_property
    def _levels_before(self) -> tuple[list[float], list[float]]:
        """Return humidity and temperature as believed of every day."""
        return self._levels(Leaning(self.belief, 0, self._alike))

    def _levels(self, leaning: Leaning) -> tuple[list[float], list[float]]:
        said = (self.assumed.rh_pct, self.assumed.temp_c) if self.assumed else (None, None)
        humidities, temps = self._means
        return leaning.of(humidities, said[0]), leaning.of(temps, said[1])

    @cached_property
    def _spreads(self) -> list[float]:
        """Return the spread of the humidity [points] by day, from the first not wholly read."""
        return self.belief.spread_pct(self._asked_from)

    @cached_property
    def _means(self) -> tuple[list[float], list[float]]:
        """Return by day the means of the measured humidities and temperatures, 0 where none."""
        rh = self._padded(_by_day(self._rh), 0)
        temps = self._padded(_by_day(self.air.temp), 0)
        every_known = not self.air.temp.count(NO_TEMPERATURE)
        return (
            [self._rh_on(day, total) for day, total in enumerate(rh)],
            [
                total / 100 / DAY_HOURS
                if every_known and self._known[day] == DAY_HOURS
                else self._temp_on(day)
                for day, total in enumerate(temps)
            ],
        )

    @cached_property
    def _by_temp(self) -> list[float]:
        by_day = zip(self._known, self._means[1], strict=True)
        return [self.law.warmth(temp) if known else 0.0 for known, temp in by_day]

    def air_on(self, day: date) -> SteadyAir:
        """Return the air that is believed of a date; beyond the days kept, of the nearest one."""
        at = min(max((day - self.days.first).days, 0), self.days.number - 1)
        if at < self._asked_from:
            rh, temp = self._levels_before
        else:
            rh, temp = self._levels_ahead
            at -= self._asked_from
        return SteadyAir(min(100.0, max(0.0, rh[at])), temp[at])

    def _rh_on(self, day: int, total: int) -> float:
        """Return the mean of a day's measured humidities [%], 0 where none was.

        total: that of all its hours, in hundredths, with what stands for a missing humidity.
        """
        known = self._known[day]
        return known and (total - (DAY_HOURS - known) * NO_HUMIDITY) / 100 / known

    def _temp_on(self, day: int) -> float:
        """Return the mean temperature [deg C] of a day's measured hours, 0 where none was."""
        known = self._known[day]
        if not known:
            return 0.0
        cut = self._hours(day)
        temps = self.air.temp[cut]
        if known < DAY_HOURS:
            here = zip(temps, self._rh[cut], strict=True)
            temps = array("h", [temp for temp, rh in here if rh != NO_HUMIDITY])
        missing = temps.count(NO_TEMPERATURE)
        total = sum(temps) - missing * NO_TEMPERATURE
        return (total / 100 + missing * self._missing_c) / known

    def _said(self, anchor: int) -> float | None:
        if self.assumed is None:
            return None
        return self.law.pace(self.law.rules.bodies[anchor], self.assumed)

    def _moved(self, anchor: int, believed: list[float], side: Side) -> list[float]:
        """Return an anchor's paces by day if all that its belief rests on lay a spread to one side.

        The result is again a mean of paces, so that a drier reading makes neither end of a span
        later.
        """
        first = self._asked_from
        sign, least = (-1, max) if side == "drier" else (1, min)
        steps = math.ceil(max(self._spreads[day - first] for day in self._unread) / STEP_PCT)
        away = [believed, *(self._away(anchor, sign * STEP_PCT * n) for n in range(1, steps + 1))]
        found = believed[:]
        for day in self._unread:
            at = day - first
            whole, part = divmod(self._spreads[at] / STEP_PCT, 1)
            here, there = away[int(whole)][at], away[min(int(whole) + 1, steps)][at]
            found[at] = least(believed[at], here + part * (there - here))
        return found

    def _away(self, anchor: int, points: float) -> list[float]:
        """Return an anchor's believed paces by day if all air were so many points damper."""
        table, said = self.law.table(anchor), None
        if self.assumed is not None:
            said = table[_hundredths(self.assumed.rh_pct + points)]
            said *= self.law.warmth(self.assumed.temp_c)
        if points not in self._damper:
            self._damper[points] = [_hundredths(rh + points) for rh in self._means[0]]
        rates = map(table.__getitem__, self._damper[points])
        return self._leaning.of(list(map(mul, rates, self._by_temp)), said)


def _hours_known(air: RoomAir) -> list[int]:
    """Return how many hours are known of each day of the air."""
    hours = range(0, len(air.kind), DAY_HOURS)
    return [DAY_HOURS - air.kind.count(NOTHING, at, at + DAY_HOURS) for at in hours]


def _by_day(hours: Iterable[_Number]) -> list[_Number]:
    """Return the sum of the hours of each day."""
    return list(map(sum, zip(*[iter(hours)] * DAY_HOURS, strict=True)))


def _hundredths(rh_pct: float) -> int:
    return round(100 * min(100.0, max(0.0, rh_pct)))
