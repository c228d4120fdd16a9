"""What is known of one room's air, hour by hour, from its logger and from its dial.

Hours are wall-clock hours, 24 a day: moments in this module are naive local ones.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from scheduler.air.hours import (
    DAY_HOURS,
    NO_HUMIDITY,
    NO_TEMPERATURE,
    Dial,
    Hours,
    counting_hundredths,
    hundredths,
    hundredths_or_none,
)

EXPECTED_DAYS = 14
"""The days, the last logged one included, whose air a room is expected to keep."""

EXPECTED_COVER = 0.5
"""The share of their hours that must be known; with less, the assumed air is expected."""

_HOUR = timedelta(hours=1)
_NEVER = date(1970, 1, 1)

Evidence = Literal["logger", "dial"]
_NOTHING, _LOGGER, _DIAL = range(3)
_EVIDENCE: tuple[Evidence | None, ...] = (None, "logger", "dial")


@dataclass(frozen=True, slots=True)
class AirMean:
    """The mean air of a time: measured, counting, and how many of its hours are known.

    `temp_c` is None when no temperature is known. `last` is the end of the last known hour.
    """

    begin: datetime
    end: datetime
    rh_pct: float
    counting_pct: float
    temp_c: float | None
    hours: int
    last: datetime


@dataclass(frozen=True, slots=True)
class RoomAir:
    """What is known of the air of one room, hour by hour from 00:00 of `first` on.

    The arrays hold hundredths, whole days, and are not to be changed. `end` is where the last
    known hour ends; from there on nothing is known. A room without evidence ends as it begins.
    """

    first: date
    rh: array[int]
    counting: array[int]
    temp: array[int]
    kind: bytes
    end: datetime

    @property
    def start(self) -> datetime:
        """Return the local moment of the first hour kept."""
        return datetime.combine(self.first, time())

    @property
    def known_hours(self) -> int:
        """Return the hours from `start` to `end`, gaps included."""
        return (self.end - self.start) // _HOUR

    def hour_of(self, moment: datetime) -> float:
        """Return how many hours after `start` a local moment is; negative before it."""
        return (moment - self.start) / _HOUR

    def covered(self, begin: datetime, end: datetime) -> dict[Evidence, int]:
        """Return how many whole hours between two local moments are known, and how."""
        part = self.kind[self._within(begin, end)]
        return {"logger": part.count(_LOGGER), "dial": part.count(_DIAL)}

    def at(self, moment: datetime) -> tuple[float, float, float | None, Evidence] | None:
        """Return humidity, the one that counts, temperature and their evidence at a moment."""
        hour = math.floor(self.hour_of(moment))
        if not 0 <= hour < len(self.rh) or not self.kind[hour]:
            return None
        evidence = _EVIDENCE[self.kind[hour]]
        assert evidence is not None
        temp = self.temp[hour]
        temp_c = None if temp == NO_TEMPERATURE else temp / 100
        return self.rh[hour] / 100, self.counting[hour] / 100, temp_c, evidence

    def mean(self, begin: datetime, end: datetime) -> AirMean | None:
        """Return the mean air of the known hours between two local moments, None without any.

        An hour belongs to the time when it begins in it.
        """
        cut = self._within(begin, end)
        known = [hour for hour in range(cut.start, cut.stop) if self.kind[hour]]
        if not known:
            return None
        temps = [t for t in self.temp[cut] if t != NO_TEMPERATURE]
        return AirMean(
            begin,
            end,
            sum(self.rh[hour] for hour in known) / len(known) / 100,
            sum(self.counting[hour] for hour in known) / len(known) / 100,
            sum(temps) / len(temps) / 100 if temps else None,
            len(known),
            self.start + (known[-1] + 1) * _HOUR,
        )

    def recent(self, now: datetime, hours: float) -> AirMean | None:
        """Return the mean of the known hours in the last `hours` before a local moment.

        The hour that is running counts, so that a dial read just now is an answer.
        """
        return self.mean(now - timedelta(hours=hours), now)

    def last_before(self, moment: datetime, evidence: Evidence | None = None) -> datetime | None:
        """Return the end of the last hour known, by this evidence, that began before a moment."""
        until = max(0, min(len(self.kind), math.ceil(self.hour_of(moment))))
        kinds = (_LOGGER, _DIAL) if evidence is None else (_EVIDENCE.index(evidence),)
        last = max(self.kind.rfind(kind, 0, until) for kind in kinds)
        return self.start + (last + 1) * _HOUR if last >= 0 else None

    def logged(
        self, begin: datetime, end: datetime
    ) -> Iterator[tuple[datetime, float, float | None]]:
        """Yield the logger's hours between two local moments: when, humidity, temperature."""
        cut = self._within(begin, end)
        for hour in range(cut.start, cut.stop):
            if self.kind[hour] == _LOGGER:
                temp = self.temp[hour]
                temp_c = None if temp == NO_TEMPERATURE else temp / 100
                yield self.start + hour * _HOUR, self.rh[hour] / 100, temp_c

    def expected_time(self) -> tuple[datetime, datetime] | None:
        """Return the time whose mean air is expected to go on, None when too little is known.

        The 14 calendar days that end with the last logged one, at least half of their hours
        known.
        """
        if not self.known_hours:
            return None
        last = (self.end - _HOUR).date()
        end = datetime.combine(last, time()) + timedelta(days=1)
        begin = end - timedelta(days=EXPECTED_DAYS)
        known = sum(self.covered(begin, end).values())
        return (begin, end) if known >= EXPECTED_COVER * EXPECTED_DAYS * DAY_HOURS else None

    def expected(self) -> AirMean | None:
        """Return the mean air that is expected to go on, None: the assumed air is."""
        when = self.expected_time()
        return None if when is None else self.mean(*when)

    def fortnights(self) -> tuple[AirMean, AirMean] | None:
        """Return the driest and the dampest 14 days in a row, by the humidity that counts.

        Whole days, at least half of their hours known; of equals the earliest. None when the
        room has no such time.
        """
        days = range(0, len(self.rh), DAY_HOURS)
        known = [DAY_HOURS - self.kind[d : d + DAY_HOURS].count(_NOTHING) for d in days]
        total = [sum(v for v in self.counting[d : d + DAY_HOURS] if v != NO_HUMIDITY) for d in days]
        means: list[tuple[float, int]] = []
        for day in range(len(days) - EXPECTED_DAYS + 1):
            hours = sum(known[day : day + EXPECTED_DAYS])
            if hours >= EXPECTED_COVER * EXPECTED_DAYS * DAY_HOURS:
                means.append((sum(total[day : day + EXPECTED_DAYS]) / hours, day))
        if not means:
            return None
        driest, dampest = min(means), max(means, key=lambda mean: (mean[0], -mean[1]))
        return self._fortnight(driest[1]), self._fortnight(dampest[1])

    def _fortnight(self, day: int) -> AirMean:
        begin = self.start + timedelta(days=day)
        mean = self.mean(begin, begin + timedelta(days=EXPECTED_DAYS))
        assert mean is not None
        return mean

    def _within(self, begin: datetime, end: datetime) -> slice:
        first = max(0, math.ceil(self.hour_of(begin)))
        return slice(first, max(first, min(len(self.rh), math.ceil(self.hour_of(end)))))


def room_air(
    days: Mapping[date, Hours], dials: Iterable[Dial] = (), *, zone: ZoneInfo, dial_days: float
) -> RoomAir:
    """Return what is known of a room's air from its logged days and its dial.

    A logged hour is as logged. Elsewhere a dial value holds from the hour it was read in for
    `dial_days`, or until the next one. The hour that the clocks skip in spring is like the one
    before it.
    """
    read = sorted(dials, key=lambda dial: dial.at)
    dates = {*days, *(dial.at.date() for dial in read)}
    dates |= {(dial.at + timedelta(days=dial_days)).date() for dial in read}
    first, last = (min(dates), max(dates)) if dates else (_NEVER, _NEVER - timedelta(days=1))
    count = ((last - first).days + 1) * DAY_HOURS
    rh = array("H", [NO_HUMIDITY]) * count
    counting = array("H", rh)
    temp = array("h", [NO_TEMPERATURE]) * count
    kind = bytearray(count)
    for day, hours in days.items():
        at = (day - first).days * DAY_HOURS
        cut = slice(at, at + DAY_HOURS)
        measured, counts, temps = hours.parts
        rh[cut], counting[cut] = array("H", measured), array("H", counts)
        temp[cut] = array("h", temps)
        kind[cut] = bytes(_NOTHING if v == NO_HUMIDITY else _LOGGER for v in measured)
    start = datetime.combine(first, time())
    for begin, end, dial in _spans(read, start, count, dial_days):
        value, warmth = hundredths(dial.rh_pct), hundredths_or_none(dial.temp_c)
        for hour in range(begin, end):
            if not kind[hour]:
                rh[hour], temp[hour], kind[hour] = value, warmth, _DIAL
                counting[hour] = counting_hundredths(value, warmth)
    for hour in _skipped_hours(first, days, kind, zone):
        rh[hour], counting[hour], temp[hour] = rh[hour - 1], counting[hour - 1], temp[hour - 1]
        kind[hour] = kind[hour - 1]
    known = bytes(kind).rstrip(b"\0")
    return RoomAir(first, rh, counting, temp, bytes(kind), start + len(known) * _HOUR)


def _spans(
    dials: Sequence[Dial], start: datetime, count: int, dial_days: float
) -> Iterator[tuple[int, int, Dial]]:
    """Yield the hours in which each dial value holds: from, below, value."""
    begins = [(dial.at - start) // _HOUR for dial in dials]
    for index, (begin, dial) in enumerate(zip(begins, dials, strict=True)):
        end = min(count, begin + math.ceil(dial_days * DAY_HOURS))
        yield begin, min([end, *begins[index + 1 : index + 2]]), dial


def _skipped_hours(
    first: date, days: Iterable[date], kind: Sequence[int], zone: ZoneInfo
) -> Iterator[int]:
    """Yield the unread hours of logged days that the clocks skipped, but the very first."""
    for day in sorted(days):
        at = (day - first).days * DAY_HOURS
        unread = [hour for hour in range(at, at + DAY_HOURS) if hour and not kind[hour]]
        if unread and _offset(day, zone) != _offset(day + timedelta(days=1), zone):
            midnight = datetime.combine(day, time())
            yield from (hour for hour in unread if _skipped(midnight + (hour - at) * _HOUR, zone))


def _offset(day: date, zone: ZoneInfo) -> timedelta | None:
    # Noon before and after: a change at midnight belongs to the day it opens.
    return datetime.combine(day - timedelta(days=1), time(12), zone).utcoffset()


def _skipped(hour: datetime, zone: ZoneInfo) -> bool:
    """Say whether a whole wall-clock hour does not exist in a zone."""
    return all(
        moment.replace(tzinfo=zone).astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment
        for moment in (hour, hour + timedelta(minutes=59))
    )
