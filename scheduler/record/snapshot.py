"""The whole record at one moment, as the pure rooms see it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from scheduler.words.records import (
    Board,
    BoardStay,
    ChamberStay,
    Dial,
    Droop,
    DrynessTest,
    Keeping,
    Placement,
    Room,
    Session,
    Settings,
    Specimen,
)

T = TypeVar("T")
R = TypeVar("R")

ALWAYS = datetime(1970, 1, 1, tzinfo=UTC)
"""The `since` of a board's first stay: it stood there before anybody wrote anything down."""


@dataclass(frozen=True)
class Snapshot:
    """What is recorded. Mappings are keyed by id, tuples ordered by id or moment.

    `gone` maps specimens that will never be mounted to the reason; `latest` is the moment of
    the latest journal line, None for an empty record. `air_days` holds the packed hours of a
    room's logged days (`air.Hours`). `memo` keeps what was reckoned from this very snapshot; a
    changed copy begins without it. `namespace` is the UUID under which the
    record's events are named.
    """

    settings: Settings = field(default_factory=Settings)
    rooms: Mapping[str, Room] = field(default_factory=dict)
    boards: Mapping[str, Board] = field(default_factory=dict)
    stays: tuple[BoardStay, ...] = ()
    specimens: Mapping[str, Specimen] = field(default_factory=dict)
    sessions: Mapping[str, Session] = field(default_factory=dict)
    placements: tuple[Placement, ...] = ()
    chamber: tuple[ChamberStay, ...] = ()
    tests: tuple[DrynessTest, ...] = ()
    keeping: tuple[Keeping, ...] = ()
    dials: tuple[Dial, ...] = ()
    air_days: Mapping[str, Mapping[date, bytes]] = field(default_factory=dict)
    droops: tuple[Droop, ...] = ()
    gone: Mapping[str, str] = field(default_factory=dict)
    latest: datetime | None = None
    namespace: str = ""
    memo: dict[Hashable, Any] = field(default_factory=dict, init=False, compare=False, repr=False)

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
        by_board = self._index("standing", _standing_by_board, self.placements)
        return by_board.get(board, ())

    def stays_of(self, board: str) -> tuple[BoardStay, ...]:
        """Return the rooms a board has stood in, the earliest first."""
        by_board = self._index("stays", _stays_by_board, self.stays)
        return by_board.get(board, ())

    def room_of(self, board: str) -> Room | None:
        """Return the room in which a board stands now, None when nobody has said."""
        stays = self.stays_of(board)
        return self.rooms.get(stays[-1].room) if stays else None

    def tests_of(self, placement: int) -> tuple[DrynessTest, ...]:
        """Return the dryness tests of a placement, the earliest first."""
        by_placement = self._index("tests", _tests_by_placement, self.tests)
        return by_placement.get(placement, ())

    def kept(self, specimen: str) -> Keeping | None:
        """Return where a specimen was last said to be kept."""
        mine = [k for k in self.keeping if k.specimen == specimen]
        return max(mine, key=lambda k: k.since, default=None)

    def chamber_since(self, specimen: str) -> datetime | None:
        """Return since when a specimen is in the chamber, None when it is not."""
        return next(
            (s.since for s in self.chamber if s.specimen == specimen and s.until is None), None
        )

    def _index(self, name: str, make: Callable[[tuple[T, ...]], R], things: tuple[T, ...]) -> R:
        """Return an index over things, made once for this snapshot."""
        if name not in self.memo:
            self.memo[name] = make(things)
        found: R = self.memo[name]
        return found


def _standing_by_board(
    placements: tuple[Placement, ...],
) -> dict[str | None, tuple[Placement, ...]]:
    here = [p for p in placements if p.released_at is None]
    here.sort(key=lambda p: (p.board, p.from_mm, p.id))
    found: dict[str | None, list[Placement]] = {None: here}
    for placement in here:
        found.setdefault(placement.board, []).append(placement)
    return {board: tuple(there) for board, there in found.items()}


def _stays_by_board(stays: tuple[BoardStay, ...]) -> dict[str, tuple[BoardStay, ...]]:
    found: dict[str, list[BoardStay]] = {}
    for stay in sorted(stays, key=lambda s: s.since):
        found.setdefault(stay.board, []).append(stay)
    return {board: tuple(there) for board, there in found.items()}


def _tests_by_placement(tests: tuple[DrynessTest, ...]) -> dict[int, tuple[DrynessTest, ...]]:
    found: dict[int, list[DrynessTest]] = {}
    for test in sorted(tests, key=lambda t: t.tested_at):
        found.setdefault(test.placement, []).append(test)
    return {placement: tuple(there) for placement, there in found.items()}
