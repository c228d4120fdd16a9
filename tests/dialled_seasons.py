"""Play seasons of a person with a dial on the wall, and follow what happens to the dates.

Everything is invented. The weather is that of `summer.py`, one for each seed; the room is aired
until its air has the mean that was drawn. The person gave a guess for the room, mounts something
every few days, and reads the dial once a week, in whatever hour they are there. What is due when
they look comes off.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from air_cases import dialled
from bench_cases import BERLIN, one_board, rules
from summer import Indoors, Spell, Walls, indoors, outdoors

from scheduler.drying.dates import DateSpan
from scheduler.record.snapshot import Snapshot
from scheduler.view import View
from scheduler.words.records import Placement, Room, Specimen

FIRST = date(2027, 5, 1)
DAYS = 154
BODIES_MM = (1.5, 3.0, 4.5, 6.0, 8.0, 10.0, 12.0)
DAY = timedelta(days=1)
WEEK_HOURS = 7 * 24


@dataclass(frozen=True, slots=True)
class Move:
    """What was told of one that stands before and after a reading; None: no date."""

    placement: Placement
    body_mm: float
    read_at: datetime
    was: date | None
    now: date | None
    air_changed_pct: float
    """The mean of the week before the reading, less that of the week before the last one."""
    told: DateSpan
    """The span that was told before."""
    tells: DateSpan
    last_told: date | None
    """The date that was told last since the dial was first read, also if none was in between."""

    @property
    def days(self) -> int | None:
        """How far the date is from the last that was told; None: none was told before, or now."""
        if self.last_told is None or self.now is None:
            return None
        return (self.now - self.last_told).days

    @property
    def within(self) -> bool:
        """Whether the date now lies in the span that was told before; without one, yes."""
        early, late = self.told
        if self.now is None or early is None:
            return True
        return early <= self.now and (late is None or self.now <= late)


class Season:
    """One invented room, what is said of it, what stands in it, and its weekly dial."""

    def __init__(self, number: int, mean_pct: float, wrong_pct: float = 8.0) -> None:
        chance = random.Random(f"dialled/{number}/{mean_pct:.3f}")
        self.air = _room(number, mean_pct, chance)
        said = round(mean_pct + chance.uniform(-wrong_pct, wrong_pct))
        self.room = Room("study", "room", float(min(max(said, 40), 70)))
        self.reads = [
            datetime(2027, 5, 8, tzinfo=BERLIN) + week * 7 * DAY + timedelta(hours=hour)
            for week, hour in enumerate(chance.choices(range(7, 23), k=DAYS // 7 - 1))
        ]
        days = sorted(chance.sample(range(DAYS - 42), 24))
        self.mounted = [
            datetime(2027, 5, 1, chance.randrange(8, 23), tzinfo=BERLIN) + day * DAY for day in days
        ]
        self.moths = [
            Specimen(f"M-{n}", family="Noctuidae", body_mm=chance.choice(BODIES_MM), state="fresh")
            for n in range(len(days))
        ]

    def record(self) -> Snapshot:
        """The record without a reading."""
        snap = one_board(*self.moths, rooms=[self.room], groove_mm=13.0)
        return replace(
            snap,
            placements=tuple(
                p._replace(mounted_at=at, mounted_on=at.date())
                for p, at in zip(snap.placements, self.mounted, strict=True)
            ),
        )

    def mean_pct(self, end: datetime, hours: int) -> float:
        """The true mean of the hours before a moment."""
        last = self._hour(end)
        week = self.air[max(0, last - hours) : last]
        return sum(a.rh_pct for a in week) / len(week)

    def played(self) -> Iterator[Move]:
        """Yield what every reading does to every date that stands."""
        snap, gone = self.record(), set[int]()
        last: dict[int, date] = {}
        for at in self.reads:
            read = self.air[self._hour(at)]
            before = View(snap, rules(), at)
            shown = (float(round(read.rh_pct)), float(round(read.temp_c)))
            snap = dialled(snap, "study", {f"{at:%Y-%m-%dT%H:%M}": shown})
            after = View(snap, rules(), at)
            changed = self.mean_pct(at, WEEK_HOURS) - self.mean_pct(at - 7 * DAY, WEEK_HOURS)
            for placement, moth in zip(snap.placements, self.moths, strict=True):
                if placement.mounted_at > at or placement.id in gone:
                    continue
                old, new, day = before.of(placement), after.of(placement), at.date()
                was, now = old.told(day).due, new.told(day).due
                if was is not None and at != self.reads[0]:
                    last[placement.id] = was
                spans = old.spans[0], new.spans[0]
                told = last.get(placement.id)
                yield Move(placement, moth.body_mm or 0.0, at, was, now, changed, *spans, told)
                if now is not None:
                    last[placement.id] = now
                    if now <= day:
                        gone.add(placement.id)

    def _hour(self, at: datetime) -> int:
        return int((at.replace(tzinfo=None) - self.air[0].at) / timedelta(hours=1))


def _room(number: int, mean_pct: float, chance: random.Random) -> list[Indoors]:
    """Return the hours of a room whose air has, within a point, the mean asked for."""
    begin = chance.randrange(8, DAYS - 20)
    damp = Spell(begin, begin + chance.randrange(7, 21), chance.uniform(0, 3), chance.uniform(0, 3))
    weather = outdoors(number, FIRST - 8 * DAY, DAYS + 8, damp, step_min=60)
    warmer, follows, airing = chance.uniform(2, 4), chance.uniform(12, 40), chance.uniform(3, 8)
    low, high = -6.0, 8.0
    for _ in range(12):
        source = (low + high) / 2
        air = indoors(weather, Walls(warmer, follows, airing, source))[8 * 24 :]
        mean = sum(a.rh_pct for a in air) / len(air)
        low, high = (source, high) if mean < mean_pct else (low, source)
    return air
