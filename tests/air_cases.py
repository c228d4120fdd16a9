"""Records of rooms whose air was measured, for the tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from bench_cases import local

from scheduler.air.belief import Belief
from scheduler.air.hours import Hours
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Dial

Air = tuple[float | None, float | None]
"""Humidity [%] and temperature [deg C] of a day or an hour; None: not read."""

MILD = 20.0


def logged(
    snap: Snapshot, room: str, first: date, days: Sequence[float | Air | Sequence[Air]]
) -> Snapshot:
    """The record with a logger's days from `first` on: a humidity, an air, or 24 of them each."""
    found: dict[date, bytes] = dict(snap.air_days.get(room, {}))
    for n, day in enumerate(days):
        hours = _hours(day)
        packed = Hours.of([rh for rh, _ in hours], [temp for _, temp in hours]).packed
        found[first + timedelta(days=n)] = packed
    return replace(snap, air_days={**snap.air_days, room: found})


def _hours(day: float | Air | Sequence[Air]) -> Sequence[Air]:
    if isinstance(day, (int, float)):
        return [(day, MILD)] * 24
    if isinstance(day, tuple):
        return [day] * 24
    return day


def dialled(
    snap: Snapshot, room: str, values: Mapping[str, float | tuple[float, float]]
) -> Snapshot:
    """The record with values read off a dial: local moment -> humidity, or with temperature."""
    more = []
    for moment, value in values.items():
        rh_pct, temp_c = value if isinstance(value, tuple) else (value, None)
        more.append(Dial(room, local(moment), rh_pct, temp_c))
    return replace(snap, dials=(*snap.dials, *more))


def looked(snap: Snapshot, moment: str) -> Snapshot:
    """The record after somebody looked at every dial: it shows what is said of the room."""
    for room in snap.rooms.values():
        if room.regime == "room" and room.rh_pct is not None:
            value = room.rh_pct if room.temp_c is None else (room.rh_pct, room.temp_c)
            snap = dialled(snap, room.room, {moment: value})
    return snap


def midnight(text: str) -> datetime:
    """00:00 of a date in Berlin."""
    return local(f"{text}T00:00")


def usual_of(belief: Belief, seen: Sequence[float], said: float | None) -> float:
    """The usual figure of a belief, with what is seen on every day weighed anew."""
    weights = belief.weights_of_usual()
    told = (one * value for one, value in zip(weights, seen, strict=True) if one)
    return belief.usual_from(sum(told), said)
