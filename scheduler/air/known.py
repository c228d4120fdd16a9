"""What was measured of the rooms' air, as a snapshot holds it; reckoned once per snapshot."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import Rulebook
from scheduler.words.records import Room

if TYPE_CHECKING:
    from scheduler.air.room_air import RoomAir
    from scheduler.drying.sums import RoomDrying


def assumed_pct(room: Room) -> float | None:
    """Return the humidity that counts [%] where nothing was measured, None when nobody knows."""
    if room.rh_pct is None or room.temp_c is None:
        return room.rh_pct
    from scheduler.air.hours import counting_pct

    return counting_pct(room.rh_pct, room.temp_c)


def room_air(room: str, snap: Snapshot, rules: Rulebook) -> RoomAir | None:
    """Return what was measured of a room's air, None when nothing was."""
    key = ("air", room)
    if key not in snap.memo:
        snap.memo[key] = _room_air(room, snap, rules)
    found: RoomAir | None = snap.memo[key]
    return found


def room_drying(room: Room, snap: Snapshot, rules: Rulebook) -> RoomDrying | None:
    """Return what a room's measured air does to bodies, None where nothing was measured.

    Gaps count at the assumed air; every hour after the last one known at the mean rate of the
    last 14 logged days, or at the assumed air when less than half of them is known.
    """
    key = ("drying", room.room, id(rules))
    if key not in snap.memo:
        air = room_air(room.room, snap, rules)
        if air is not None:
            from scheduler.drying.sums import Rates, RoomDrying

            rates = snap.memo.setdefault(("rates", id(rules)), Rates(rules))
            snap.memo[key] = RoomDrying(air, rates, assumed_pct(room))
        else:
            snap.memo[key] = None
    found: RoomDrying | None = snap.memo[key]
    return found


def _room_air(room: str, snap: Snapshot, rules: Rulebook) -> RoomAir | None:
    days = snap.air_days.get(room, {})
    dials = [d for d in snap.dials if d.room == room]
    if not days and not dials:
        return None
    from scheduler.air.hours import Dial, Hours
    from scheduler.air.room_air import room_air

    return room_air(
        {day: Hours(packed) for day, packed in days.items()},
        [Dial(snap.wall(d.read_at), d.rh_pct, d.temp_c) for d in dials],
        zone=snap.zone,
        dial_days=rules.limit("dial_valid_days"),
    )
