"""How fast bodies dry in the rooms of a record, measured or not; each result computed once."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

from scheduler.drying.law import (
    ORDINARY,
    AskedOfTable,
    Law,
    SteadyAir,
    assumed_air,
    at_days,
    time_in_air,
)
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words.records import Room, Specimen
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.air.belief import Process
    from scheduler.air.room_air import RoomAir
    from scheduler.drying.amounts import Drying
    from scheduler.drying.sums import RoomDrying, Side

_DAY = timedelta(days=1)
_MARGIN = timedelta(days=2)
"""A date may begin in another hour than the stretch of which it is the end."""


class Horizon(NamedTuple):
    """The dates between which a record asks about air: its first mounting, the last it names."""

    first: date
    last: date


class Paces:
    """How fast bodies dry in every room, by the air that `air_of` knows.

    `horizon` bounds what is kept at hand beside everything measured; it changes no answer.
    """

    def __init__(
        self, rules: Rulebook, air_of: Callable[[str], RoomAir | None], horizon: Horizon
    ) -> None:
        self.rules = rules
        self.horizon = horizon
        self._air_of = air_of
        self._law = Law(rules)
        self._rooms: dict[Room, RoomDrying | None] = {}
        self._times: dict[tuple[object, ...], BoardTime] = {}
        self._needs: dict[AskedOfTable, tuple[float, float]] = {}

    @cached_property
    def by_deficit(self) -> Paces:
        """Return the paces as if damp air slowed bodies no more than its deficit does."""
        return Paces(self.rules.by_deficit, self._air_of, self.horizon)

    def of(self, room: Room) -> RoomDrying | None:
        """Return what a room's measured air does to bodies, None where nothing was measured."""
        if room not in self._rooms:
            self._rooms[room] = self._drying(room)
        return self._rooms[room]

    def drying(self, room: Room, body_mm: float, side: Side = "believed") -> Drying | None:
        """Return what a room's air does to a body [mm]; None where nobody knows the air.

        side: the air as believed, or a standard deviation of the belief to one side of it.
        """
        from scheduler.drying.amounts import SteadyDrying

        measured = self.of(room)
        if measured is not None:
            return measured.of(body_mm, side)
        air = assumed_air(room, self.rules)
        return air and SteadyDrying(self._law.pace(body_mm, self._moved(air, side)))

    def need(self, specimen: Specimen, body_mm: float) -> tuple[float, float]:
        """Return the table's days at 20 deg C and 50 %: the minimum, and those for planning."""
        asked = self._asked(specimen, body_mm)
        if asked not in self._needs:
            days = self.rules.at_50(**asked._asdict())
            self._needs[asked] = days.min_days, days.plan_days
        return self._needs[asked]

    def time_in(self, specimen: Specimen, body_mm: float, room: Room) -> BoardTime:
        """Return the table's answer for a specimen in the air that a room is expected to have.

        In a measured room that is the air believed from the end of what is known.
        """
        asked = self._asked(specimen, body_mm)
        if (asked, room) not in self._times:
            self._times[asked, room] = self._time_in(asked, room)
        return self._times[asked, room]

    def ordinary_time(self, specimen: Specimen, body_mm: float) -> BoardTime:
        """Return the table's answer at 20 deg C and 50 %."""
        return time_in_air(self.rules, self._asked(specimen, body_mm), ORDINARY)

    def _asked(self, specimen: Specimen, body_mm: float) -> AskedOfTable:
        return AskedOfTable(self.rules.kin(specimen).row.family, body_mm, specimen.state)

    def _time_in(self, asked: AskedOfTable, room: Room) -> BoardTime:
        measured = self.of(room)
        if measured is None:
            return time_in_air(self.rules, asked, assumed_air(room, self.rules))
        begin, body = measured.air.end, measured.of(asked.body_mm)
        longest = math.ceil(self.rules.limit("longest_days"))

        def days(worth: float) -> float:
            """Return the days from the end of what is known until the air was worth so many."""
            whole = body.whole_days(begin, worth, longest)
            if not whole:
                return math.inf if whole is None else 0.0
            had = body.between(begin, begin + (whole - 1) * _DAY)
            in_last = body.between(begin, begin + whole * _DAY) - had
            return whole - 1 + (worth - had) / in_last

        return at_days(self.rules, asked, days, measured.air_on(begin.date()))

    def _drying(self, room: Room) -> RoomDrying | None:
        air = self._air_of(room.room)
        if air is None:
            return None
        from scheduler.drying.once import MadeOf, room_drying
        from scheduler.drying.sums import KeptDays

        ahead = timedelta(days=self.rules.limit("longest_days")) + _MARGIN
        first, last = self.horizon
        known = (air.end - timedelta(hours=1)).date()
        days = KeptDays(min(air.first, first), max(known, last) + ahead)
        assumed = assumed_air(room, self.rules)
        of = MadeOf(days, last + ahead, assumed, self._process(), air)
        return room_drying(self._law, of)

    def _process(self) -> Process:
        from scheduler.air.belief import Process

        return Process(*(self.rules.limit(f"air_{name}") for name in Process._fields))

    def _moved(self, air: SteadyAir, side: Side) -> SteadyAir:
        """Return assumed air a spread to one side; the spread is that of a room never read."""
        if side == "believed":
            return air
        spread = self.rules.limit("air_unread_pct")
        moved = air.rh_pct + (spread if side == "damper" else -spread)
        return air._replace(rh_pct=min(100.0, max(0.0, moved)))
