"""Drying summed over years of hours, so that thousands of dates take a second or so.

Between two body anchors of the rules the pace is a straight line, hour by hour. So the sum for any
body is interpolated between the sums at the two anchors: the running sums over a room's hours are
computed once per anchor, and a stretch of time is a difference of two of them.

An hour that was measured counts as it was. Any other hour has the pace that is believed of its day:
a mean over the paces of what was read and of what is usual in the room (`air.belief`).
"""

from __future__ import annotations

import math
from array import array
from collections import deque
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from functools import cached_property, partial
from itertools import accumulate, islice
from operator import mul
from typing import Literal

from scheduler.air.belief import Belief, Process, ReadOn
from scheduler.air.hours import DAY_HOURS, NO_HUMIDITY, NO_TEMPERATURE
from scheduler.air.leaning import Leaning, Recalled
from scheduler.air.room_air import NOTHING, RoomAir
from scheduler.drying.amounts import BodyDrying
from scheduler.drying.law import ORDINARY_C, Law, SteadyAir, rates_at
from scheduler.words.tuples import NamedTuple

YEARS_BACK = 3
"""So many earlier years tell what is usual in the room on a date."""

STEP_PCT = 8.0
"""The step [points of humidity] from one believed air to the next, up to the ends of a span."""

Side = Literal["drier", "believed", "damper"]

_YEAR_DAYS = 365


class KeptDays(NamedTuple):
    """Dates from `first` to `last`, both included."""

    first: date
    last: date

    @property
    def number(self) -> int:
        """Return the number of days."""
        return (self.last - self.first).days + 1


class _Paces(NamedTuple):
    """The paces of an anchor.

    `sums`: the sums before each hour, from the first kept to the first day that was not wholly
    read; `rest`: the hours from that day on, 0 where not read; `believed`: what is believed of each
    of those days.
    """

    sums: list[float]
    rest: list[float]
    believed: list[float]


class RoomDrying:
    """What a room's air does to bodies of any width; keeps its sums for the next question.

    air: what was measured; assumed: the air that the room is said to have, None when nobody has
    said; then the mean of what was measured is the usual air. `days` must hold all days asked about
    and all measured ones; before them the pace of the first hour goes on, after them the pace of
    the last. Every date up to `recalled` (included) leans a little on the measured days of the same
    date in earlier years. Sums are kept from `since` on; a question about earlier air makes the
    sums of all days (None: all are kept).
    """

    def __init__(
        self,
        air: RoomAir,
        law: Law,
        assumed: SteadyAir | None,
        process: Process,
        days: KeptDays,
        recalled: date,
        since: date | None = None,
    ) -> None:
        self._again = partial(RoomDrying, air, law, assumed, process, days, recalled)
        self.air = air
        self.law = law
        self.assumed = assumed
        self.days = days
        self.start = datetime.combine(days.first, time())
        self._missing_c = assumed.temp_c if assumed else ORDINARY_C
        before = max(0, (air.first - days.first).days) * DAY_HOURS
        after = days.number * DAY_HOURS - before - len(air.rh)
        self._before, self._after = [0.0] * before, [0.0] * after
        self._rh = _padded(air.rh, NO_HUMIDITY, before, after)
        self._temp = _padded(air.temp, NO_TEMPERATURE, before, after)
        self._known = _hours_known(air, before // DAY_HOURS, days.number)
        self._unread = [day for day, known in enumerate(self._known) if known < DAY_HOURS]
        self._read_to = DAY_HOURS * (self._unread[0] if self._unread else days.number)
        kept_from = 0 if since is None else DAY_HOURS * max(0, (since - days.first).days)
        self._kept_from = min(kept_from, self._read_to)
        self._told = 1 / process.season_days
        self._asked_from = self._read_to // DAY_HOURS
        self._alike = self._years_before((recalled - days.first).days + 1)
        self.belief = Belief(days.number, [*self._shown()], process)
        self._leaning = Leaning(self.belief, self._asked_from, self._alike)
        self._rates = rates_at(air.rh)
        self._warmths = law.warmths(air.temp, self._missing_c)
        self._paces: dict[int, _Paces] = {}
        self._sums: dict[tuple[int, Side], list[float]] = {}
        self._bodies: dict[tuple[float, Side], BodyDrying] = {}
        self._damper: dict[float, list[int]] = {}

    def _shown(self) -> Iterator[ReadOn]:
        for day, known in enumerate(self._known):
            others = self._alike[day].others if day in self._alike else ()
            yield ReadOn(day, known + self._told * len(others))

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
            first, earlier = self._kept_from, partial(self._earlier, body_mm, side)
            self._bodies[body_mm, side] = BodyDrying(self.start, *sums, share, first, earlier)
        return self._bodies[body_mm, side]

    def _earlier(self, body_mm: float, side: Side) -> BodyDrying:
        return self._whole.of(body_mm, side)

    @cached_property
    def _whole(self) -> RoomDrying:
        return self._again()

    def sums(self, anchor: int, side: Side) -> list[float]:
        """Return the hours at 20 deg C and 50 % that an anchor has had before each hour kept."""
        key = (anchor, side if self._unread else "believed")
        if key not in self._sums:
            self._sums[key] = self._summed(*key)
        return self._sums[key]

    def _summed(self, anchor: int, side: Side) -> list[float]:
        """Return the sums; up to the first day not wholly read they are the same on every side."""
        paces = self._paces_of(anchor)
        believed = paces.believed
        if side != "believed":
            believed = self._moved(anchor, believed, side)
        *before, so_far = paces.sums
        return before + list(accumulate(self._filled(paces.rest, believed), initial=so_far))

    def _paces_of(self, anchor: int) -> _Paces:
        """Return an anchor's paces."""
        if anchor not in self._paces:
            measured = self.law.hours(anchor, self._rates, self._warmths)
            hours = [*self._before, *measured, *self._after]
            believed = self._leaning.of(self._by_day(hours), self._said(anchor))
            # Summed hour by hour from the first, so that the sums do not depend on which of them
            # are kept.
            old = accumulate(islice(hours, self._kept_from), initial=0.0)
            (so_far,) = deque(old, maxlen=1)
            new = islice(hours, self._kept_from, self._read_to)
            sums = list(accumulate(new, initial=so_far))
            self._paces[anchor] = _Paces(sums, hours[self._read_to :], believed)
        return self._paces[anchor]

    def _filled(self, rest: list[float], believed: Sequence[float]) -> list[float]:
        """Return the paces from the first day not wholly read on, unread hours as believed."""
        hours, at = rest[:], self._read_to
        for day in self._unread:
            begin = day * DAY_HOURS - at
            pace = believed[day - self._asked_from]
            if not self._known[day]:
                hours[begin : begin + DAY_HOURS] = [pace] * DAY_HOURS
                continue
            for hour in range(begin, begin + DAY_HOURS):
                if self._rh[hour + at] == NO_HUMIDITY:
                    hours[hour] = pace
        return hours

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
        days = range(self.days.number)
        return [self._rh_on(day) for day in days], [self._temp_on(day) for day in days]

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

    def _rh_on(self, day: int) -> float:
        """Return the mean of a day's measured humidities [%], 0 where none was."""
        known = self._known[day]
        if not known:
            return 0.0
        total = sum(self._rh[day * DAY_HOURS : (day + 1) * DAY_HOURS])
        return (total - (DAY_HOURS - known) * NO_HUMIDITY) / 100 / known

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
        each_hour = [iter(hours)] * DAY_HOURS
        days = zip(zip(*each_hour, strict=True), self._known, strict=True)
        return [sum(day) / known if known else 0.0 for day, known in days]

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


def _hours_known(air: RoomAir, before: int, days: int) -> list[int]:
    """Return how many hours are known of each of `days` days; `before` of them precede all air."""
    known = range(0, len(air.kind), DAY_HOURS)
    found = [DAY_HOURS - air.kind.count(NOTHING, at, at + DAY_HOURS) for at in known]
    return [0] * before + found + [0] * (days - before - len(found))


def _hundredths(rh_pct: float) -> int:
    return round(100 * min(100.0, max(0.0, rh_pct)))


def _padded(values: array[int], missing: int, before: int, after: int) -> array[int]:
    blank = array(values.typecode, [missing])
    return blank * before + values + blank * after
