"""How dry a specimen is, when it is due, and when the plan counts on its slot (clear).

Progress is additive: every wall-clock hour since the hour of mounting counts with its pace, 24 a
day. Due and clear are the dates on which the table's days are reached, counted in whole days from
the mounting, so that constant air gives the mounting date plus the table's days. They depend on the
record alone, never on the clock.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from scheduler.drying import fit
from scheduler.rulebook import Rulebook
from scheduler.words.records import Room, Specimen
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.drying.amounts import Drying

_HAIR = 1e-9
"""Sums of many hours miss 1 by a few units in the last place; that must not move a date."""

_DAY = timedelta(days=1)

MOST_SPREAD = 0.5
"""The largest spread of ln progress by the air; also taken where it may dry nothing at all."""


class Dates(NamedTuple):
    """`due`: test from this date on; `clear`: the plan counts on the slot. None: no such date."""

    due: date | None
    clear: date | None


class DateSpan(NamedTuple):
    """The dates between which a date lies, both included; None: no such date is in sight."""

    earliest: date | None
    latest: date | None


class Stretch(NamedTuple):
    """One room from `begin` (included) to `end` (excluded; None: for good), local time.

    `drying` is what its air is worth to this body, None where nobody knows the air.
    """

    begin: datetime
    end: datetime | None
    room: Room
    drying: Drying | None


def body_on_board(specimen: Specimen, groove_mm: float, rules: Rulebook) -> fit.Size:
    """Return the size of a mounted specimen; an unknown body counts as thick as the groove."""
    size = fit.size_of(specimen, rules)
    if size is not None:
        return size
    return fit.Size(
        body_mm=groove_mm,
        wingspan_mm=0.0,
        body_length_mm=0.0,
        estimated=f"body taken as thick as the groove it was mounted in, {groove_mm:g} mm",
        basis="memory",
    )


def stretches(
    mounted: datetime,
    stays: Sequence[tuple[datetime, Room]],
    drying: Callable[[Room], Drying | None],
) -> tuple[Stretch, ...]:
    """Return the air in which a placement stood and will stand, room by room.

    `stays` are the rooms of its board, each since a local moment. The first stretch begins with the
    mounting; the last has no end. Moments are naive local wall-clock times, so a day has 24 hours
    also when the clocks change.
    """
    found: list[Stretch] = []
    for index, (since, room) in enumerate(stays):
        until = stays[index + 1][0] if index + 1 < len(stays) else None
        if until is None or until > mounted:
            found.append(Stretch(max(since, mounted), until, room, drying(room)))
    return tuple(found)


def dates_in(
    air: Sequence[Stretch],
    mounted_on: date,
    need: tuple[float, float],
    most: int,
    least: date | None = None,
) -> Dates:
    """Return due and clear of what has stood in `air` since it was mounted.

    need: the days at 20 deg C and 50 % that due and clear take; neither comes more than `most` days
    after the mounting (then it is None), nor before `least`.
    """
    due, clear = (_reached(air, mounted_on, worth, most) for worth in need)
    return Dates(_not_before(due, least), _not_before(clear, least))


def dried_least(mounted_on: date, rules: Rulebook) -> date:
    """Return the date before which nothing comes off that was dry when it was softened."""
    return mounted_on + timedelta(days=math.ceil(rules.limit("least_days_dried") - _HAIR))


def worth(air: Sequence[Stretch], moment: datetime) -> float:
    """Return the days at 20 deg C and 50 % that the air was worth up to a local moment."""
    total = 0.0
    for s in air:
        end = moment if s.end is None else min(s.end, moment)
        if end > s.begin and s.drying is not None:
            total += s.drying.between(s.begin, end)
    return total


def most_days(mounted: datetime, known: Iterable[datetime], longest_days: float) -> int:
    """Return the most days from a mounting for which a date is given.

    They end `longest_days` after the last moment of `known`; all moments are local.
    """
    return math.ceil((max((mounted, *known)) - mounted) / _DAY + longest_days)


def spread_of_air(drier: float, damper: float) -> float:
    """Return the standard deviation of ln progress, from the worth of drier and damper air."""
    if damper <= 0:
        return 0.0 if drier <= 0 else MOST_SPREAD
    return min(MOST_SPREAD, math.log(drier / damper) / 2)


def _not_before(day: date | None, least: date | None) -> date | None:
    return day if day is None or least is None else max(day, least)


def _reached(air: Sequence[Stretch], mounted_on: date, need: float, most: int) -> date | None:
    """Return the first whole day from the mounting by which the air was worth so much, or None."""
    left = need * (1 - _HAIR)
    for s in air:
        had = s.drying.between(s.begin, s.end) if s.drying and s.end else 0.0
        if s.drying and (s.end is None or had >= left):
            # Days count from the mounting, not from the move into this room.
            mounted = air[0].begin
            first = math.ceil((s.begin - mounted) / _DAY)
            before = s.drying.between(mounted, s.begin)
            days = s.drying.whole_days(mounted, before + left, most, min(first, most))
            return None if days is None else mounted_on + timedelta(days=days)
        left -= had
    return None
