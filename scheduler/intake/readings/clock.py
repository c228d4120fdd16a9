"""Wall clocks, offsets and the record's zone, for many moments at once."""

from __future__ import annotations

from bisect import bisect_left
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.intake.readings.arrays import Bools, Ints
from scheduler.intake.readings.day import DAY_SECONDS
from scheduler.intake.readings.moments import NO_OFFSET

HALF_HOUR = 1_800
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Clock:
    """The changes of a zone's clocks from `first` to `last`, in UTC seconds."""

    def __init__(self, zone: ZoneInfo, first: int, last: int) -> None:
        self.zone = zone
        days = range(first - 2 * DAY_SECONDS, last + 3 * DAY_SECONDS, DAY_SECONDS)
        offsets = [self._offset(second) for second in days]
        self.changes: list[tuple[int, int, int]] = []
        for at, before, after in zip(days[:-1], offsets[:-1], offsets[1:], strict=True):
            if before != after:
                self.changes.append((self._change(at, after), before, after))
        self._utc = np.array([change for change, _, _ in self.changes], dtype=np.int64)
        self._offsets = np.array(
            [offsets[0], *(after for _, _, after in self.changes)], dtype=np.int64
        )

    def local(self, utc: Ints) -> tuple[Ints, Bools]:
        """Return the wall clock at UTC seconds, and where an hour has come a second time."""
        wall = utc + self._offsets[np.searchsorted(self._utc, utc, side="right")]
        second_pass = np.zeros(len(utc), dtype=bool)
        for change, before, after in self.changes:
            if after < before:
                second_pass |= (utc >= change) & (wall < change + before)
        return wall, second_pass

    def missing(self, wall: Ints) -> Bools:
        """Return where the wall clock never was, because the clocks skipped that hour."""
        missing = np.zeros(len(wall), dtype=bool)
        for change, before, after in self.changes:
            if after > before:
                missing |= (wall >= change + before) & (wall < change + after)
        return missing

    def second_pass(self, wall: Ints) -> Bools:
        """Return which local moments, in the order of the file, are in a second pass.

        In an hour that comes twice, a step back in time begins the second pass; a file that never
        steps back went through the hour once. A file from the latest to the earliest is read
        backwards.
        """
        second = np.zeros(len(wall), dtype=bool)
        steps = np.diff(wall)
        backward = bool(steps.size and (steps < 0).sum() > (steps > 0).sum())
        coarse = bool(steps.any()) and np.median(np.abs(steps[steps != 0])) >= HALF_HOUR
        for change, before, after in self.changes:
            if after < before:
                rows = np.flatnonzero((wall >= change + after) & (wall < change + before))
                rows = rows[::-1] if backward else rows
                step = np.diff(wall[rows], prepend=wall[rows[:1]] - 1)
                again = step <= 0 if coarse else step < 0
                second[rows] = np.cumsum(again) % 2 == 1
        return second

    def _change(self, day: int, after: int) -> int:
        """Return the second of a day at which an offset comes into force."""
        seconds = range(day, day + DAY_SECONDS)
        return day + bisect_left(seconds, True, key=lambda utc: self._offset(utc) == after)

    def _offset(self, utc: int) -> int:
        moment = _EPOCH + timedelta(seconds=utc)
        offset = moment.astimezone(self.zone).utcoffset()
        assert offset is not None
        return round(offset.total_seconds())


def placed(wall: Ints, offset_min: Ints, zone: ZoneInfo) -> tuple[Ints, Bools, Bools]:
    """Return local wall seconds, second passes, and which moments do not exist in the zone.

    offset_min: minutes ahead of UTC that the file states, NO_OFFSET where the clock is local.
    """
    if not wall.size:
        return wall, np.zeros(0, dtype=bool), np.zeros(0, dtype=bool)
    clock = Clock(zone, int(wall.min()), int(wall.max()))
    local = offset_min == NO_OFFSET
    placed_wall, second = clock.local(wall - np.where(local, 0, offset_min) * 60)
    missing = local & clock.missing(wall)
    own = np.flatnonzero(local)
    placed_wall[own] = wall[own]
    second[own] = clock.second_pass(wall[own])
    return placed_wall, second, missing
