"""Of what has time for a second test before a session: whom to feel, because it may be dry.

Pure. Stiff once is not believed; stiff again, a part of its minimum later, is (drying/felt.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING

from scheduler.drying.on_board import OnBoard
from scheduler.learning.probe import MOST_PROBES, Probe
from scheduler.rulebook import Rulebook

if TYPE_CHECKING:
    from scheduler.learning.lessons import Lessons

DAMP_PACE = 0.7
"""Air worth less than this share of its days is damp or cold: above 65 % at 20 deg C (air-8-65)."""

DryBy = Callable[[float, float], float]
"""The share that is dry by a progress, with a spread of it."""

_HAIR = 1e-9

_DAY = timedelta(days=1)


def worth_feeling(
    those: Iterable[OnBoard], lessons: Lessons | None, session: str, now: datetime
) -> tuple[Probe, ...]:
    """Return those of which enough are likely dry, by room, the likeliest first."""
    taught: dict[str, list[tuple[float, OnBoard]]] = {}
    new: dict[str, list[tuple[float, OnBoard]]] = {}
    for one in those:
        dry_by, told = _dried(one, lessons)
        enough = one.rules.limit("learn_feel_pct" if told else "learn_feel_new_pct") / 100
        share = _likely(one, dry_by, now, enough)
        if one.room and share >= enough:
            (taught if told else new).setdefault(one.room.room, []).append((share, one))
    found = []
    for most, rooms in ((None, taught), (MOST_PROBES, new)):
        for room, here in sorted(rooms.items()):
            likeliest = sorted(here, key=lambda e: (-e[0], e[1].specimen.specimen))[:most]
            names = tuple(one.specimen.specimen for _, one in likeliest)
            boards = tuple(dict.fromkeys(one.board.board for _, one in likeliest))
            found.append(Probe(room, names, boards, 0.0, session))
    return tuple(found)


def _likely(one: OnBoard, dry_by: DryBy, now: datetime, enough: float) -> float:
    """Return how many of its like are dry by now, of those that were soft when it was.

    Where that is not enough by the table and the air was damp, half of it is by the deficit alone:
    how far damp air slows drying is the table's own judgement.
    """
    # What is not known of its body and air only raises a share below a half, and takes longer.
    share = _share(one, dry_by, now, 0.0)
    if share >= enough:
        return share
    share = _share(one, dry_by, now, one.spread(now))
    days = (now - one.placement.mounted_at) / _DAY
    if share >= enough or one.worth(now) >= DAMP_PACE * days:
        return share
    from dataclasses import replace  # slow to import, and few stand in damp air

    dried = replace(one, paces=one.paces.by_deficit)
    return (share + _share(dried, dry_by, now, one.spread(now))) / 2


def _share(one: OnBoard, dry_by: DryBy, now: datetime, spread: float) -> float:
    by_now = dry_by(one.progress(now), spread)
    if not one.tests:
        return by_now
    then = dry_by(one.progress(one.tests[-1].tested_at), spread)
    return (by_now - then) / (1 - then) if then < 1 else 0.0


def _dried(one: OnBoard, lessons: Lessons | None) -> tuple[DryBy, bool]:
    """Return the share dry by a progress, and whether the room's own tests say so."""
    if lessons is not None and one.room is not None:
        from scheduler.learning.witness import drier_of, stoutness  # most records have no lessons

        lesson = lessons.rooms.get(drier_of(one.specimen, one.room.room))
        if lesson is not None and lesson.speaks_for(stoutness(one.body_mm, one.rules)):
            return lesson.taught.posterior.dry_by, lesson.taught.enough
    return partial(_dry_of_any, one.rules), False


def _dry_of_any(rules: Rulebook, progress: float, spread: float) -> float:
    """Return the share dry by a progress where no test says anything: the table's, with doubt."""
    limit = rules.limit
    doubt = math.hypot(limit("learn_person"), limit("learn_room"), limit("learn_own"), spread)
    return (1 + math.erf(math.log(max(progress, _HAIR)) / doubt / math.sqrt(2))) / 2
