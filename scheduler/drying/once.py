"""What a room's air does, worked out once for as long as nothing changes that it follows from.

One command looks at the record before and after what it records, and a server looks again at every
tap; most taps change no air. Each look reads the air anew, and only where all of it is the same to
the last hour are the earlier sums taken. So what is kept here cannot be of yesterday's air.
"""

from __future__ import annotations

from collections import deque
from datetime import date

from scheduler.air.belief import Process
from scheduler.air.room_air import RoomAir
from scheduler.drying.law import Law, SteadyAir
from scheduler.drying.sums import KeptDays, RoomDrying
from scheduler.rulebook import Rulebook
from scheduler.words.tuples import NamedTuple

ROOMS_KEPT = 16
"""A year of hourly air takes 3 MB with what follows from it, 9 if every hour is asked about."""


class MadeOf(NamedTuple):
    """All that the drying of a room follows from besides the rules; see `RoomDrying`."""

    days: KeptDays
    recalled: date
    assumed: SteadyAir | None
    process: Process
    air: RoomAir


_kept: deque[tuple[Rulebook, MadeOf, RoomDrying]] = deque(maxlen=ROOMS_KEPT)


def room_drying(law: Law, of: MadeOf) -> RoomDrying:
    """Return what a room's air does to bodies; the same object for the same rules and air."""
    for rules, made_of, drying in tuple(_kept):
        if rules is law.rules and made_of == of:
            return drying
    made = RoomDrying(of.air, law, of.assumed, of.process, of.days, of.recalled)
    _kept.appendleft((law.rules, of, made))
    return made
