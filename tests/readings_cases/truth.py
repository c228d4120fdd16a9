"""The true air of an invented room, from which every generated file is made."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True)
class Moment:
    """One reading as it was: wall clock, humidity to tenths, temperature in deg C."""

    at: datetime
    rh_pct: float
    temp_c: float


def truth(chance: random.Random, until: datetime) -> list[Moment]:
    """Return the readings of a room over 2 to 12 days, ending up to five years before `until`."""
    step_min = chance.choice([5, 10, 15, 30, 60])
    days = chance.choice([2, 3, 5, 8, 12])
    back = chance.uniform(1, 1_800)
    begin = (until - timedelta(days=days + back)).replace(minute=0, second=0, microsecond=0)
    begin += timedelta(minutes=chance.choice([0, 1, 7]), seconds=chance.choice([0, 0, 12]))
    # Clocks that change are tried elsewhere: these files stay within one half of the year.
    if (begin.month, begin.day) >= (10, 10) or (begin.month, begin.day) <= (4, 2):
        begin = begin.replace(month=chance.randint(5, 9), day=chance.randint(1, 16))
        if begin > until - timedelta(days=days + 1):
            begin = begin.replace(year=begin.year - 1)
    rh, temp = chance.uniform(32, 85), chance.uniform(8, 27)
    found = []
    for n in range(days * 24 * 60 // step_min):
        at = begin + timedelta(minutes=n * step_min)
        of_day = math.sin(2 * math.pi * (at.hour + at.minute / 60) / 24)
        rh = min(93.0, max(21.0, rh + chance.gauss(0, 0.4)))
        temp = min(33.0, max(4.0, temp + chance.gauss(0, 0.08)))
        found.append(Moment(at, round(rh + 2 * of_day, 1), round(temp - 0.8 * of_day, 1)))
    return found
