"""From the recorded readings of a room's air to those that count: all loggers, corrected."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from scheduler.record.snapshot import ByLogger, Snapshot
from scheduler.words.records import Dial

if TYPE_CHECKING:
    from scheduler.air.sensors import Offset

DIAL = "dial"
"""The name under which a room's dial is corrected; no logger may have it."""


def by_logger(db: sqlite3.Connection, room: str, since: date | None) -> ByLogger:
    """Return the packed hours of each of a room's loggers, uncorrected, from `since` on."""
    sql = "SELECT logger, day, hours FROM room_day WHERE room = ? AND day >= ? ORDER BY logger, day"
    found: dict[str, dict[date, bytes]] = {}
    for logger, day, hours in db.execute(sql, (room, "" if since is None else since.isoformat())):
        found.setdefault(logger, {})[date.fromisoformat(day)] = hours
    return found


def heard_in(room: str, loggers: ByLogger, facts: Snapshot) -> Mapping[date, bytes]:
    """Return the packed hours that count in a room: those of all its loggers, corrected."""
    if not loggers:
        return {}
    if len(loggers) == 1 and not any(o.room == room for o in facts.offsets):
        return next(iter(loggers.values()))
    from scheduler.air.sensors import heard

    offsets = {name: offsets_of(room, name, facts) for name in loggers}
    return heard(loggers, offsets, facts.counting_loggers.get(room))


def dials_right(dials: tuple[Dial, ...], facts: Snapshot) -> tuple[Dial, ...]:
    """Return the readings of dials as they count: corrected by what tests found."""
    if not any(o.sensor == DIAL for o in facts.offsets):
        return dials
    from scheduler.air.sensors import corrected

    offsets = {room: offsets_of(room, DIAL, facts) for room in {d.room for d in dials}}
    return tuple(
        d._replace(rh_pct=corrected(d.rh_pct, facts.wall(d.read_at), offsets[d.room]))
        for d in dials
    )


def offsets_of(room: str, sensor: str, facts: Snapshot) -> list[Offset]:
    """Return the corrections that tests found for a sensor, at local times, the earliest first."""
    from scheduler.air.sensors import Offset

    return [
        Offset(facts.wall(o.since), o.points)
        for o in facts.offsets
        if (o.room, o.sensor) == (room, sensor)
    ]
