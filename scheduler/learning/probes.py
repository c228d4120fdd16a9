"""A few early tests that would teach much about a room at the cost of a pin prick each.

Pure. A probe is proposed only where something is tested anyway. It tells most where stiff and soft
are equally likely; its gain is computed by believing each outcome in turn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime

from scheduler.drying.on_board import OnBoard
from scheduler.learning.lessons import Lesson, Lessons
from scheduler.learning.posterior import DryBetween, Posterior, posteriors
from scheduler.learning.probe import MOST_PROBES, Probe
from scheduler.learning.taught import Judged, Taught, prior_of
from scheduler.learning.witness import drier_of, stoutness
from scheduler.rulebook import Rulebook

EVEN = (0.25, 0.85)
"""A probe tells something only when its chance to be stiff already lies between these, excluded."""

LEAST_GAIN_DAYS = 0.5
"""A gain of fewer days than this is not worth a pin."""


def probes(
    lessons: Lessons, standing: Iterable[OnBoard], boards: Iterable[str], now: datetime
) -> tuple[Probe, ...]:
    """Return, for every room, the probes to propose on `boards`, where something is tested now.

    None is the only specimen of its kind that stands, was ever tested on its board, or is due. A
    room has probes only when its own tests are enough already and at least half a day is to be
    gained.
    """
    every, here = list(standing), set(boards)
    found = []
    for drier, lesson in lessons.rooms.items():
        if lesson.taught.enough:
            mine = [
                one
                for one in every
                if one.board.board in here
                and one.room is not None
                and drier_of(one.specimen, one.room.room) == drier
                and lesson.speaks_for(stoutness(one.body_mm, lessons.rules))
                and _may_be_felt(one, every, now)
            ]
            found += _worth(lesson, mine, lessons.rules, now)
    return tuple(found)


def _may_be_felt(one: OnBoard, every: Sequence[OnBoard], now: datetime) -> bool:
    if one.tests or one.is_due(now.date()):
        return False
    return any(other is not one and _kind(other) == _kind(one) for other in every)


def _kind(one: OnBoard) -> tuple[str | None, ...]:
    return one.specimen.taxon, one.specimen.family, one.specimen.group


def _worth(lesson: Lesson, those: Sequence[OnBoard], rules: Rulebook, now: datetime) -> list[Probe]:
    """Return the probes of one room, none where too little would come of them."""
    chances = [
        (one, lesson.taught.posterior.dry_by(one.progress(now), one.spread(now))) for one in those
    ]
    even = [(abs(chance - 0.5), one) for one, chance in chances if EVEN[0] < chance < EVEN[1]]
    chosen = [one for _, one in sorted(even, key=lambda e: (e[0], e[1].specimen.specimen))]
    chosen = chosen[:MOST_PROBES]
    if not chosen:
        return []
    gain = _gain(lesson, chosen, rules, now)
    days = gain * chosen[0].min_days
    if days < LEAST_GAIN_DAYS:
        return []
    names = tuple(one.specimen.specimen for one in chosen)
    boards = tuple(dict.fromkeys(one.board.board for one in chosen))
    return [Probe(lesson.taught.room, names, boards, days)]


def _gain(lesson: Lesson, chosen: Sequence[OnBoard], rules: Rulebook, now: datetime) -> float:
    """Return by how much due comes sooner on average, in minima of the table.

    All chosen are taken to be alike, so that only the number of soft ones among them counts.
    """
    tested = [one.found for one in lesson.tested]
    first = chosen[0]
    progress, spread = first.progress(now), first.spread(now)
    stiff = lesson.taught.posterior.dry_by(progress, spread)
    mean = 0.0
    for soft in range(len(chosen) + 1):
        ways = math.comb(len(chosen), soft) * stiff ** (len(chosen) - soft) * (1 - stiff) ** soft
        more = [Judged(DryBetween(progress, math.inf, spread))] * soft
        more += [Judged(DryBetween(0.0, progress, spread))] * (len(chosen) - soft)
        found = [*tested, *more]
        then = Taught(_alone(found, rules), found, lesson.taught.shares, lesson.taught.room)
        mean += ways * then.due(first.min_days)
    before = Taught(_alone(tested, rules), tested, lesson.taught.shares, lesson.taught.room)
    return before.due(first.min_days) - mean


def _alone(found: Sequence[Judged], rules: Rulebook) -> Posterior:
    (believed,) = posteriors([[one.interval for one in found]], prior_of(rules))
    return believed
