"""The air of a room now, for those who ask whether anything may come off there.

The mean of the last hours that a logger measured; else what a dial said in the last days; else
what is assumed. Judged on the measured humidity: what counts for drying stands beside it.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from scheduler.air.known import assumed_pct, room_air
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import Rulebook
from scheduler.words import wording
from scheduler.words.records import Dial, Room

How = Literal["measured", "dial", "assumed"]

SHOWN_COLDER_PCT = 0.5
"""So much more must the counting humidity be than the measured one to be worth a word."""


class Air(NamedTuple):
    """The air of a room and how anybody knows: `rh_pct` measured, `counts_pct` for drying.

    `at` (local, naive) is when the dial was read or when the last measured hour ended, for
    assumed air the end of the last hour ever known there. `hours` are those measured.
    """

    room: str
    regime: str
    rh_pct: float | None
    how: How = "assumed"
    temp_c: float | None = None
    counts_pct: float | None = None
    at: datetime | None = None
    hours: int = 0

    def __str__(self) -> str:
        if self.regime != "room":
            return f"{self.room} ({self.regime})"
        if self.rh_pct is None:
            return f"{self.room} (air unknown)"
        return f"{self.room} {self.said}"

    @property
    def said(self) -> str:
        """Return the humidity in words: how cold, how anybody knows, since when."""
        assert self.rh_pct is not None
        words = f"{self.rh_pct:.3g} %"
        if (
            self.temp_c is not None
            and self.counts_pct is not None
            and self.counts_pct - self.rh_pct >= SHOWN_COLDER_PCT
        ):
            words += f" at {self.temp_c:.3g} °C, counts as {self.counts_pct:.3g} %,"
        return f"{words} {self._how_said()}"

    def _how_said(self) -> str:
        if self.at is None:
            return "assumed"
        when = wording.moment(self.at)
        if self.how == "measured":
            return f"measured (mean of {self.hours} h to {when})"
        return f"by the dial (read {when})" if self.how == "dial" else f"assumed (known to {when})"

    @property
    def unread(self) -> bool:
        """Say whether nobody has measured lately what ordinary air there is."""
        return self.regime == "room" and self.how == "assumed"


def air_now(room: Room, snap: Snapshot, rules: Rulebook, now: datetime) -> Air:
    """Return the air of a room at a moment.

    A logger's hours of the last `take_off_window_hours` count as their mean; when the latest
    that is known is a dial, its value counts for `dial_valid_days`.
    """
    local = snap.wall(now)
    known = room_air(room.room, snap, rules)
    if known is None:
        return _assumed(room, None)
    here = known.at(local)
    if here is not None and here[3] == "dial":
        rh_pct, counts_pct, temp_c, _ = here
        at = snap.wall(_last_dial(room, snap, now).read_at)
        return Air(room.room, room.regime, rh_pct, "dial", temp_c, counts_pct, at)
    window = rules.limit("take_off_window_hours")
    logged = known.covered(local - timedelta(hours=window), local)["logger"]
    mean = known.recent(local, window) if logged else None
    if mean is None:
        return _assumed(room, known.last_before(local))
    return Air(
        room.room,
        room.regime,
        mean.rh_pct,
        "measured",
        mean.temp_c,
        mean.counting_pct,
        min(mean.last, local),
        mean.hours,
    )


def _assumed(room: Room, known_to: datetime | None) -> Air:
    counts = assumed_pct(room)
    return Air(room.room, room.regime, room.rh_pct, "assumed", room.temp_c, counts, known_to)


def _last_dial(room: Room, snap: Snapshot, now: datetime) -> Dial:
    # The hour it was read in counts whole, so it may have been read minutes after now.
    read = [d for d in snap.dials if d.room == room.room and d.read_at < now + timedelta(hours=1)]
    return max(read, key=lambda d: d.read_at)
