"""What is known of one room's air, hour by hour, from its loggers and its dial.

Hours are wall-clock hours, 24 a day: moments in this module are naive local ones.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from scheduler.air.hours import (
    DAY_HOURS,
    NO_HUMIDITY,
    NO_TEMPERATURE,
    UNREAD,
    DialRead,
    counting_pct,
    hundredths,
    hundredths_or_none,
    unpacked,
)
from scheduler.words.tuples import NamedTuple

_HOUR = timedelta(hours=1)
_NEVER = date(1970, 1, 1)

ReadFrom = Literal["logger", "dial"]
NOTHING, _LOGGER, _DIAL = range(3)
_ALL_LOGGED = bytes([_LOGGER]) * DAY_HOURS
_MISSING = array("H", [NO_HUMIDITY]).tobytes()
_EVIDENCE: tuple[ReadFrom | None, ...] = (None, "logger", "dial")


class AirMean(NamedTuple):
    """The mean air of a stretch of time, and how many of its hours are known.

    `temp_c` is None when no temperature is known. `last` is the end of the last known hour.
    """

    begin: datetime
    end: datetime
    rh_pct: float
    temp_c: float | None
    hours: int
    last: datetime

    @property
    def counting_pct(self) -> float:
        """Return the humidity that counts for drying [%]: colder air counts as damper."""
        return counting_pct(self.rh_pct, self.temp_c)


class RoomAir(NamedTuple):
    """What is known of the air of one room, hour by hour from 00:00 of `first` on.

    The arrays hold hundredths and whole days; nobody may change them. `end` is the end of the last
    known hour; nothing is known after it. A room without evidence ends where it begins.
    """

    first: date
    rh: array[int]
    temp: array[int]
    kind: bytes
    end: datetime

    @property
    def start(self) -> datetime:
        """Return the local moment of the first hour kept."""
        return datetime.combine(self.first, time())

    def hour_of(self, moment: datetime) -> float:
        """Return how many hours after `start` a local moment is; negative before it."""
        return (moment - self.start) / _HOUR

    def covered(self, begin: datetime, end: datetime) -> dict[ReadFrom, int]:
        """Return how many whole hours between two local moments are logged or near a dial.

        An hour that no logger knows is near a dial when a dial counts in some hour of its date.
        """
        cut = self._within(begin, end)
        logged = self.kind[cut].count(_LOGGER)
        near = sum(
            len(hours) - hours.count(_LOGGER)
            for day in range(cut.start // DAY_HOURS, -(-cut.stop // DAY_HOURS))
            if _DIAL in self.kind[day * DAY_HOURS : (day + 1) * DAY_HOURS]
            for hours in (
                self.kind[max(cut.start, day * DAY_HOURS) : min(cut.stop, (day + 1) * DAY_HOURS)],
            )
        )
        return {"logger": logged, "dial": near}

    def at(self, moment: datetime) -> tuple[float, float | None, ReadFrom] | None:
        """Return humidity [%], temperature [deg C] and evidence of an hour, None if unknown."""
        hour = math.floor(self.hour_of(moment))
        if not 0 <= hour < len(self.rh) or not self.kind[hour]:
            return None
        evidence = _EVIDENCE[self.kind[hour]]
        assert evidence is not None
        temp = self.temp[hour]
        return self.rh[hour] / 100, None if temp == NO_TEMPERATURE else temp / 100, evidence

    def mean(self, begin: datetime, end: datetime) -> AirMean | None:
        """Return the mean air of the known hours between two local moments, None without any.

        An hour counts when it begins in that time: at `begin` or later, and before `end`.
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
            sum(temps) / len(temps) / 100 if temps else None,
            len(known),
            self.start + (known[-1] + 1) * _HOUR,
        )

    def recent(self, now: datetime, hours: float) -> AirMean | None:
        """Return the mean of the known hours in the last `hours` before a local moment.

        The running hour counts, so that a dial read just now is an answer.
        """
        return self.mean(now - timedelta(hours=hours), now)

    def last_before(self, moment: datetime, evidence: ReadFrom | None = None) -> datetime | None:
        """Return the end of the last known hour that began before a moment, None without one.

        evidence: only hours known in this way count; None: all known hours do.
        """
        until = max(0, min(len(self.kind), math.ceil(self.hour_of(moment))))
        kinds = (_LOGGER, _DIAL) if evidence is None else (_EVIDENCE.index(evidence),)
        last = max(self.kind.rfind(kind, 0, until) for kind in kinds)
        return self.start + (last + 1) * _HOUR if last >= 0 else None

    def logged(
        self, begin: datetime, end: datetime
    ) -> Iterator[tuple[datetime, float, float | None]]:
        """Yield the logger's hours between two local moments: when, humidity [%], temperature."""
        cut = self._within(begin, end)
        for hour in range(cut.start, cut.stop):
            if self.kind[hour] == _LOGGER:
                temp = self.temp[hour]
                temp_c = None if temp == NO_TEMPERATURE else temp / 100
                yield self.start + hour * _HOUR, self.rh[hour] / 100, temp_c

    def _within(self, begin: datetime, end: datetime) -> slice:
        first = max(0, math.ceil(self.hour_of(begin)))
        return slice(first, max(first, min(len(self.rh), math.ceil(self.hour_of(end)))))


def room_air(
    days: Mapping[date, bytes], dials: Iterable[DialRead] = (), *, zone: ZoneInfo
) -> RoomAir:
    """Return what is known of a room's air from its logged days, packed, and its dial.

    A logged hour is as logged. In any other hour the last dial reading taken in it counts. The hour
    that the clocks skip in spring takes the values of the hour before it.
    """
    read = sorted(dials, key=lambda dial: dial.at)
    dates = {*days, *(dial.at.date() for dial in read)}
    first, last = (min(dates), max(dates)) if dates else (_NEVER, _NEVER - timedelta(days=1))
    held = {day.toordinal(): packed for day, packed in days.items()}
    every = [held.get(day, UNREAD) for day in range(first.toordinal(), last.toordinal() + 1)]
    rh, temp = unpacked(every)
    # Searching for the bytes of a missing humidity is much quicker than unpacking every day; where
    # they are not found, nothing is missing.
    kind = bytearray(b"".join(_logged(d) if _MISSING in d else _ALL_LOGGED for d in every))
    start = datetime.combine(first, time())
    for dial in read:
        hour = (dial.at - start) // _HOUR
        if kind[hour] != _LOGGER:
            rh[hour], kind[hour] = hundredths(dial.rh_pct), _DIAL
            temp[hour] = hundredths_or_none(dial.temp_c)
    for hour in _skipped_hours(first, days, kind, zone):
        rh[hour], temp[hour], kind[hour] = rh[hour - 1], temp[hour - 1], kind[hour - 1]
    known = bytes(kind).rstrip(b"\0")
    return RoomAir(first, rh, temp, bytes(kind), start + len(known) * _HOUR)


def _logged(packed: bytes) -> bytes:
    return bytes(NOTHING if v == NO_HUMIDITY else _LOGGER for v in unpacked([packed])[0])


def _skipped_hours(
    first: date, days: Iterable[date], kind: bytearray, zone: ZoneInfo
) -> Iterator[int]:
    """Yield the unread hours of logged days that the clocks skipped, except the first hour kept."""
    if NOTHING not in kind:
        return
    for day in sorted(days):
        at = (day - first).days * DAY_HOURS
        if kind.find(NOTHING, at, at + DAY_HOURS) < 0:
            continue
        unread = [hour for hour in range(at, at + DAY_HOURS) if hour and not kind[hour]]
        if unread and _offset(day, zone) != _offset(day + timedelta(days=1), zone):
            midnight = datetime.combine(day, time())
            yield from (hour for hour in unread if _skipped(midnight + (hour - at) * _HOUR, zone))


def _offset(day: date, zone: ZoneInfo) -> timedelta | None:
    # Compare the noons before and after: a change at midnight belongs to the day that it begins.
    return datetime.combine(day - timedelta(days=1), time(12), zone).utcoffset()


def _skipped(hour: datetime, zone: ZoneInfo) -> bool:
    """Say whether a whole wall-clock hour does not exist in a zone."""
    return all(
        moment.replace(tzinfo=zone).astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment
        for moment in (hour, hour + timedelta(minutes=59))
    )
