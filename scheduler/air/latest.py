"""The air of a room now, for those who ask whether anything may come off there.

The mean of the last hours that a logger measured; else what a dial said in the last days; else
what is assumed. Judged on the measured humidity: what counts for drying stands beside it.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal, NamedTuple

from scheduler.air.known import Airs, assumed_pct
from scheduler.words import wording
from scheduler.words.records import Room

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


def air_now(room: Room, airs: Airs, at: datetime, hours: float) -> Air:
    """Return the air of a room at an aware moment.

    A logger's hours of the last `hours` count as their mean; when the latest that is known is
    a dial, its value counts as long as the room's air holds it.
    """
    now, known = airs.wall(at), airs.of(room.room)
    if known is None:
        return _assumed(room, None)
    here = known.at(now)
    if here is not None and here[3] == "dial":
        rh_pct, counts_pct, temp_c, _ = here
        read_at = airs.dial_read(room.room, at)
        return Air(room.room, room.regime, rh_pct, "dial", temp_c, counts_pct, read_at)
    logged = known.covered(now - timedelta(hours=hours), now)["logger"]
    mean = known.recent(now, hours) if logged else None
    if mean is None:
        return _assumed(room, known.last_before(now))
    return Air(
        room.room,
        room.regime,
        mean.rh_pct,
        "measured",
        mean.temp_c,
        mean.counting_pct,
        min(mean.last, now),
        mean.hours,
    )


def _assumed(room: Room, known_to: datetime | None) -> Air:
    counts = assumed_pct(room)
    return Air(room.room, room.regime, room.rh_pct, "assumed", room.temp_c, counts, known_to)
