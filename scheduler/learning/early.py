"""Of what has time for a second test before a session: whom to feel, because it may be dry.

Pure. Stiff once is not believed; stiff again, a part of its minimum later, is (drying/felt.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from functools import partial

from scheduler.drying.on_board import OnBoard
from scheduler.learning.lessons import Lessons
from scheduler.learning.probes import MOST_PROBES, Probe
from scheduler.learning.witness import drier_of, stoutness
from scheduler.rulebook import Rulebook
from scheduler.words.tuples import NamedTuple

DAMP_PACE = 0.7
"""Air of less worth than this share of its days is damp, or cold: at 20 deg C above 65 %."""

DryBy = Callable[[float, float], float]
"""The share that is dry by a progress, with a spread of it."""

_HAIR = 1e-9

_DAY = timedelta(days=1)


class _Chance(NamedTuple):
    """The share of such specimens that are dry by now, and whether the room's own tests say so."""

    share: float
    taught: bool


def worth_feeling(
    those: Iterable[OnBoard], lessons: Lessons | None, session: str, now: datetime
) -> tuple[Probe, ...]:
    """Return those of which enough are likely dry, by room, the likeliest first."""
    rooms: dict[str, list[tuple[float, OnBoard]]] = {}
    new: dict[str, list[tuple[float, OnBoard]]] = {}
    for one in those:
        chance = _chance(one, lessons, now)
        name = "learn_feel_pct" if chance.taught else "learn_feel_new_pct"
        if one.room and 100 * chance.share >= one.rules.limit(name):
            (rooms if chance.taught else new).setdefault(one.room.room, []).append(
                (chance.share, one)
            )
    found = []
    for most, group in ((None, rooms), (MOST_PROBES, new)):
        for room, here in sorted(group.items()):
            likeliest = sorted(here, key=lambda e: (-e[0], e[1].specimen.specimen))[:most]
            names = tuple(one.specimen.specimen for _, one in likeliest)
            boards = tuple(dict.fromkeys(one.board.board for _, one in likeliest))
            found.append(Probe(room, names, boards, 0.0, session))
    return tuple(found)


def _chance(one: OnBoard, lessons: Lessons | None, now: datetime) -> _Chance:
    """Return how many of its like are dry by now, of those that were soft when it was.

    Where its air was damp, half by the table and half by the deficit alone: how far damp air slows
    drying is the table's own judgement.
    """
    dry_by, taught = _dried(one, lessons)
    share = _share(one, dry_by, now)
    days = (now - one.placement.mounted_at) / _DAY
    if one.worth(now) < DAMP_PACE * days:
        from dataclasses import replace  # slow to import, and few stand in damp air

        share = (share + _share(replace(one, paces=one.paces.by_deficit), dry_by, now)) / 2
    return _Chance(share, taught)


def _share(one: OnBoard, dry_by: DryBy, now: datetime) -> float:
    spread = one.spread(now)
    by_now = dry_by(one.progress(now), spread)
    if not one.tests:
        return by_now
    then = dry_by(one.progress(one.tests[-1].tested_at), spread)
    return (by_now - then) / (1 - then) if then < 1 else 0.0


def _dried(one: OnBoard, lessons: Lessons | None) -> tuple[DryBy, bool]:
    """Return the share dry by a progress, and whether the room's own tests say so."""
    if lessons is not None and one.room is not None:
        lesson = lessons.rooms.get(drier_of(one.specimen, one.room.room))
        if lesson is not None and lesson.speaks_for(stoutness(one.body_mm, one.rules)):
            return lesson.taught.posterior.dry_by, lesson.taught.enough
    return partial(_dry_of_any, one.rules), False


def _dry_of_any(rules: Rulebook, progress: float, spread: float) -> float:
    """Return the share dry by a progress where no test says anything: the table's, with doubt."""
    limit = rules.limit
    doubt = math.hypot(limit("learn_person"), limit("learn_room"), limit("learn_own"), spread)
    return (1 + math.erf(math.log(max(progress, _HAIR)) / doubt / math.sqrt(2))) / 2
