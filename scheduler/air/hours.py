"""The air of a room: the humidity that counts, and how hours are stored.

Humidity and temperature are kept in hundredths, finer than a sensor can tell apart, so that the
stored numbers are the same as those computed with.
"""

from __future__ import annotations

import math
import struct
import sys
from array import array
from collections.abc import Sequence
from datetime import datetime

from scheduler.words.tuples import NamedTuple

COUNTS_AT_C = 20.0
"""The temperature [deg C] at which the days of the rule table hold."""

NO_HUMIDITY = 10_001
"""Stands for a missing humidity: one past 100.00 %, so that a table of rates has room for it."""

NO_TEMPERATURE = -0x8000
DAY_HOURS = 24
_DAY = struct.Struct("<24H24H24h")
_TEMP_AT = 2 * 48


def saturation_hpa(temp_c: float) -> float:
    """Return the saturation vapour pressure over water [hPa] at a temperature [deg C].

    The Magnus form of WMO-No. 8 (CIMO guide, 2008); good from -45 to 60 deg C (memory).
    """
    return 6.112 * math.exp(17.62 * temp_c / (243.12 + temp_c))


def counting_pct(rh_pct: float, temp_c: float | None) -> float:
    """Return the humidity that counts [%], for a measured one [%] at a temperature [deg C].

    It is the larger of the measured humidity and of the humidity that has the same vapour-pressure
    deficit at 20 deg C: cold makes drying longer, warmth alone never makes it shorter. Without a
    temperature the measured humidity counts.
    """
    if temp_c is None or temp_c >= COUNTS_AT_C:
        return rh_pct
    deficit_hpa = saturation_hpa(temp_c) * (1 - rh_pct / 100)
    return max(rh_pct, 100 * (1 - deficit_hpa / saturation_hpa(COUNTS_AT_C)))


class Hours(NamedTuple):
    """The hourly means of one room on one local date, as they are stored: 144 bytes.

    24 humidities [%], 24 that count [%], 24 temperatures [deg C], all in hundredths.
    """

    packed: bytes

    @classmethod
    def of(cls, rh_pct: Sequence[float | None], temp_c: Sequence[float | None]) -> Hours:
        """Return the hours of a day from 24 means each; None where nothing was read.

        The humidity that counts is computed from the rounded means, so that what is stored gives it
        again. Raises ValueError for a humidity outside 0-100 %, or when there are not 24 of each.
        """
        if len(rh_pct) != DAY_HOURS or len(temp_c) != DAY_HOURS:
            raise ValueError("a day of hours has 24 humidities and 24 temperatures")
        if not all(0 <= rh <= 100 for rh in rh_pct if rh is not None):
            raise ValueError("a humidity outside 0 to 100 %")
        measured = [NO_HUMIDITY if rh is None else hundredths(rh) for rh in rh_pct]
        temps = [hundredths_or_none(t) for t in temp_c]
        counting = [counting_hundredths(rh, t) for rh, t in zip(measured, temps, strict=True)]
        return cls(_DAY.pack(*measured, *counting, *temps))

    @property
    def parts(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Return the measured humidities and temperatures as stored, in hundredths.

        Raises ValueError when the bytes are not those of a day.
        """
        if len(self.packed) != _DAY.size:
            raise ValueError(f"{len(self.packed)} bytes: a day of hours has {_DAY.size}")
        every = _DAY.unpack(self.packed)
        return every[:24], every[48:]

    @property
    def rh_pct(self) -> tuple[float | None, ...]:
        """Return the measured hourly means [%]; limits and mould are judged by these."""
        return tuple(None if v == NO_HUMIDITY else v / 100 for v in self.parts[0])

    @property
    def temp_c(self) -> tuple[float | None, ...]:
        """Return the hourly mean temperatures [deg C]."""
        return tuple(None if v == NO_TEMPERATURE else v / 100 for v in self.parts[1])


UNREAD = _DAY.pack(*[NO_HUMIDITY] * 2 * DAY_HOURS, *[NO_TEMPERATURE] * DAY_HOURS)
"""A day on which nothing was read, packed as all days are."""


def unpacked(days: Sequence[bytes]) -> tuple[array[int], array[int]]:
    """Return measured humidities and temperatures of packed days, in hundredths as stored.

    Raises ValueError when the bytes of one are not those of a day.
    """
    for wrong in (len(day) for day in days if len(day) != _DAY.size):
        raise ValueError(f"{wrong} bytes: a day of hours has {_DAY.size}")
    rh = array("H", b"".join([day[: _TEMP_AT // 2] for day in days]))
    temp = array("h", b"".join([day[_TEMP_AT:] for day in days]))
    if sys.byteorder == "big":
        rh.byteswap()
        temp.byteswap()
    return rh, temp


class DialRead(NamedTuple):
    """What somebody read off a dial on the wall of a room at a local moment."""

    at: datetime
    rh_pct: float
    temp_c: float | None = None


def hundredths(value: float) -> int:
    """Return a humidity [%] or temperature [deg C] in hundredths."""
    return round(value * 100)


def hundredths_or_none(temp_c: float | None) -> int:
    """Return a temperature [deg C] in hundredths, or what stands for a missing one."""
    return NO_TEMPERATURE if temp_c is None else hundredths(temp_c)


def counting_hundredths(rh: int, temp: int) -> int:
    """Return the humidity that counts, both arguments and the result in hundredths."""
    if rh == NO_HUMIDITY or temp == NO_TEMPERATURE:
        return rh
    return hundredths(counting_pct(rh / 100, temp / 100))
