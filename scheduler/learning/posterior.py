"""What dryness tests say of how long bodies take here, as a distribution on a grid.

Pure. The progress X at which a specimen is dry, as a share of the table's minimum, is

    ln X = room + e,   e ~ N(0, own^2 + spread^2),   room ~ N(person, .), person ~ N(0, .)

`own` is how much specimens of one kind differ. `spread` is what nobody knows of this one: its body,
and the air in which it stood. A test says only on which side of a progress X lies. So this is an
accelerated failure time model, log-normal and interval-censored, with the person's effect pooled
over the rooms.

The grid is the only approximation: `room` lies on 61 points from 0.30 to 3.3 times the table, a
person's effect on 21 of them, `own` on three points of a Gauss-Hermite rule over its logarithm,
progress on steps of 2 %.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import accumulate
from operator import mul

from scheduler.words.tuples import NamedTuple

CELL = 0.02
"""The step of ln progress; a test is rounded to the nearest step."""
SPREAD_STEP = 0.02
"""The step of spreads, in ln progress; they are rounded to it."""
FURTHEST_CELLS = 80
"""Progress counts from exp(-1.6) to exp(1.6) times the table's minimum: so many cells each way."""

TINY = 1e-12
"""The smallest chance of a test: no outcome is believed to be impossible."""

_POINTS = 30
_STRIDE = 2
_PERSON_STRIDE = 3
_REACH = 150
_ROOMS = tuple(_STRIDE * CELL * n for n in range(-_POINTS, _POINTS + 1))
_PERSONS = _ROOMS[::_PERSON_STRIDE]
_HERMITE = ((-math.sqrt(3), 1 / 6), (0.0, 2 / 3), (math.sqrt(3), 1 / 6))


class DryBetween(NamedTuple):
    """The shares of the table's minimum between which one dried: above one, at most the other.

    `above` is 0 and `below` infinite where no test said. `spread` is the standard deviation of what
    nobody knows of it, in ln progress. It counts as so much of one test, 0 to 1: less where others
    stood in the same air that nobody ever read, because then they err together.
    """

    above: float
    below: float
    spread: float = 0.0
    counts: float = 1.0


class Prior(NamedTuple):
    """What is believed before any test; standard deviations of ln progress.

    `own_doubt` is the standard deviation of ln `own`; `keeps` the share of a test's weight that is
    left after each later test in its room; `error` the share of tests that may say anything.
    """

    person: float
    room: float
    own: float
    own_doubt: float
    keeps: float
    error: float


class Posterior:
    """What is believed of one room after its tests, and those of the other rooms."""

    def __init__(self, weights: Sequence[Sequence[float]], owns: Sequence[float]) -> None:
        """Keep weights that sum to 1: by size of `own`, then by point of the room."""
        self._weights = weights
        self._owns = owns
        self._quantiles: dict[tuple[float, int], float] = {}

    def dry_by(self, progress: float, spread: float = 0.0) -> float:
        """Return the share of specimens that are dry at a progress."""
        return self._dry_at(_cells(progress), _steps(spread))

    def progress(self, share: float, spread: float = 0.0) -> float:
        """Return the progress at which a share (0 to 1) of specimens is dry."""
        steps = _steps(spread)
        if (share, steps) not in self._quantiles:
            at = _where(
                lambda cell: self._dry_at(cell, steps), share, -FURTHEST_CELLS, FURTHEST_CELLS
            )
            self._quantiles[share, steps] = math.exp(at * CELL)
        return self._quantiles[share, steps]

    def factor(self, share: float = 0.5) -> float:
        """Return how many times the table's days a room needs at most, by this probability."""
        sums = list(accumulate(map(sum, zip(*self._weights, strict=True))))
        at = _where(lambda n: sums[math.floor(n)], share, 0, len(sums) - 1)
        return math.exp(_STRIDE * CELL * (at + 0.5 - _POINTS))

    def _dry_at(self, cell: float, steps: int) -> float:
        low = math.floor(cell)
        here, there = (
            sum(
                sum(map(mul, weights, _dry(n, _widened(own, steps))))
                for weights, own in zip(self._weights, self._owns, strict=True)
            )
            for n in (low, low + 1)
        )
        return here + (cell - low) * (there - here)


def posteriors(rooms: Sequence[Sequence[DryBetween]], prior: Prior) -> tuple[Posterior, ...]:
    """Return what is believed of every room, from its tests in order of time, the oldest first."""
    owns = [prior.own * math.exp(z * prior.own_doubt) for z, _ in _HERMITE]
    logs = [[_log_likelihood(tests, own, prior) for own in owns] for tests in rooms]
    likely = [_scaled(by_own) for by_own in logs]
    near = _near(prior.room)
    believed = [
        [_persons(likely[room][own], near) for room in range(len(rooms))]
        for own in range(len(owns))
    ]
    return tuple(
        Posterior(_room_weights(likely[room], believed, near, room, prior), owns)
        for room in range(len(rooms))
    )


def _log_likelihood(tests: Sequence[DryBetween], own: float, prior: Prior) -> list[float]:
    """Return the log-likelihood of tests at every point of the room; old tests count less."""
    total = [0.0] * len(_ROOMS)
    weight = 1.0
    for test in reversed(tests):
        logs = _log_of(
            _cell(test.above), _cell(test.below), _widened(own, _steps(test.spread)), prior.error
        )
        total = [t + weight * test.counts * one for t, one in zip(total, logs, strict=True)]
        weight *= prior.keeps
    return total


def _scaled(logs: Sequence[Sequence[float]]) -> list[list[float]]:
    most = max(map(max, logs))
    return [[math.exp(one - most) for one in by_room] for by_room in logs]


def _persons(likely: Sequence[float], near: Sequence[Sequence[float]]) -> list[float]:
    """Return how likely a room's tests are at every point of the person's effect."""
    return [sum(map(mul, likely, row)) for row in near]


def _room_weights(
    likely: Sequence[Sequence[float]],
    believed: Sequence[Sequence[Sequence[float]]],
    near: Sequence[Sequence[float]],
    room: int,
    prior: Prior,
) -> list[list[float]]:
    found = []
    for (_, weight), mine, all_rooms in zip(_HERMITE, likely, believed, strict=True):
        persons = [math.exp(-((p / prior.person) ** 2) / 2) for p in _PERSONS]
        for other, theirs in enumerate(all_rooms):
            if other != room:
                persons = list(map(mul, persons, theirs))
        before = (sum(map(mul, persons, column)) for column in zip(*near, strict=True))
        found.append([weight * b * m for b, m in zip(before, mine, strict=True)])
    total = sum(map(sum, found))
    return [[one / total for one in weights] for weights in found]


@lru_cache(maxsize=8)
def _near(room: float) -> tuple[tuple[float, ...], ...]:
    """Return, for every point of the person, the density of a room at each point of the room."""
    return tuple(tuple(math.exp(-(((r - p) / room) ** 2) / 2) for r in _ROOMS) for p in _PERSONS)


@lru_cache(maxsize=4096)
def _log_of(above: int | None, below: int | None, sd: float, error: float) -> tuple[float, ...]:
    """Return ln P(between two cells) at every point of the room; None: no test on that side."""
    low = _dry(above, sd) if above is not None else (0.0,) * len(_ROOMS)
    high = _dry(below, sd) if below is not None else (1.0,) * len(_ROOMS)
    between = (max(TINY, h - b) for b, h in zip(low, high, strict=True))
    return tuple(math.log(error + (1 - error) * share) for share in between)


def _dry(cell: int, sd: float) -> list[float]:
    """Return the share that is dry at a progress, at every point of the room."""
    begin = _REACH + cell + _STRIDE * _POINTS
    return _normal(sd)[begin : begin - 2 * _STRIDE * _POINTS - 1 : -_STRIDE]


@lru_cache(maxsize=256)
def _normal(sd: float) -> list[float]:
    """Return the cumulative normal distribution at whole cells, from -150 to 150."""
    scale = CELL / (sd * math.sqrt(2))
    return [(1 + math.erf(n * scale)) / 2 for n in range(-_REACH, _REACH + 1)]


@lru_cache(maxsize=1024)
def _widened(own: float, steps: int) -> float:
    return max(CELL, math.hypot(own, steps * SPREAD_STEP))


def _steps(spread: float) -> int:
    return round(spread / SPREAD_STEP)


def _cells(progress: float) -> float:
    if progress <= 0:
        return -FURTHEST_CELLS
    return min(max(math.log(progress) / CELL, -FURTHEST_CELLS), FURTHEST_CELLS - 1)


def _cell(progress: float) -> int | None:
    """Return the cell of a test's progress, None where there was no test."""
    return None if progress <= 0 or math.isinf(progress) else round(_cells(progress))


def _where(reached: Callable[[int], float], share: float, low: int, high: int) -> float:
    """Return where a rising function of whole numbers reaches a share, interpolated linearly."""
    while high - low > 1:
        middle = (low + high) // 2
        if reached(middle) < share:
            low = middle
        else:
            high = middle
    here, there = reached(low), reached(high)
    return low if there <= here else low + min(1.0, max(0.0, (share - here) / (there - here)))
