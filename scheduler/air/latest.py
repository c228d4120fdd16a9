"""The air of a room now, for those who ask whether anything may come off there.

It is the damper of two: the latest reading and the mean of the last day (S2: never on a rainy day).
Where an ordinary room was not read for a day its air is only assumed. All of this is judged by the
measured humidity; the humidity that counts for drying is given beside it. A sealed box or a cabinet
need not be read every day: there the latest reading holds, however old it is.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Literal

from scheduler.air.hours import counting_pct
from scheduler.air.known import Airs
from scheduler.words import wording
from scheduler.words.records import Room
from scheduler.words.tuples import NamedTuple

_HOUR = timedelta(hours=1)

How = Literal["measured", "latest", "dial", "assumed"]

SHOWN_COLDER_PCT = 0.5
"""The counting humidity is mentioned when it is at least so many points above the measured one."""


class Air(NamedTuple):
    """The air of a room and how it is known: `rh_pct` is measured, `counts_pct` counts for drying.

    how: the mean of the last day (`measured`), a single reading that is damper or the only one
    (`latest` of a logger, or `dial`), or `assumed`. `at` (local, naive) is when the dial was read
    or when the last measured hour ended; for assumed air, the end of the last hour ever known
    there. `hours` are the measured hours behind a mean. `asked_on` is the local date of the
    question.
    """

    room: str
    regime: str
    rh_pct: float | None
    how: How = "assumed"
    temp_c: float | None = None
    counts_pct: float | None = None
    at: datetime | None = None
    hours: int = 0
    asked_on: date | None = None

    def __str__(self) -> str:
        if self.regime == "room":
            if self.rh_pct is None:
                return f"{self.room} (air unknown)"
            return f"{self.room} {self.said}"
        said = "" if self.how == "assumed" else f" {self.said}"
        return f"{self.room} ({self.regime}){said}"

    @property
    def said(self) -> str:
        """Return the humidity in words: how cold, how it is known and since when."""
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
        when = wording.moment(self.at, self.asked_on or self.at)
        if self.how == "measured":
            return f"measured (mean of {self.hours} h to {when})"
        if self.how == "latest":
            return f"measured (the hour to {when})"
        return f"by the dial (read {when})" if self.how == "dial" else f"assumed (known to {when})"

    @property
    def unread(self) -> bool:
        """Say whether this is an ordinary room whose air nobody measured within a day."""
        return self.regime == "room" and self.how == "assumed"

    @property
    def never_read(self) -> bool:
        """Say whether this is an ordinary room whose air nobody ever measured."""
        return self.unread and self.at is None

    def damper_than(self, limit_pct: float) -> bool:
        """Say whether the air is above a limit [%]; assumed air counts in ordinary rooms only."""
        said = self.regime == "room" or self.how != "assumed"
        return said and self.rh_pct is not None and self.rh_pct > limit_pct


def air_now(room: Room, airs: Airs, at: datetime, hours: float) -> Air:
    """Return the air of a room at an aware moment, judged by the last `hours` before it."""
    return _now(room, airs, at, hours)._replace(asked_on=airs.wall(at).date())


def _now(room: Room, airs: Airs, at: datetime, hours: float) -> Air:
    known, now = airs.of(room.room), airs.wall(at)
    latest = _latest(room, airs, at)
    if known is None or latest is None or latest.at is None:
        return _assumed(room, None)
    if room.regime == "room" and now - latest.at >= timedelta(hours=hours):
        return _assumed(room, latest.at)
    mean = known.recent(now, hours)
    if mean is None or mean.hours == 1 or (latest.rh_pct or 0.0) > mean.rh_pct:
        return latest
    until = min(mean.last, now)
    found = Air(room.room, room.regime, mean.rh_pct, "measured", mean.temp_c)
    return found._replace(counts_pct=mean.counting_pct, at=until, hours=mean.hours)


def _latest(room: Room, airs: Airs, at: datetime) -> Air | None:
    """Return the latest reading; a dial read in the logger's last hour counts as later."""
    known, now, dial = airs.of(room.room), airs.wall(at), airs.last_dial(room.room, at)
    logged = known.last_before(now, "logger") if known else None
    if dial and (logged is None or airs.wall(dial.read_at) >= logged - _HOUR):
        counts = counting_pct(dial.rh_pct, dial.temp_c)
        read_at = airs.wall(dial.read_at)
        return Air(room.room, room.regime, dial.rh_pct, "dial", dial.temp_c, counts, read_at, 1)
    hour = known.at(logged - _HOUR) if known and logged else None
    if hour is None or logged is None:
        return None
    counts = counting_pct(hour[0], hour[1])
    return Air(room.room, room.regime, hour[0], "latest", hour[1], counts, min(logged, now), 1)


def _assumed(room: Room, known_to: datetime | None) -> Air:
    counts = None if room.rh_pct is None else counting_pct(room.rh_pct, room.temp_c)
    return Air(room.room, room.regime, room.rh_pct, "assumed", room.temp_c, counts, known_to)
