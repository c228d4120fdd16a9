"""The readings of one room on one local date, as they are stored: sorted, unique, compressed.

A reading is identified by its wall-clock second and its pass: 0, or 1 in the hour that comes a
second time when the clocks go back. Values are in hundredths.
"""

from __future__ import annotations

import sys
import zlib
from array import array
from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import time
from itertools import pairwise

from scheduler.air.hours import DAY_HOURS, NO_HUMIDITY, NO_TEMPERATURE, Hours

DAY_SECONDS = 86_400
_KEY, _VALUE = 4, 2
_BYTES = _KEY + 2 * _VALUE
_PER_HOUR = 2 * 3_600


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading; `second_pass` only in an hour that comes twice. None: not read or left out."""

    at: time
    second_pass: bool
    rh_pct: float | None
    temp_c: float | None


@dataclass(frozen=True, slots=True)
class DayReadings:
    """The readings of one room and date; `packed` is what the record keeps.

    Three columns one after the other, little-endian: uint32 second of the wall clock x 2 + pass,
    uint16 humidity, int16 temperature; then zlib.
    """

    packed: bytes

    @classmethod
    def of(cls, keys: Iterable[int], rh: Iterable[int], temp: Iterable[int]) -> DayReadings:
        """Return a day from its columns, sorted by key and unique, in hundredths.

        Raises ValueError when the columns differ in length.
        """
        columns = (array("I", keys), array("H", rh), array("h", temp))
        if len({len(column) for column in columns}) != 1:
            raise ValueError("the columns of a day differ in length")
        return cls(zlib.compress(b"".join(_little(column).tobytes() for column in columns)))

    @property
    def columns(self) -> tuple[array[int], array[int], array[int]]:
        """Return keys, humidities and temperatures as stored."""
        raw = zlib.decompress(self.packed)
        count = len(raw) // _BYTES
        keys, rh, temp = array("I"), array("H"), array("h")
        keys.frombytes(raw[: count * _KEY])
        rh.frombytes(raw[count * _KEY : count * (_KEY + _VALUE)])
        temp.frombytes(raw[count * (_KEY + _VALUE) :])
        return _little(keys), _little(rh), _little(temp)

    def __iter__(self) -> Iterator[Reading]:
        for key, rh, temp in zip(*self.columns, strict=True):
            second, second_pass = divmod(key, 2)
            yield Reading(
                time(second // 3_600, second // 60 % 60, second % 60),
                bool(second_pass),
                None if rh == NO_HUMIDITY else rh / 100,
                None if temp == NO_TEMPERATURE else temp / 100,
            )

    def __len__(self) -> int:
        return len(self.columns[0])

    def with_new(self, other: DayReadings) -> DayReadings:
        """Return this day with the readings of another at moments that it does not have yet."""
        mine = {key: (rh, temp) for key, rh, temp in zip(*self.columns, strict=True)}
        before = len(mine)
        for key, rh, temp in zip(*other.columns, strict=True):
            mine.setdefault(key, (rh, temp))
        if len(mine) == before:
            return self
        keys = sorted(mine)
        return DayReadings.of(keys, (mine[k][0] for k in keys), (mine[k][1] for k in keys))

    def hours(self) -> Hours:
        """Return the hourly means; both passes of an hour that comes twice count together."""
        keys, *columns = self.columns
        ends = [bisect_left(keys, hour * _PER_HOUR) for hour in range(DAY_HOURS + 1)]
        rh, temp = (
            [_mean(column[a:b], missing) for a, b in pairwise(ends)]
            for column, missing in zip(columns, (NO_HUMIDITY, NO_TEMPERATURE), strict=True)
        )
        return Hours.of(rh, temp)


def _mean(values: array[int], missing: int) -> float | None:
    known = [value for value in values if value != missing] if missing in values else values
    return sum(known) / len(known) / 100 if known else None


def _little(column: array[int]) -> array[int]:
    if sys.byteorder == "big":
        column.byteswap()
    return column
