"""The whole record at one moment, as the pure rooms see it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from types import MappingProxyType
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from scheduler.words.held import held
from scheduler.words.records import (
    Afterwards,
    Away,
    Board,
    BoardStay,
    ChamberStay,
    Dial,
    Droop,
    DrynessTest,
    Keeping,
    Photo,
    Placement,
    Room,
    SensorOffset,
    Session,
    Settings,
    Specimen,
)

_T = TypeVar("_T")
_K = TypeVar("_K")

ByLogger = Mapping[str, Mapping[date, bytes]]
"""Packed hours (`air.Hours`) by a logger's name and local date."""

_NONE: Mapping[Any, Any] = MappingProxyType({})

ALWAYS = datetime(1970, 1, 1, tzinfo=UTC)
"""The `since` of a board's first stay: it stood there before anybody wrote anything down."""


@held
class Snapshot:
    """What is recorded. Mappings are keyed by id, tuples ordered by id or moment.

    `gone` maps specimens that will never be mounted to the reason; `latest` is the moment of
    the latest journal line, None for an empty record. `air_days` holds the packed hours of a
    room's logged days (`air.Hours`): those of all its loggers together, corrected
    (`air.sensors`). `loggers` holds the hours of each logger as its files have them, by room and
    name; `offsets` the corrections that tests found, the earliest first; `counting_loggers` the
    logger that a person chose for a room. `namespace` is the UUID from which the record's
    calendar events take their names.
    """

    settings: Settings = Settings()
    rooms: Mapping[str, Room] = _NONE
    boards: Mapping[str, Board] = _NONE
    stays: tuple[BoardStay, ...] = ()
    specimens: Mapping[str, Specimen] = _NONE
    sessions: Mapping[str, Session] = _NONE
    placements: tuple[Placement, ...] = ()
    chamber: tuple[ChamberStay, ...] = ()
    tests: tuple[DrynessTest, ...] = ()
    keeping: tuple[Keeping, ...] = ()
    dials: tuple[Dial, ...] = ()
    air_days: Mapping[str, Mapping[date, bytes]] = _NONE
    loggers: Mapping[str, ByLogger] = _NONE
    offsets: tuple[SensorOffset, ...] = ()
    counting_loggers: Mapping[str, str] = _NONE
    droops: tuple[Droop, ...] = ()
    away: tuple[Away, ...] = ()
    afterwards: tuple[Afterwards, ...] = ()
    photos: tuple[Photo, ...] = ()
    gone: Mapping[str, str] = _NONE
    latest: datetime | None = None
    namespace: str = ""

    def but(self, **changes: Any) -> Snapshot:
        """Return a record that is like this one but for `changes`, all of it read."""
        same = {n: getattr(self, n) for n in Snapshot.__annotations__ if n not in changes}
        read: dict[str, Any] = {
            n: dict(v.items()) if isinstance(v, Mapping) else v for n, v in same.items()
        }
        return Snapshot(**(read | changes))

    @property
    def zone(self) -> ZoneInfo:
        """Return the record's time zone."""
        return ZoneInfo(self.settings.timezone)

    def local(self, moment: datetime) -> datetime:
        """Return an aware moment in the record's zone."""
        return moment.astimezone(self.zone)

    def wall(self, moment: datetime) -> datetime:
        """Return an aware moment as the clock on the wall shows it, without a zone."""
        return self.local(moment).replace(tzinfo=None)

    def standing(self, board: str | None = None) -> tuple[Placement, ...]:
        """Return what stands on `board` (on every board when None), from left to right."""
        if board is None:
            return tuple(p for here in self._standing.values() for p in here)
        return self._standing.get(board, ())

    def stays_of(self, board: str) -> tuple[BoardStay, ...]:
        """Return the rooms a board has stood in, the earliest first."""
        return self._stays.get(board, ())

    def room_of(self, board: str) -> Room | None:
        """Return the room in which a board stands now, None when nobody has said."""
        stays = self.stays_of(board)
        return self.rooms.get(stays[-1].room) if stays else None

    def tests_of(self, placement: int) -> tuple[DrynessTest, ...]:
        """Return the dryness tests of a placement, the earliest first."""
        return self._tests.get(placement, ())

    def keeping_of(self, specimen: str) -> tuple[Keeping, ...]:
        """Return where a specimen was kept, by moment, and at one moment as recorded."""
        return self._kept.get(specimen, ())

    def chamber_of(self, specimen: str) -> tuple[ChamberStay, ...]:
        """Return a specimen's stays in the chamber, the earliest first."""
        return self._chamber.get(specimen, ())

    def in_chamber(self) -> tuple[ChamberStay, ...]:
        """Return the stays in the chamber that are not over, the earliest first."""
        return tuple(s for s in self.chamber if s.until is None)

    def chamber_since(self, specimen: str) -> datetime | None:
        """Return since when a specimen is in the chamber, None when it is not."""
        return next((s.since for s in self.chamber_of(specimen) if s.until is None), None)

    def waiting(self) -> tuple[Specimen, ...]:
        """Return the specimens that were never mounted and are not gone, by id."""
        known = {p.specimen for p in self.placements} | set(self.gone)
        return tuple(s for name, s in sorted(self.specimens.items()) if name not in known)

    def placements_from(self, moment: datetime) -> tuple[Placement, ...]:
        """Return what was mounted or came off at or after a moment, and all that stands."""
        return tuple(
            p
            for p in self.placements
            if p.released_at is None or p.released_at >= moment or p.mounted_at >= moment
        )

    def sessions_from(self, moment: datetime) -> tuple[Session, ...]:
        """Return the sessions that end after a moment, the earliest first."""
        found = (s for s in self.sessions.values() if s.end > moment)
        return tuple(sorted(found, key=lambda s: (s.start, s.session)))

    def is_away(self, day: date, who: str | None = None) -> bool:
        """Say whether nobody is at the bench on a local date, or `who`, if named, is not."""
        return any(away.has(day) and away.who in (None, who) for away in self.away)

    def there_on(self, day: date) -> date:
        """Return a local date, or the first after it on which somebody is there again."""
        while self.is_away(day):
            over = [a.to_day for a in self.away if a.has(day) and a.who is None]
            day = max(over) + timedelta(days=1)
        return day

    def first_mounted(self) -> date | None:
        """Return the earliest mounting date of what stands, None where nothing stands."""
        return min((p.mounted_on for p in self.standing()), default=None)

    def last_air(self, room: str) -> date | None:
        """Return the last date with a reading in a room, of a dial by UTC; None without any."""
        read = {d.read_at.date() for d in self.dials_of(room)}
        return max({*self.air_days_of(room), *read}, default=None)

    def air_days_of(self, room: str, since: date | None = None) -> Mapping[date, bytes]:
        """Return the packed hours of a room's logged days as they count, from `since` on."""
        days = self.air_days.get(room, {})
        return days if since is None else {d: days[d] for d in days if d >= since}

    def loggers_of(self, room: str, since: date | None = None) -> ByLogger:
        """Return the packed hours of each of a room's loggers, uncorrected, from `since` on."""
        return {
            name: {d: hours for d, hours in days.items() if since is None or d >= since}
            for name, days in self.loggers.get(room, {}).items()
        }

    def dials_of(self, room: str, since: datetime | None = None) -> tuple[Dial, ...]:
        """Return what a room's dial said from `since` on, corrected, the earliest first."""
        mine = (d for d in self.dials if d.room == room)
        return tuple(d for d in mine if since is None or d.read_at >= since)

    @cached_property
    def _standing(self) -> Mapping[str, tuple[Placement, ...]]:
        here = [p for p in self.placements if p.released_at is None]
        here.sort(key=lambda p: (p.board, p.from_mm, p.id))
        return grouped(here, lambda p: p.board)

    @cached_property
    def _stays(self) -> Mapping[str, tuple[BoardStay, ...]]:
        return grouped(sorted(self.stays, key=lambda s: s.since), lambda s: s.board)

    @cached_property
    def _tests(self) -> Mapping[int, tuple[DrynessTest, ...]]:
        return grouped(sorted(self.tests, key=lambda t: t.tested_at), lambda t: t.placement)

    @cached_property
    def _chamber(self) -> Mapping[str, tuple[ChamberStay, ...]]:
        return grouped(self.chamber, lambda s: s.specimen)

    @cached_property
    def _kept(self) -> Mapping[str, tuple[Keeping, ...]]:
        return grouped(sorted(self.keeping, key=lambda k: k.since), lambda k: k.specimen)


def grouped(things: Iterable[_T], key: Callable[[_T], _K]) -> dict[_K, tuple[_T, ...]]:
    """Return things grouped by their key, each group in the order in which they came."""
    found: dict[_K, list[_T]] = {}
    for thing in things:
        found.setdefault(key(thing), []).append(thing)
    return {k: tuple(group) for k, group in found.items()}
