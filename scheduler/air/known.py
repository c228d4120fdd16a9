"""The measured air of every room, put together once per room."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from scheduler.words.records import Dial

if TYPE_CHECKING:
    from scheduler.air.room_air import RoomAir


class Airs:
    """The measured air of every room; `days_of` and `dials_of` are asked only when it is needed.

    A day's hours are packed as `air.hours.Hours` says.
    """

    def __init__(
        self,
        days_of: Callable[[str], Mapping[date, bytes]],
        dials_of: Callable[[str], Sequence[Dial]],
        zone: ZoneInfo,
    ) -> None:
        self._days_of, self._dials_of = days_of, dials_of
        self._zone = zone
        self._known: dict[str, RoomAir | None] = {}

    def of(self, room: str) -> RoomAir | None:
        """Return what was measured of a room's air, None when nothing was."""
        if room not in self._known:
            self._known[room] = self._put_together(room)
        return self._known[room]

    def wall(self, moment: datetime) -> datetime:
        """Return an aware moment as the clock on the wall shows it, without a zone."""
        return moment.astimezone(self._zone).replace(tzinfo=None)

    def last_dial(self, room: str, at: datetime) -> Dial | None:
        """Return the last dial reading of a room up to a moment (included), None without one."""
        read = (d for d in self._dials_of(room) if d.read_at <= at)
        return max(read, key=lambda d: d.read_at, default=None)

    def _put_together(self, room: str) -> RoomAir | None:
        days, dials = self._days_of(room), self._dials_of(room)
        if not days and not dials:
            return None
        from scheduler.air.hours import DialRead
        from scheduler.air.room_air import room_air

        return room_air(
            days,
            [DialRead(self.wall(d.read_at), d.rh_pct, d.temp_c) for d in dials],
            zone=self._zone,
        )
