"""How dry a specimen is, when it is due and when its slot counts on being clear.

Progress is additive: every wall-clock hour in air that would dry the specimen in d days adds
1 / (24 d). The day of mounting counts whole, as on the strip beside the specimen, so that
constant air gives the mounting date plus the table's days. Measured hours count as measured,
gaps and what lies ahead as `Paces.of` says. Due and clear depend on the record alone, never
on the clock.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, NamedTuple

from scheduler.air.known import assumed_pct
from scheduler.drying import fit
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words.records import Regime, Room, Specimen

if TYPE_CHECKING:
    from scheduler.air.room_air import RoomAir
    from scheduler.drying.sums import BodyDrying, Rates, RoomDrying

_HAIR = 1e-9
"""Sums of many hours miss 1 by a few units in the last place; a date must not slip for it."""

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
        spread=fit.BodyWidths(groove_mm / 2, groove_mm),
    )


class Times(NamedTuple):
    """What a room's air means for a body: as `Stretch` has it."""

    time: BoardTime
    at_50: BoardTime
    measured: BodyDrying | None


class Paces:
    """How fast bodies dry in every room, by the air that `air_of` knows; each reckoned once."""

    def __init__(self, rules: Rulebook, air_of: Callable[[str], RoomAir | None]) -> None:
        self.rules = rules
        self._air_of = air_of
        self._rates: Rates | None = None
        self._rooms: dict[Room, RoomDrying | None] = {}
        self._alike: dict[tuple[object, ...], Times] = {}

    def of(self, room: Room) -> RoomDrying | None:
        """Return what a room's measured air does to bodies, None where nothing was measured.

        Gaps count at the assumed air; every hour after the last one known at the mean rate of
        the last 14 logged days, or at the assumed air when less than half of them is known.
        """
        if room not in self._rooms:
            self._rooms[room] = self._drying(room)
        return self._rooms[room]

    def _drying(self, room: Room) -> RoomDrying | None:
        air = self._air_of(room.room)
        if air is None:
            return None
        from scheduler.drying.sums import Rates, RoomDrying

        if self._rates is None:
            self._rates = Rates(self.rules)
        return RoomDrying(air, self._rates, assumed_pct(room))

    def times(self, specimen: Specimen, body_mm: float, room: Room) -> Times:
        """Return the days in a room's expected air, those measured hours count by, and the sums.

        Many stand alike: what is alike to the rules is answered once.
        """
        family = self.rules.kin(specimen).row.family
        alike = (room, body_mm, family, specimen.state)
        if alike not in self._alike:
            self._alike[alike] = self._times(specimen, body_mm, room)
        return self._alike[alike]

    def _times(self, specimen: Specimen, body_mm: float, room: Room) -> Times:
        rules = self.rules
        drying = self.of(room) if room.regime == "room" else None
        if drying is None:
            time = table_time(specimen, body_mm, room.regime, assumed_pct(room), rules)
            return Times(time, time, None)
        body = drying.of(body_mm)
        expected = drying.expected_pct
        at_50 = table_time(specimen, body_mm, "room", ORDINARY_RH_PCT, rules)
        air = assumed_pct(room) if expected is None else expected
        named = table_time(specimen, body_mm, "room", air, rules)
        least = rules.limit("least_days_dried")
        return Times(_at_rate(at_50, named, body.expected_rate, least, specimen), at_50, body)


def stretches(
    mounted_on: date,
    stays: Sequence[tuple[datetime, Room]],
    times: Callable[[Room], Times],
) -> tuple[Stretch, ...]:
    """Return the air a placement has stood and will stand in, room by room.

    `stays` are the rooms of its board, each since a local moment. The first stretch begins at
    00:00 of the mounting date; the last has no end. Moments are naive local wall-clock times,
    so a day has 24 hours also when the clocks change.
    """
    begin = datetime.combine(mounted_on, time())
    found: list[Stretch] = []
    for index, (since, room) in enumerate(stays):
        until = stays[index + 1][0] if index + 1 < len(stays) else None
        if until is None or until > begin:
            found.append(Stretch(max(since, begin), until, room, *times(room)))
    return tuple(found)


def table_time(
    specimen: Specimen, body_mm: float, regime: Regime, rh_pct: float | None, rules: Rulebook
) -> BoardTime:
    """Return the rule table's answer for a specimen in steady air [%]."""
    return rules.board_time(
        family=rules.kin(specimen).row.family,
        body_mm=body_mm,
        state=specimen.state,
        regime=regime,
        rh_pct=rh_pct,
    )


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


def dates_in(
    air: Sequence[Stretch], least: date | None = None, onward: float | None = None
) -> Dates:
    """Return due and clear of what stands in `air`, neither before `least`.

    onward: the rate after the last room's last known hour; None: the one expected.
    """
    due, clear = _reached(air, "min", onward), _reached(air, "plan", onward)
    return Dates(_not_before(due, least), _not_before(clear, least))


def dried_least(mounted_on: date, rules: Rulebook) -> date:
    """Return the date before which nothing comes off that was dry when it was softened."""
    return mounted_on + timedelta(days=math.ceil(rules.limit("least_days_dried") - _HAIR))


def _not_before(day: date | None, least: date | None) -> date | None:
    return day if day is None or least is None else max(day, least)


def progress_in(air: Sequence[Stretch], moment: datetime) -> float:
    """Return how much of the minimum board time has passed at a local moment, 0 and beyond 1."""
    total = 0.0
    for s in air:
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


def _reached(air: Sequence[Stretch], which: str, onward: float | None) -> date | None:
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


def _first_morning(moment: datetime) -> date:
    """Return the date of the first 00:00 at or after a wall-clock moment, within a hair."""
    # The rule table rounds its days up within the same hair.
    moment -= timedelta(days=_HAIR)
    return moment.date() + timedelta(days=1)
