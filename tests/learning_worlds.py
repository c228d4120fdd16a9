"""Invented rooms, and people who test in them: is what the program learns there right?

Every household has two rooms. A specimen is dry when its progress, by the true air, reaches X
minima of the table: ln X is the person's, the room's and its own; in half of the households a
dial is read seldom and the progress is off. People are at the bench on three evenings a week,
test what is due, take off what seems stiff. A hand errs near the point (`HAND`); what comes off
before it was dry droops. All constants are invented.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from statistics import fmean
from typing import Any, NamedTuple

from scheduler.learning.posterior import DryBetween, Posterior, Prior, posteriors
from scheduler.learning.taught import Judged, Shares, Taught, prior_of, shares_of
from scheduler.rulebook import Rulebook, load_rulebook

HAND = 0.06
"""Standard deviation of what a hand feels, in ln progress."""
OWN = 0.18
PERSON = ROOM = 0.08
SPARSE, LOGGED = 0.08, 0.02
"""How far the progress is off, in ln, with a dial read seldom and with a logger."""
SEASONS, A_SEASON, SEASON_DAYS, YEAR = 3, 40, 180, 365
BENCH_DAYS = (2, 5, 6)
RECHECK_DAYS = 7
LAST = 60
SEEN_DAYS = 14
"""A droop shows so long after it came off."""
MIN_DAYS = (8, 10, 12, 14, 14, 16, 18, 21, 24, 28)

WORLDS = {
    "right": 1.0,
    "too short": 1.4,
    "too long": 0.6,
    "heavy tails": 1.0,
    "a room changes": 1.0,
}
"""How many times the table's minimum the usual specimen needs."""


@dataclass(eq=False)
class Stands:
    """One specimen in its room, as it truly is and as it is known."""

    mounted: int
    min_days: float
    dry_at: float
    off_by: float
    spread: float
    season: int
    next_test: int = 0
    above: float = 0.0
    below: float = math.inf
    again: float = math.inf
    soft: int = 0
    off: int | None = None
    drooped: bool = False
    inside: bool | None = None

    def known(self, day: int) -> float:
        """Progress as the record has it."""
        return self.true(day) * self.off_by

    def true(self, day: int) -> float:
        return (day - self.mounted) / self.min_days


@dataclass(eq=False)
class SimulatedRoom:
    stand: list[Stands]
    tested: list[Stands] = field(default_factory=list)
    taught: Taught | None = None

    def found(self, day: int) -> list[Judged]:
        """What the record knows of it on a day."""
        return [self._found(one, day) for one in self.tested[-LAST:]]

    def _found(self, one: Stands, day: int) -> Judged:
        if one.drooped and one.off is not None and day - one.off >= SEEN_DAYS:
            return Judged(DryBetween(one.below, math.inf, one.spread), True)
        return Judged(DryBetween(one.above, one.below, one.spread))


class Season(NamedTuple):
    """What came of a season in many rooms, by the specimen; droops by the thousand."""

    soft: float
    days: float
    drooped: float


class Played(NamedTuple):
    """Every season, droops by the thousand of all of them, and the share inside the 80 % span."""

    seasons: tuple[Season, ...]
    drooped: float
    covered: float
    shown_early: int


def households(world: str, rooms: int, chance: random.Random) -> Iterator[list[SimulatedRoom]]:
    for number in range(rooms // 2):
        person = math.log(WORLDS[world]) + chance.gauss(0, PERSON)
        off = SPARSE if number % 2 else LOGGED
        yield [_room(world, person + chance.gauss(0, ROOM), off, chance) for _ in range(2)]


def _room(world: str, usual: float, off: float, chance: random.Random) -> SimulatedRoom:
    jump = chance.choice((-0.3, 0.3)) if world == "a room changes" else 0.0
    stand = []
    for season in range(SEASONS):
        for _ in range(A_SEASON):
            day = season * YEAR + chance.randrange(SEASON_DAYS)
            changed = jump if day >= YEAR + SEASON_DAYS // 2 else 0.0
            own = _student(chance) if world == "heavy tails" else chance.gauss(0, OWN)
            stand.append(
                Stands(
                    day,
                    chance.choice(MIN_DAYS),
                    math.exp(usual + changed + own),
                    math.exp(chance.gauss(0, off)),
                    off,
                    season,
                    next_test=day,
                )
            )
    return SimulatedRoom(sorted(stand, key=lambda one: one.mounted))


def _student(chance: random.Random) -> float:
    """Student's t with 3 degrees of freedom, three quarters of the usual spread."""
    square = sum(chance.gauss(0, 1) ** 2 for _ in range(3))
    return 0.75 * OWN * chance.gauss(0, 1) / math.sqrt(square / 3)


def play(
    world: str, rooms: int, seed: int, share: float | None, ahead: bool = False, **other: Any
) -> Played:
    """Play all rooms by the table (share None) or by what was learned.

    ahead: what may be dry is felt before it is due; stiff, it is felt again a little later.
    """
    chance = random.Random(f"{world} {seed}")
    hands = random.Random(f"hands {world} {seed}")
    rules = load_rulebook()
    shares = shares_of(rules, share or 0.7)._replace(**other)
    prior = prior_of(rules)
    homes = list(households(world, rooms, chance))
    early = 0
    for home in homes:
        for day in range((SEASONS - 1) * YEAR + SEASON_DAYS + 120):
            if share is not None and day % 7 == 0:
                early += learn(home, day, prior, shares)
            if day % 7 in BENCH_DAYS:
                for room in home:
                    if ahead:
                        feel_ahead(room, day, hands, rules)
                    at_the_bench(room, day, hands)
    return _summed([one for home in homes for room in home for one in room.stand], early)


def learn(home: Sequence[SimulatedRoom], day: int, prior: Prior, shares: Shares) -> int:
    """Look at the tests so far; count spans that are shown before five of them."""
    if not any(one.off is None and one.mounted < day + 7 for room in home for one in room.stand):
        return 0
    found = [room.found(day) for room in home]
    believed = posteriors([[f.interval for f in those] for those in found], prior)
    shown = 0
    for room, mine, those in zip(home, believed, found, strict=True):
        taught = Taught(mine, those, shares)
        room.taught = taught if taught.enough else None
        shown += room.taught is not None and taught.tests < 5
        if taught.tests >= 10:
            for one in room.stand:
                if day <= one.mounted < day + 7:
                    low, high = (mine.progress(at, one.spread) for at in (0.1, 0.9))
                    one.inside = low <= one.dry_at * one.off_by <= high
    return shown


def at_the_bench(room: SimulatedRoom, day: int, hands: random.Random) -> None:
    for one in room.stand:
        if one.mounted > day:
            break
        if one.off is not None or day < one.next_test:
            continue
        if one.known(day) < min(_due(room, one), one.again):
            continue
        if _feels_stiff(room, one, day, hands):
            one.off, one.drooped = day, one.true(day) < one.dry_at


def feel_ahead(room: SimulatedRoom, day: int, hands: random.Random, rules: Rulebook) -> None:
    """Feel what enough of its like are dry of, but is not due; stiff, it dries on for a while."""
    limit = rules.limit
    believed = room.taught.posterior if room.taught else _unknown(rules)
    enough = limit("learn_feel_pct" if room.taught else "learn_feel_new_pct") / 100
    for one in room.stand:
        if one.mounted > day:
            break
        known = one.known(day)
        if one.off is not None or day < one.next_test or one.again < math.inf:
            continue
        if limit("learn_least") <= known < _due(room, one):
            likely = believed.dry_by(known, one.spread) >= enough
            if likely and _feels_stiff(room, one, day, hands):
                one.again = known + limit("learn_again")


@cache
def _unknown(rules: Rulebook) -> Posterior:
    (believed,) = posteriors([[]], prior_of(rules))
    return believed


def _due(room: SimulatedRoom, one: Stands) -> float:
    return room.taught.due(one.min_days, one.spread) if room.taught else 1.0


def _feels_stiff(room: SimulatedRoom, one: Stands, day: int, hands: random.Random) -> bool:
    if one not in room.tested:
        room.tested.append(one)
    stiff = math.log(one.true(day) / one.dry_at) + hands.gauss(0, HAND) > 0
    if stiff:
        one.below = min(one.below, one.known(day))
    else:
        one.above, one.below, one.again = one.known(day), math.inf, math.inf
        one.next_test = day + RECHECK_DAYS
        one.soft += 1
    return stiff


def _summed(stood: Sequence[Stands], early: int) -> Played:
    seasons = tuple(
        Season(
            fmean(o.soft for o in mine),
            fmean((o.off or 0) - o.mounted for o in mine),
            1000 * fmean(o.drooped for o in mine),
        )
        for mine in ([o for o in stood if o.season == s and o.off] for s in range(SEASONS))
    )
    judged = [o.inside for o in stood if o.inside is not None]
    drooped = 1000 * fmean(o.drooped for o in stood)
    return Played(seasons, drooped, 100 * fmean(judged) if judged else math.nan, early)
