"""The whole record at one moment, as the pure rooms see it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from scheduler.records import (
    Board,
    BoardStay,
    ChamberStay,
    Dial,
    DrynessTest,
    Keeping,
    Placement,
    Room,
    Session,
    Settings,
    Specimen,
)

ALWAYS = datetime(1970, 1, 1, tzinfo=UTC)
"""The `since` of a board's first stay: it stood there before anybody wrote anything down."""


@dataclass(frozen=True)
class Snapshot:
    """What is recorded. Mappings are keyed by id, tuples ordered by id or moment.

    `gone` maps specimens that will never be mounted to the reason; `latest` is the moment of
    the latest journal line, None for an empty record; `namespace` is the UUID under which the
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
    gone: Mapping[str, str] = field(default_factory=dict)
    latest: datetime | None = None
    namespace: str = ""

    @property
    def zone(self) -> ZoneInfo:
        """Return the record's time zone."""
        return ZoneInfo(self.settings.timezone)

    def local(self, moment: datetime) -> datetime:
        """Return an aware moment in the record's zone."""
        return moment.astimezone(self.zone)

    def standing(self, board: str | None = None) -> tuple[Placement, ...]:
        """Return what stands on `board` (on every board when None), from left to right."""
        here = [p for p in self.placements if p.released_at is None and board in (None, p.board)]
        return tuple(sorted(here, key=lambda p: (p.board, p.from_mm, p.id)))

    def stays_of(self, board: str) -> tuple[BoardStay, ...]:
        """Return the rooms a board has stood in, the earliest first."""
        return tuple(sorted((s for s in self.stays if s.board == board), key=lambda s: s.since))

    def room_of(self, board: str) -> Room | None:
        """Return the room in which a board stands now, None when nobody has said."""
        stays = self.stays_of(board)
        return self.rooms.get(stays[-1].room) if stays else None

    def tests_of(self, placement: int) -> tuple[DrynessTest, ...]:
        """Return the dryness tests of a placement, the earliest first."""
        mine = [t for t in self.tests if t.placement == placement]
        return tuple(sorted(mine, key=lambda t: t.tested_at))

    def kept(self, specimen: str) -> Keeping | None:
        """Return where a specimen was last said to be kept."""
        mine = [k for k in self.keeping if k.specimen == specimen]
        return max(mine, key=lambda k: k.since, default=None)

    def chamber_since(self, specimen: str) -> datetime | None:
        """Return since when a specimen is in the chamber, None when it is not."""
        return next(
            (s.since for s in self.chamber if s.specimen == specimen and s.until is None), None
        )
