"""What holds for any air at all: whole records, through the answers, over random measurements.

The records are invented. The thousand of the slower group are drawn from a seed.
"""

from __future__ import annotations

import itertools
import math
import random
from datetime import date, datetime, timedelta

import pytest
from air_cases import Air, dialled, logged
from bench_cases import BERLIN, on_board, one_board, rules, seen

from scheduler.cli.today import screen
from scheduler.drying.law import Law, SteadyAir
from scheduler.looks.ready import ready
from scheduler.looks.today import today
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Room, Specimen

MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
MAY = date(2027, 5, 8)
LAW = Law(rules())


def at(day: float) -> datetime:
    return datetime(2027, 5, 8, 10, tzinfo=BERLIN) + timedelta(days=day)


class Drawn:
    """One random record: a body, a room, days of hours with gaps, and dials."""

    def __init__(self, chance: random.Random) -> None:
        self.body_mm = chance.choice([1.5, 4.5, 8.0, 12.0, chance.uniform(0.8, 16)])
        regime = chance.choice(["room", "room", "room", "desiccant", "warm"])
        said = chance.choice([None, chance.uniform(30, 95)]) if regime != "room" else 55.0
        self.room = Room("study", regime, said)  # type: ignore[arg-type]
        mean, wide = chance.uniform(1, 100), chance.choice([0.0, 2.0, 15.0])
        temp = chance.uniform(-5, 45)
        self.days: list[list[Air]] = [
            [self._hour(chance, mean, wide, temp) for _ in range(24)]
            for _ in range(chance.randrange(0, 30))
        ]
        self.dials = {
            f"{MAY + timedelta(days=chance.randrange(40))}T{chance.randrange(24):02}:15": (
                chance.uniform(1, 100),
                chance.uniform(-5, 45),
            )
            for _ in range(chance.choice([0, 0, 1, 5]))
        }

    @staticmethod
    def _hour(chance: random.Random, mean: float, wide: float, temp: float) -> Air:
        if chance.random() < 0.05:
            return None, None
        return min(100.0, max(1.0, chance.gauss(mean, wide))), temp

    def record(self, *, damper: float = 0.0, cooler: float = 0.0, thicker: float = 0.0) -> Snapshot:
        moth = MOTH._replace(body_mm=self.body_mm + thicker)
        days = [
            [
                (None if rh is None else min(100.0, rh + damper), t and max(-40.0, t - cooler))
                for rh, t in day
            ]
            for day in self.days
        ]
        dials = {m: (min(100.0, rh + damper), t - cooler) for m, (rh, t) in self.dials.items()}
        snap = logged(one_board(moth, rooms=[self.room]), "study", MAY, days)
        return dialled(snap, "study", dials)

    def fastest(self) -> float:
        """Return the pace of the driest and warmest air that anybody measured or said."""
        measured = [(rh, t) for day in self.days for rh, t in day if rh is not None]
        measured += list(self.dials.values())
        airs = [SteadyAir(rh, 20.0 if t is None else t) for rh, t in measured]
        steady = on_board(one_board(MOTH, rooms=[self.room])).paces.drying(self.room, self.body_mm)
        assumed = 0.0 if steady is None else steady.between(at(0), at(1))
        return max([assumed, *(LAW.pace(self.body_mm, air) for air in airs)])


def holds(drawn: Drawn) -> None:
    """Assert every law of one record."""
    snap = drawn.record()
    one = on_board(snap)
    need = one.paces.need(one.specimen, one.body_mm)[0]
    hours = [one.progress(at(n / 24)) for n in range(0, 24 * 60, 7)]
    assert all(math.isfinite(h) for h in hours)
    assert all(later >= earlier - 1e-9 for earlier, later in itertools.pairwise(hours))
    due = one.dates.due or date.max
    for changed in ({"damper": 7.0}, {"cooler": 4.0}, {"thicker": 1.5}):
        other = on_board(drawn.record(**changed)).dates
        assert (other.due or date.max) >= due, changed
        assert (other.clear or date.max) >= (one.dates.clear or date.max), changed
    fastest = drawn.fastest()
    for day in (3.5, 9.0, 20.25, 45.0):
        view = seen(snap, at(day))
        (board,) = ready(view, ["B1"])
        assert screen(today(view))
        if board.answer in ("test it now", "take off"):
            # Dates are whole days from the mounting: never more than a day before it is full.
            assert (day + 1) * fastest >= need - 1e-6


def test_fifty_random_records() -> None:
    chance = random.Random(11)
    for _ in range(50):
        holds(Drawn(chance))


@pytest.mark.slow
def test_a_thousand_random_records() -> None:
    chance = random.Random(12)
    for _ in range(1_000):
        holds(Drawn(chance))


def test_thirty_hourly_records_with_gaps_at_83_percent() -> None:
    chance = random.Random(83)
    for _ in range(30):
        days: list[list[Air]] = [[(83.0, 19.0)] * 24 for _ in range(17)]
        for _ in range(chance.randrange(1, 4)):
            begin = chance.randrange(17 * 24 - 30)
            for hour in range(begin, begin + chance.randrange(1, 30)):
                days[hour // 24][hour % 24] = (None, None)
        stout = MOTH._replace(body_mm=chance.choice([4.5, 8.0, 12.0]))
        snap = logged(one_board(stout), "study", MAY, days)
        view = seen(snap, at(18))
        (board,) = ready(view, ["B1"])
        assert board.answer in ("not yet", "cannot say")
        assert (board.specimens[0].progress_pct or 0) < 15
        assert screen(today(view))
