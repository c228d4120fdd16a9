"""An invented summer, for tests and samples: no real place, no real weather, one per seed.

It is physically consistent. Outdoors the temperature swings by the day and drops when a front
passes; the dew point follows the air mass and is never above the temperature. Indoors the
temperature is that of the outside, smoothed by the walls; the vapour is that of the outside,
exchanged with the air: absolute humidity is conserved, so a warm room is drier and a cool one
damper than the air it comes from.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path

from scheduler.air.hours import saturation_hpa

SEED = 20260601
"""The seed of the sample batches."""

STEP_MIN = 10


@dataclass(frozen=True, slots=True)
class Outdoors:
    """The weather at a local moment of a season in which the clocks do not change."""

    at: datetime
    temp_c: float
    dew_c: float


@dataclass(frozen=True, slots=True)
class Indoors:
    """What a logger in a room would read at a local moment."""

    at: datetime
    rh_pct: float
    temp_c: float


@dataclass(frozen=True, slots=True)
class Walls:
    """A room: how much warmer than the outside it is, how slowly it follows, how it is aired.

    `source_hpa` is the vapour that people, plants or a damp wall add, held up by the airing.
    """

    warmer_c: float = 3.0
    follows_hours: float = 30.0
    airing_hours: float = 4.0
    source_hpa: float = 0.5


@dataclass(frozen=True, slots=True)
class Spell:
    """Days (from, below, counted from the first) of cooler and damper air masses."""

    from_day: int
    below_day: int
    cooler_c: float = 3.0
    dew_up_c: float = 3.0

    def weight(self, day: float) -> float:
        """Return 0 outside, 1 inside, and a slope of a day at either end."""
        return max(0.0, min(1.0, day - self.from_day, self.below_day - day))


def outdoors(
    seed: int, first: date, days: int, spell: Spell | None = None, step_min: int = STEP_MIN
) -> list[Outdoors]:
    """Return the weather of some days in steps; the same seed gives the same weather."""
    chance = random.Random(seed)
    fronts = _fronts(chance, days)
    begin = datetime.combine(first, time())
    weather = []
    for step in range(days * 24 * 60 // step_min):
        day = step * step_min / (24 * 60)
        warmth, moisture, cloud = _air_mass(fronts, day)
        weight = 0.0 if spell is None else spell.weight(day)
        season = 17.5 + 2.5 * math.sin(math.pi * day / max(days, 1))
        swing = (5.5 - 3.5 * max(cloud, weight)) * math.cos(2 * math.pi * (day - 15 / 24))
        temp = season + warmth + swing + chance.gauss(0, 0.15)
        dew = 10.5 + moisture + 0.5 * math.sin(2 * math.pi * day) + chance.gauss(0, 0.1)
        if spell is not None:
            temp, dew = temp - weight * spell.cooler_c, dew + weight * spell.dew_up_c
        weather.append(Outdoors(begin + timedelta(minutes=step * step_min), temp, min(dew, temp)))
    return weather


def indoors(weather: Sequence[Outdoors], walls: Walls) -> list[Indoors]:
    """Return what a room makes of the weather; what would be above saturation condenses."""
    if not weather:
        return []
    day = weather[: 24 * 60 // STEP_MIN]
    temp = sum(w.temp_c for w in day) / len(day) + walls.warmer_c
    vapour = sum(saturation_hpa(w.dew_c) for w in day) / len(day) + walls.source_hpa
    room = []
    at = weather[0].at
    for now in weather:
        hours = (now.at - at) / timedelta(hours=1)
        temp += _share(hours, walls.follows_hours) * (now.temp_c + walls.warmer_c - temp)
        outside = saturation_hpa(now.dew_c) + walls.source_hpa
        vapour += _share(hours, walls.airing_hours) * (outside - vapour)
        vapour = min(vapour, saturation_hpa(temp))
        room.append(Indoors(now.at, 100 * vapour / saturation_hpa(temp), temp))
        at = now.at
    return room


def write_logger_file(path: Path, room: Iterable[Indoors]) -> None:
    """Write readings as a plain logger's file: ISO local time, deg C, points."""
    lines = ["Time,Temperature (C),RH (%)"]
    lines += [f"{r.at:%Y-%m-%d %H:%M},{r.temp_c:.1f},{r.rh_pct:.1f}" for r in room]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _share(hours: float, constant: float) -> float:
    return 1 - math.exp(-hours / constant)


@dataclass(frozen=True, slots=True)
class _Front:
    """From `day` on an air mass that was cooled and dried, and warms and moistens until `until`."""

    day: float
    until: float
    drop_c: float
    dry_c: float


def _fronts(chance: random.Random, days: int) -> list[_Front]:
    fronts, day = [], -chance.uniform(0, 4)
    while day < days:
        until = day + chance.uniform(4, 8)
        fronts.append(_Front(day, until, chance.uniform(2, 6), chance.uniform(1, 5)))
        day = until
    return fronts


def _air_mass(fronts: Sequence[_Front], day: float) -> tuple[float, float, float]:
    """Return warmth and moisture against the season [C], and how cloudy it is, 0 to 1."""
    front = next(f for f in fronts if f.day <= day < f.until)
    passed = (day - front.day) / (front.until - front.day)
    # A front passes within six hours; afterwards the air mass recovers until the next.
    passing = min(1.0, (day - front.day) * 4)
    low = passing * (1 - passed)
    cloud = max(0.0, 1 - abs(day - front.day)) if day - front.day < 1 else 0.0
    return 2.0 - front.drop_c * low, 2.0 - front.dry_c * low, cloud
