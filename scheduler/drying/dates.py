"""How dry a specimen is, when it is due and when its slot counts on being clear.

Progress is additive: every wall-clock hour in air that would dry the specimen in d days adds
1 / (24 d). The day of mounting counts whole, as on the strip beside the specimen, so that
constant air gives the mounting date plus the table's days. Measured hours count as measured,
gaps and what lies ahead as `room_drying` says. Due and clear depend on the record alone, never
on the clock.
"""

from __future__ import annotations

import math
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, NamedTuple

from scheduler.air.known import assumed_pct, room_drying
from scheduler.drying import fit
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words.records import Placement, Regime, Room, Specimen

if TYPE_CHECKING:
    from scheduler.drying.sums import BodyDrying

_HAIR = 1e-9
"""Sums of many hours miss 1 by a few units in the last place; a date must not slip for it."""

_ANY = datetime(2000, 1, 1)  # noqa: DTZ001 - local wall-clock moments carry no zone
"""A beginning for a stretch of which only the days on the table are asked."""

ORDINARY_RH_PCT = 50.0
"""The air at which the days of the rule table hold."""


class Dates(NamedTuple):
    """`due`: test from this date on; `clear`: the plan counts on the slot. None: no promise."""

    due: date | None
    clear: date | None


class Stretch(NamedTuple):
    """One room from `begin` (included) to `end` (excluded; None: for good), local time.

    `time` is the table's answer for the room's expected air; `at_50` the one for ordinary
    air, by which measured hours are counted. `measured` is None where nothing was measured.
    """

    begin: datetime
    end: datetime | None
    room: Room
    time: BoardTime
    at_50: BoardTime
    measured: BodyDrying | None


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
    key = ("stretches", placement.id or placement, id(rules))
    if key not in snap.memo:
        snap.memo[key] = _stretches(placement, snap, rules)
    found: tuple[Stretch, ...] = snap.memo[key]
    return found


def _stretches(placement: Placement, snap: Snapshot, rules: Rulebook) -> tuple[Stretch, ...]:
    board = snap.boards[placement.board]
    specimen = snap.specimens[placement.specimen]
    body_mm = body_on_board(specimen, board.groove_mm, rules).body_mm
    begin = datetime.combine(placement.mounted_on, time())
    stays = [(snap.wall(stay.since), snap.rooms[stay.room]) for stay in snap.stays_of(board.board)]
    found: list[Stretch] = []
    for index, (since, room) in enumerate(stays):
        until = stays[index + 1][0] if index + 1 < len(stays) else None
        if until is not None and until <= begin:
            continue
        found.append(_stretch(max(since, begin), until, specimen, body_mm, room, snap, rules))
    return tuple(found)


def time_in(
    specimen: Specimen, body_mm: float, room: Room, snap: Snapshot, rules: Rulebook
) -> BoardTime:
    """Return the rule table's answer for a specimen in a room's expected air."""
    return _stretch(_ANY, None, specimen, body_mm, room, snap, rules).time


def table_time(
    specimen: Specimen, body_mm: float, regime: Regime, rh_pct: float | None, rules: Rulebook
) -> BoardTime:
    """Return the rule table's answer for a specimen in steady air [%]."""
    return rules.board_time(
        family=rules.family(specimen.family, specimen.group).family,
        body_mm=body_mm,
        state=specimen.state,
        regime=regime,
        rh_pct=rh_pct,
    )


def _stretch(
    begin: datetime,
    end: datetime | None,
    specimen: Specimen,
    body_mm: float,
    room: Room,
    snap: Snapshot,
    rules: Rulebook,
) -> Stretch:
    # Many stand alike: what is alike to the rules is answered once.
    alike = (room, body_mm, specimen.family, specimen.group, specimen.state, id(rules))
    if alike not in snap.memo:
        snap.memo[alike] = _times(specimen, body_mm, room, snap, rules)
    return Stretch(begin, end, room, *snap.memo[alike])


def _times(
    specimen: Specimen, body_mm: float, room: Room, snap: Snapshot, rules: Rulebook
) -> tuple[BoardTime, BoardTime, BodyDrying | None]:
    """Return the days in a room's expected air, those measured hours count by, and the sums."""
    drying = room_drying(room, snap, rules) if room.regime == "room" else None
    if drying is None:
        time = table_time(specimen, body_mm, room.regime, assumed_pct(room), rules)
        return time, time, None
    body = drying.of(body_mm)
    expected = drying.expected_pct
    at_50 = table_time(specimen, body_mm, "room", ORDINARY_RH_PCT, rules)
    air = assumed_pct(room) if expected is None else expected
    named = table_time(specimen, body_mm, "room", air, rules)
    least = rules.limit("least_days_dried")
    return _at_rate(at_50, named, body.expected_rate, least, specimen), at_50, body


def _at_rate(
    at_50: BoardTime, named: BoardTime, rate: float, least_days: float, specimen: Specimen
) -> BoardTime:
    """Return the days at a measured rate, with the rows and words of the air nearest to it."""
    if not rate or at_50.min_days_exact is None or at_50.plan_days_exact is None:
        return named._replace(
            min_days=None, plan_days=None, min_days_exact=None, plan_days_exact=None
        )
    least = least_days if specimen.state == "dried" else 0.0
    min_days = max(at_50.min_days_exact / rate, least)
    plan_days = max(at_50.plan_days_exact / rate, least)
    return named._replace(
        min_days=math.ceil(min_days - _HAIR),
        plan_days=math.ceil(plan_days - _HAIR),
        min_days_exact=min_days,
        plan_days_exact=plan_days,
    )


def standing_dates(placement: Placement, snap: Snapshot, rules: Rulebook) -> Dates:
    """Return due and clear of a placement, moved by its latest soft test."""
    key = ("dates", placement.id or placement, id(rules))
    if key not in snap.memo:
        snap.memo[key] = dates_if(placement, snap, rules, None)
    found: Dates = snap.memo[key]
    return found


def dates_if(placement: Placement, snap: Snapshot, rules: Rulebook, onward: float | None) -> Dates:
    """Return due and clear if the room where it stands went on at another rate.

    onward: the rate after the room's last known hour; None: the one expected.
    """
    air = stretches(placement, snap, rules)
    due, clear = _reached(air, "min", onward), _reached(air, "plan", onward)
    if snap.specimens[placement.specimen].state == "dried":
        days = math.ceil(rules.limit("least_days_dried") - _HAIR)
        least = placement.mounted_on + timedelta(days=days)
        due, clear = _not_before(due, least), _not_before(clear, least)
    again = _test_again(placement, snap, rules)
    if again is not None:
        due, clear = _not_before(due, again), _not_before(clear, again)
    return Dates(due, clear)


def _not_before(day: date | None, least: date) -> date | None:
    return None if day is None else max(day, least)


def progress(placement: Placement, snap: Snapshot, rules: Rulebook, at: datetime) -> float:
    """Return how much of the minimum board time has passed at a moment, 0 to 1 and beyond."""
    moment = snap.wall(at)
    total = 0.0
    for s in stretches(placement, snap, rules):
        end = moment if s.end is None else min(s.end, moment)
        if end > s.begin:
            total += _share(s, end, "min")
    return total


def _share(s: Stretch, end: datetime, which: str) -> float:
    """Return the share of the days that a stretch was worth up to a moment in it."""
    days = _days(s, which)
    if days is None:
        return 0.0
    if s.measured is not None:
        return s.measured.between(s.begin, end) / days
    return (end - s.begin) / timedelta(days=days)


def _days(s: Stretch, which: str) -> float | None:
    time = s.time if s.measured is None else s.at_50
    return time.min_days_exact if which == "min" else time.plan_days_exact


def _reached(air: tuple[Stretch, ...], which: str, onward: float | None) -> date | None:
    """Return the first date at whose beginning the sum of shares has reached 1, else None."""
    left = 1.0
    for s in air:
        days = _days(s, which)
        if days is None:
            continue
        found = _crossing(s, days, left, onward if s.end is None else None)
        if found is not None or s.end is None:
            return found
        left -= _share(s, s.end, which)
    return None


def _crossing(s: Stretch, days: float, left: float, onward: float | None) -> date | None:
    """Return the date on which what is left of the days is reached in a stretch, else None."""
    if s.measured is not None:
        return s.measured.first_morning(s.begin, s.end, left * days, onward)
    if s.end is not None and (s.end - s.begin) / timedelta(days=days) < left - _HAIR:
        return None
    return _first_morning(s.begin + timedelta(days=left * days))


def _test_again(placement: Placement, snap: Snapshot, rules: Rulebook) -> date | None:
    """Return the date of the next test when the latest one was soft."""
    tests = snap.tests_of(placement.id)
    if not tests or tests[-1].verdict == "stiff":
        return None
    board = snap.boards[placement.board]
    body = body_on_board(snap.specimens[placement.specimen], board.groove_mm, rules).body_mm
    return snap.wall(tests[-1].tested_at).date() + timedelta(days=rules.recheck_days(body))


def _first_morning(moment: datetime) -> date:
    """Return the date of the first 00:00 at or after a wall-clock moment, within a hair."""
    # The rule table rounds its days up within the same hair.
    moment -= timedelta(days=_HAIR)
    return moment.date() + timedelta(days=1)
