"""What the tests of one specimen say of its room: its progress recomputed from the record.

Pure. The percentage that was noted at the test is not used: rules, air and loggers may have been
corrected since then, and what was undone is not in the record.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from scheduler.drying.dates import worth
from scheduler.drying.on_board import OnBoard
from scheduler.learning.posterior import DryBetween
from scheduler.learning.taught import Judged
from scheduler.rulebook import Rulebook
from scheduler.words.records import SIZE_CLASSES, DrynessTest, Specimen
from scheduler.words.tuples import NamedTuple

MOSTLY = 2 / 3
"""A specimen that dried in several rooms tells of the one in which it had this share or more."""


class Drier(NamedTuple):
    """A room, either for fresh specimens or for softened ones: these differ in how they dry."""

    room: str
    softened: bool

    @property
    def said(self) -> str:
        """Return the room as a person reads it."""
        return f"{self.room}, softened again" if self.softened else self.room


class Witness(NamedTuple):
    """What is known of one tested specimen: where, and how stout (the number of its size class).

    It stood there from `since` to `last`; `unread` is the standard deviation of its ln progress by
    the air, where nobody ever read it in this room, and 0 elsewhere.
    """

    specimen: str
    drier: Drier
    stoutness: int
    since: datetime
    last: datetime
    unread: float
    found: Judged


def drier_of(specimen: Specimen, room: str) -> Drier:
    """Return the room and the kind of specimens that a specimen's tests speak for."""
    return Drier(room, specimen.state == "dried")


def stoutness(body_mm: float, rules: Rulebook) -> int:
    """Return the number of a body's class: 0 slender, 1 medium, 2 stout, 3 very stout."""
    below = [body_mm < rules.body_of_size(size).value for size in SIZE_CLASSES[:-1]]
    return below.index(True) if True in below else len(below)


def witness_of(one: OnBoard, drooped: bool) -> Witness | None:
    """Return what a specimen's tests say, None where they say nothing.

    What drooped off its board was not dry when it came off, however stiff it seemed. Nothing is
    learned when nobody knew the air, or when no room had most of the drying (`MOSTLY`).
    """
    off = one.placement.released_at
    last = off if drooped and off else (one.tests[-1].tested_at if one.tests else None)
    room = None if last is None else _room(one, last)
    if last is None or room is None:
        return None
    above, below = _between(one, one.tests)
    if drooped:
        above, below = max(above, one.progress(last)), math.inf
    interval = DryBetween(above, below, one.spread(last))
    return Witness(
        one.specimen.specimen,
        drier_of(one.specimen, room),
        stoutness(one.body_mm, one.rules),
        one.placement.mounted_at,
        last,
        one.air_spread(last) if _never_read(one, room) else 0.0,
        Judged(interval, drooped),
    )


def _between(one: OnBoard, tests: Sequence[DrynessTest]) -> tuple[float, float]:
    """Return the progress of the last soft test (0: none) and of the first stiff one after it."""
    above, below = 0.0, math.inf
    for test in tests:
        progress = one.progress(test.tested_at)
        if test.verdict == "soft":
            above, below = max(above, progress), math.inf
        else:
            below = min(below, progress)
    return above, below


def _never_read(one: OnBoard, room: str) -> bool:
    return all(one.paces.of(there) is None for _, there in one.stays if there.room == room)


def _room(one: OnBoard, until: datetime) -> str | None:
    """Return the room that had most of its drying up to a moment (`MOSTLY`), None without one."""
    wall = until.astimezone(one.zone).replace(tzinfo=None)
    had: dict[str, float] = {}
    for stretch in one.air:
        if stretch.begin < wall:
            if stretch.drying is None:
                return None
            room = stretch.room.room
            had[room] = had.get(room, 0.0) + worth([stretch], wall)
    total = sum(had.values())
    return next((room for room, part in had.items() if total and part >= MOSTLY * total), None)
