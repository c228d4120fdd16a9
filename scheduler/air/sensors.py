"""What several sensors of one room say together, each corrected by what a test found.

Where a room has several loggers, the damper one counts, hour by hour, until a person names the one
that counts (`wingrest air ROOM --logger NAME`); where that one is silent the others count. Taking
the damper one keeps two laws that a mean with a threshold would break: a damper reading never makes
the room drier, and no hour jumps because two sensors drifted a little further apart. It makes rooms
whose sensors agree a few points damper, which errs on the careful side.

`Snapshot.air_days` holds the outcome: whoever computes with a room's air takes it from there and
knows nothing of loggers.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta

from scheduler.air.hours import DAY_HOURS, Hours
from scheduler.words.records import Regime
from scheduler.words.tuples import NamedTuple

Days = Mapping[date, bytes]
"""Packed hours (`air.hours.Hours`) by local date."""


_AFTER_DAWN = tuple(timedelta(hours=n) for n in range(DAY_HOURS))


class Offset(NamedTuple):
    """A correction: `points` are added to a sensor's humidity from a local moment on."""

    since: datetime
    points: float


def corrected(rh_pct: float, at: datetime, offsets: Sequence[Offset]) -> float:
    """Return a humidity corrected by the latest offset that holds at a local moment, 0 to 100 %.

    offsets: the earliest first. An offset holds for the whole of the hour in which it begins.
    """
    began = bisect_right([o.since.replace(minute=0, second=0) for o in offsets], at)
    return min(100.0, max(0.0, rh_pct + offsets[began - 1].points)) if began else rh_pct


def heard(
    loggers: Mapping[str, Days], offsets: Mapping[str, Sequence[Offset]], named: str | None = None
) -> Days:
    """Return the hours of a room from all its loggers, corrected.

    named: the logger that counts wherever it says anything; None: the damper one counts.
    """
    if len(loggers) == 1 and not any(offsets.get(name) for name in loggers):
        return next(iter(loggers.values()))
    found: dict[date, bytes] = {}
    for day in sorted({day for days in loggers.values() for day in days}):
        here = {name: days[day] for name, days in loggers.items() if day in days}
        found[day] = _day(day, here, offsets, named)
    return found


def _day(
    day: date,
    here: Mapping[str, bytes],
    offsets: Mapping[str, Sequence[Offset]],
    named: str | None,
) -> bytes:
    begin = datetime.combine(day, time())
    first = next(iter(here))
    began = any(o.since < begin + timedelta(days=1) for name in here for o in offsets.get(name, ()))
    if len(here) == 1 and not began:
        return here[first]
    hours = {name: _hours(begin, packed, offsets.get(name, ())) for name, packed in here.items()}
    chosen = [_of_hour({n: h[i] for n, h in hours.items()}, named) for i in range(DAY_HOURS)]
    return Hours.of([rh for rh, _ in chosen], [temp for _, temp in chosen]).packed


def _hours(
    begin: datetime, packed: bytes, offsets: Sequence[Offset]
) -> list[tuple[float | None, float | None]]:
    held = Hours(packed)
    return [
        (None if rh is None else corrected(rh, begin + timedelta(hours=n), offsets), temp)
        for n, (rh, temp) in enumerate(zip(held.rh_pct, held.temp_c, strict=True))
    ]


def _of_hour(
    said: Mapping[str, tuple[float | None, float | None]], named: str | None
) -> tuple[float | None, float | None]:
    known = {name: (rh, temp) for name, (rh, temp) in said.items() if rh is not None}
    temps = [temp for _, temp in said.values() if temp is not None]
    if not known:
        return None, min(temps, default=None)
    if named in known:
        rh, temp = known[named]
    else:
        # Of two that are equally damp the colder counts: specimens dry more slowly there.
        rh, temp = max(known.values(), key=lambda a: (a[0], -100.0 if a[1] is None else -a[1]))
    return rh, min(temps, default=None) if temp is None else temp


class Apart(NamedTuple):
    """How far two sensors are apart [points] over the hours that both know: first less second."""

    hours: int
    median: float
    begin: float
    end: float


LEAST_PCT: Mapping[Regime, float] = {"room": 10.0, "warm": 3.0, "desiccant": 0.0}
"""No room of this regime is drier [%]; a sensor that fails often shows 0. No source."""

LEAST_HOURS = 6
"""Two sensors with fewer common hours are not compared; no source."""

AGREE_POINTS = 10.0
"""A person is asked about two sensors that are further apart; common practice, no source."""


def apart(
    first: Iterable[tuple[datetime, float]], second: Mapping[datetime, float]
) -> Apart | None:
    """Return how far a sensor's hours lie above another's, None when they share too few.

    `begin` and `end` are the medians of the first and the last third of the common hours: where
    these differ, one of the two sensors drifts.
    """
    differences = [rh - second[at] for at, rh in first if at in second]
    if len(differences) < LEAST_HOURS:
        return None
    third = max(1, len(differences) // 3)
    return Apart(
        len(differences),
        middle(differences),
        middle(differences[:third]),
        middle(differences[-third:]),
    )


def hours_of(days: Days, offsets: Sequence[Offset] = ()) -> list[tuple[datetime, float]]:
    """Return a sensor's known hours with their humidity, the earliest first."""
    found = [
        (begin + hour, rh)
        for day in sorted(days)
        for begin in (datetime.combine(day, time()),)
        for hour, rh in zip(_AFTER_DAWN, Hours(days[day]).rh_pct, strict=True)
        if rh is not None
    ]
    return [(at, corrected(rh, at, offsets)) for at, rh in found] if offsets else found


def middle(values: Sequence[float]) -> float:
    """Return the median of some values."""
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2
