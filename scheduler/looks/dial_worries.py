"""What a room's dial reads, compared with what was said of the room, and its danger of mould."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from scheduler.looks.worry import Worry
from scheduler.view import View
from scheduler.words import wording
from scheduler.words.records import Dial, Room

_DAYS_READ = 4
"""With readings on fewer days it may be only a spell of weather."""
_FAR_OFF_PCT = 10.0
"""A mean that is further from what was said is told; our own judgement, no source."""
_SEASON = timedelta(days=60)


def said_otherwise(view: View, room: Room) -> Iterator[Worry]:
    """Yield a worry when the dial reads far from what is said to be usual: dates rest on both."""
    read = _read_lately(view, room, _SEASON)
    if room.rh_pct is None or len({view.wall(d.read_at).date() for d in read}) < _DAYS_READ:
        return
    mean = sum(d.rh_pct for d in read) / len(read)
    off = mean - room.rh_pct
    if abs(off) <= _FAR_OFF_PCT:
        return
    drier = "later than told" if off > 0 else "earlier than told"
    text = (
        f"{room.room} is said to have {room.rh_pct:.3g} %, but its dial was read {len(read)} times"
        f" in {_SEASON.days} days with {mean:.3g} % on average. What was said still counts, so "
        f"what stands there dries {drier}: correct what is usual there"
    )
    yield Worry(
        "said otherwise", (room.room,), text, f"wingrest amend {room.room} rh_pct={mean:.0f}"
    )


def believed_mean_pct(view: View, room: Room, hours: float) -> float | None:
    """Return the mean humidity [%] believed of the last hours, None where too little was read.

    The dial must have been read on two days of that time, so that more than one moment counts.
    """
    drying = view.paces.of(room)
    read = _read_lately(view, room, timedelta(hours=hours))
    if drying is None or len({view.wall(d.read_at).date() for d in read}) < 2:
        return None
    today, days = view.wall(view.now).date(), round(hours / 24)
    return sum(drying.air_on(today - timedelta(days=n)).rh_pct for n in range(days)) / days


def damp_by_dial(room: Room, mean_pct: float, hours: float) -> str:
    """Return the beginning of a sentence about a mean that only a dial's readings give."""
    days = wording.counted(round(hours / 24), "day")
    return f"{room.room}, by its dial, had about {mean_pct:.3g} % over {days}"


def _read_lately(view: View, room: Room, span: timedelta) -> list[Dial]:
    return [d for d in view.facts.dials_of(room.room, view.now - span) if d.read_at <= view.now]
