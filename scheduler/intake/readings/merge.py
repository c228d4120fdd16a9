"""A file's readings of a day, put over those that the same logger had for that day.

Where the file speaks, it alone counts: what it says differently replaces what was there, and what
it no longer has is removed (the journal keeps it). Where it is silent, in its gaps and outside its
span, what was there stays. Each reading keeps the file and the row from which it came.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from scheduler.air.hours import NO_HUMIDITY
from scheduler.intake.readings.day import DAY_SECONDS, DayReadings

Origin = tuple[int, int]
"""A file's number in the record (0: not known), and the row in it."""

_FIRST_DAY = date(1970, 1, 1).toordinal()


@dataclass(slots=True)
class Tally:
    """What a file changes: readings that are new, known already, differing, and gone.

    `points` are the differences in humidity of those that differ, new less old.
    """

    new: int = 0
    known: int = 0
    differing: int = 0
    gone: int = 0
    points: list[float] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Add what another day changes."""
        self.new += other.new
        self.known += other.known
        self.differing += other.differing
        self.gone += other.gone
        self.points += other.points

    @property
    def changes(self) -> bool:
        """Say whether anything differs from before."""
        return bool(self.new or self.differing or self.gone)


@dataclass(frozen=True, slots=True)
class Merged:
    """A day as it is afterwards."""

    readings: DayReadings
    origins: str
    tally: Tally


def fresh(readings: DayReadings, rows: Sequence[int], file: int) -> Merged:
    """Return the readings of a day of which nothing was known before."""
    origins = _runs((file, row) for row in rows)
    return Merged(readings, origins, Tally(new=len(rows)))


def merged(
    had: DayReadings,
    origins: str,
    new: DayReadings,
    rows: Sequence[int],
    file: int,
    speaks: Sequence[tuple[int, int]],
) -> Merged:
    """Return a day with a file's readings put over those that it had.

    speaks: the stretches of the day of which the file speaks, first and last key included.
    """
    old = dict(zip(had.columns[0], zip(*had.columns[1:], strict=True), strict=True))
    keys, *columns = new.columns
    fresh = dict(zip(keys, zip(*columns, strict=True), strict=True))
    if old == fresh:
        return Merged(had, origins, Tally(known=len(fresh)))
    whence = dict(zip(old, _expanded(origins, len(old)), strict=True))
    begins = [begin for begin, _ in speaks]
    tally, kept = Tally(), dict(old)
    for key, was in old.items():
        if key in fresh:
            if fresh[key] == was:
                tally.known += 1
            else:
                tally.differing += 1
                if NO_HUMIDITY not in (was[0], fresh[key][0]):
                    tally.points.append((fresh[key][0] - was[0]) / 100)
            continue
        at = bisect_right(begins, key) - 1
        if at >= 0 and key <= speaks[at][1]:
            tally.gone += 1
            del kept[key], whence[key]
    for key, row in zip(keys, rows, strict=True):
        if old.get(key) != fresh[key]:
            tally.new += key not in old
            kept[key], whence[key] = fresh[key], (file, row)
    order = sorted(kept)
    after = DayReadings.of(order, (kept[k][0] for k in order), (kept[k][1] for k in order))
    return Merged(after, _runs(whence[k] for k in order), tally)


def of_day(stretches: Iterable[tuple[int, int]], day: date) -> list[tuple[int, int]]:
    """Return the part of a file's stretches that lies in a day, as keys of that day."""
    begin = 2 * DAY_SECONDS * (day.toordinal() - _FIRST_DAY)
    end = begin + 2 * DAY_SECONDS - 1
    return [
        (max(a, begin) - begin, min(b, end) - begin)
        for a, b in stretches
        if a <= end and b >= begin
    ]


def origin_of(origins: str, at: int) -> Origin:
    """Return the file and the row of a reading, by its place in its day."""
    for file, row, step, count in json.loads(origins):
        if at < count:
            return file, row + at * step
        at -= count
    return 0, 0


def _expanded(origins: str, count: int) -> list[Origin]:
    found = [
        (file, row + n * step)
        for file, row, step, of_run in json.loads(origins)
        for n in range(of_run)
    ]
    return found + [(0, 0)] * (count - len(found))


def _runs(origins: Iterable[Origin]) -> str:
    """Return origins as runs: file, first row, step, count."""
    runs: list[list[int]] = []
    for file, row in origins:
        if runs and runs[-1][0] == file:
            last = runs[-1]
            if last[3] == 1:
                last[2], last[3] = row - last[1], 2
                continue
            if row == last[1] + last[2] * last[3]:
                last[3] += 1
                continue
        runs.append([file, row, 0, 1])
    return json.dumps(runs, separators=(",", ":"))


def differing_said(tally: Tally) -> str:
    """Return how many values differ from those recorded, and by how much."""
    said = f"{tally.differing} of {tally.differing + tally.known} values differ"
    if not tally.points:
        return said
    sizes = sorted(abs(p) for p in tally.points)
    return f"{said}, by {sizes[len(sizes) // 2]:.1f} points in the middle, {sizes[-1]:.1f} at most"
