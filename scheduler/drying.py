"""How dry a specimen is, when it is due and when its slot counts on being clear.

Progress is additive: every wall-clock hour in air that would dry the specimen in d days adds
1 / (24 d). The day of mounting counts whole, as on the strip beside the specimen, so that
constant air gives the mounting date plus the table's days. Due and clear depend on the record
alone, never on the clock.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from scheduler import fit
from scheduler.records import Placement, Room, Specimen
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.snapshot import Snapshot

_HAIR = 1e-9
"""Sums of many hours miss 1 by a few units in the last place; a date must not slip for it."""


class Dates(NamedTuple):
    """`due`: test from this date on; `clear`: the plan counts on the slot. None: no promise."""

    due: date | None
    clear: date | None


class Stretch(NamedTuple):
    """Constant air from `begin` (included) to `end` (excluded; None: for good), local time."""

    begin: datetime
    end: datetime | None
    room: Room
    time: BoardTime


def body_on_board(specimen: Specimen, groove_mm: float, rules: Rulebook) -> fit.Size:
    """Return the size of a mounted specimen; unknown bodies count as thick as the groove."""
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


def stretches(placement: Placement, snap: Snapshot, rules: Rulebook) -> tuple[Stretch, ...]:
    """Return the air a placement has stood and will stand in, room by room.

    The first stretch begins at 00:00 of the mounting date; the last has no end. Moments are
    naive local wall-clock times, so a day has 24 hours also when the clocks change.
    """
    board = snap.boards[placement.board]
    specimen = snap.specimens[placement.specimen]
    body_mm = body_on_board(specimen, board.groove_mm, rules).body_mm
    begin = datetime.combine(placement.mounted_on, time())
    stays = [
        (_wall(snap, stay.since), snap.rooms[stay.room]) for stay in snap.stays_of(board.board)
    ]
    found: list[Stretch] = []
    for index, (since, room) in enumerate(stays):
        until = stays[index + 1][0] if index + 1 < len(stays) else None
        if until is not None and until <= begin:
            continue
        answer = time_in(specimen, body_mm, room, rules)
        found.append(Stretch(max(since, begin), until, room, answer))
    return tuple(found)


def time_in(specimen: Specimen, body_mm: float, room: Room, rules: Rulebook) -> BoardTime:
    """Return the rule table's answer for a specimen in a room's assumed air."""
    return rules.board_time(
        family=rules.family(specimen.family, specimen.group).family,
        body_mm=body_mm,
        state=specimen.state,
        regime=room.regime,
        rh_pct=room.rh_pct,
    )


def standing_dates(placement: Placement, snap: Snapshot, rules: Rulebook) -> Dates:
    """Return due and clear of a placement, moved by its latest soft test."""
    air = stretches(placement, snap, rules)
    due = _reached([(s.begin, s.end, s.time.min_days_exact) for s in air])
    clear = _reached([(s.begin, s.end, s.time.plan_days_exact) for s in air])
    again = _test_again(placement, snap, rules)
    if again is not None:
        due = None if due is None else max(due, again)
        clear = None if clear is None else max(clear, again)
    return Dates(due, clear)


def progress(placement: Placement, snap: Snapshot, rules: Rulebook, at: datetime) -> float:
    """Return how much of the minimum board time has passed at a moment, 0 to 1 and beyond."""
    moment = _wall(snap, at)
    total = 0.0
    for s in stretches(placement, snap, rules):
        end = moment if s.end is None else min(s.end, moment)
        if s.time.min_days_exact and end > s.begin:
            total += (end - s.begin) / timedelta(days=s.time.min_days_exact)
    return total


def _wall(snap: Snapshot, moment: datetime) -> datetime:
    return snap.local(moment).replace(tzinfo=None)


def _test_again(placement: Placement, snap: Snapshot, rules: Rulebook) -> date | None:
    """Return the date of the next test when the latest one was soft."""
    tests = snap.tests_of(placement.id)
    if not tests or tests[-1].verdict == "stiff":
        return None
    board = snap.boards[placement.board]
    body = body_on_board(snap.specimens[placement.specimen], board.groove_mm, rules).body_mm
    return _wall(snap, tests[-1].tested_at).date() + timedelta(days=rules.recheck_days(body))


def _reached(air: Sequence[tuple[datetime, datetime | None, float | None]]) -> date | None:
    """Return the first date at whose beginning the sum of shares has reached 1, else None."""
    left = 1.0
    for begin, end, days in air:
        if days is None:
            continue
        share = math.inf if end is None else (end - begin) / timedelta(days=days)
        if share < left - _HAIR:
            left -= share
            continue
        return _first_morning(begin + timedelta(days=left * days))
    return None


def _first_morning(moment: datetime) -> date:
    """Return the date of the first 00:00 at or after a wall-clock moment, within a hair."""
    # The rule table rounds its days up within the same hair.
    moment -= timedelta(days=_HAIR)
    return moment.date() + timedelta(days=1)
