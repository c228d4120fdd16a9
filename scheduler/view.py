"""The record at a moment under rules: each thing that follows from it computed once, on demand.

`view_of(store, rules, now)` makes one. Whatever asks or decides stands on a view: it needs no
triple of record, rules and moment, and looks nothing up twice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from zoneinfo import ZoneInfo

from scheduler.air.known import room_air
from scheduler.air.latest import Air, air_now
from scheduler.air.room_air import RoomAir
from scheduler.drying import dates as drying
from scheduler.drying import fit
from scheduler.drying.answer import BoardAnswer, SpecimenAnswer, answer_board, answer_specimen
from scheduler.drying.dates import Dates, Stretch
from scheduler.drying.evidence import Evidence, evidence_of
from scheduler.drying.softening import Softening, softening
from scheduler.record.kept import Kept, kept_plan
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words.records import (
    Board,
    DrynessTest,
    Keeping,
    Placement,
    Room,
    Session,
    Specimen,
)


def view_of(store: Store, rules: Rulebook, now: datetime) -> View:
    """Return the record as it stands, under rules, at `now`."""
    return View(store.snapshot(), rules, now, lambda: kept_plan(store))


class View:
    """What is recorded (`facts`), under `rules`, at `now`."""

    def __init__(
        self,
        facts: Snapshot,
        rules: Rulebook,
        now: datetime,
        kept: Callable[[], Kept | None] = lambda: None,
    ) -> None:
        self.facts = facts
        self.rules = rules
        self.now = now
        self._read_kept = kept
        self._on_board: dict[int, OnBoard] = {}
        self._waiting: dict[str, Unmounted] = {}

    @property
    def zone(self) -> ZoneInfo:
        """Return the record's time zone."""
        return self.facts.zone

    @property
    def boards(self) -> Mapping[str, Board]:
        """Return every board by id."""
        return self.facts.boards

    @property
    def rooms(self) -> Mapping[str, Room]:
        """Return every room by id."""
        return self.facts.rooms

    @property
    def sessions(self) -> Mapping[str, Session]:
        """Return every session by id."""
        return self.facts.sessions

    @property
    def specimens(self) -> Mapping[str, Specimen]:
        """Return every specimen by id."""
        return self.facts.specimens

    def local(self, moment: datetime) -> datetime:
        """Return an aware moment in the record's zone."""
        return self.facts.local(moment)

    def wall(self, moment: datetime) -> datetime:
        """Return an aware moment as the clock on the wall shows it, without a zone."""
        return self.facts.wall(moment)

    @cached_property
    def kept(self) -> Kept | None:
        """Return the kept plan, None when nothing was planned yet."""
        return self._read_kept()

    def room_of(self, board: str) -> Room | None:
        """Return the room in which a board stands now, None when nobody has said."""
        return self.facts.room_of(board)

    def room_air(self, room: str) -> RoomAir | None:
        """Return what was measured of a room's air, None when nothing was."""
        return room_air(room, self.facts, self.rules)

    def air_now(self, room: Room, at: datetime | None = None) -> Air:
        """Return the air of a room at a moment, now when None."""
        return air_now(room, self.facts, self.rules, self.now if at is None else at)

    def size(self, specimen: Specimen) -> fit.Size | None:
        """Return a specimen's size, None when there is nothing to go by."""
        return fit.size_of(specimen, self.rules)

    def slot_mm(self, specimen: Specimen) -> int | None:
        """Return the groove [mm] that a specimen takes, None when its size is unknown."""
        size = self.size(specimen)
        if size is None:
            return None
        return fit.slot_mm(size, self.rules.family(specimen.family, specimen.group), self.rules)

    def time_in(self, specimen: Specimen, body_mm: float, room: Room) -> BoardTime:
        """Return the rule table's answer for a specimen in a room's expected air."""
        return drying.time_in(specimen, body_mm, room, self.facts, self.rules)

    def standing(self, board: str | None = None) -> tuple[OnBoard, ...]:
        """Return what stands on a board, on every board when None, from left to right."""
        return tuple(self.of(p) for p in self.facts.standing(board))

    def of(self, placement: Placement) -> OnBoard:
        """Return what follows from a placement, recorded or only thought of."""
        if not placement.id:
            return OnBoard(self, placement)
        return self._on_board.setdefault(placement.id, OnBoard(self, placement))

    def answer(self, board: str) -> BoardAnswer:
        """Answer for a board and all that stands on it."""
        return answer_board(board, self.facts.standing(board), self.facts, self.rules, self.now)

    @cached_property
    def waiting(self) -> tuple[Unmounted, ...]:
        """Return what was never mounted and is not gone, by id."""
        known = {p.specimen for p in self.facts.placements} | set(self.facts.gone)
        return tuple(
            self.waits(s) for name, s in sorted(self.facts.specimens.items()) if name not in known
        )

    def waits(self, specimen: Specimen) -> Unmounted:
        """Return how a specimen that is not on a board is."""
        return self._waiting.setdefault(specimen.specimen, Unmounted(self, specimen))


@dataclass(frozen=True)
class OnBoard:
    """A specimen in its slot, and what follows from it; each thing computed once."""

    view: View
    placement: Placement

    @cached_property
    def specimen(self) -> Specimen:
        """Return the specimen."""
        return self.view.facts.specimens[self.placement.specimen]

    @cached_property
    def board(self) -> Board:
        """Return the board it stands on."""
        return self.view.facts.boards[self.placement.board]

    @cached_property
    def size(self) -> fit.Size:
        """Return its size; an unknown body counts as thick as the groove."""
        return drying.body_on_board(self.specimen, self.board.groove_mm, self.view.rules)

    @property
    def body_mm(self) -> float:
        """Return the width of its body."""
        return self.size.body_mm

    @property
    def tests(self) -> tuple[DrynessTest, ...]:
        """Return its dryness tests, the earliest first."""
        return self.view.facts.tests_of(self.placement.id)

    @property
    def stiff(self) -> bool:
        """Say whether it was last tested stiff."""
        return bool(self.tests) and self.tests[-1].verdict == "stiff"

    @cached_property
    def air(self) -> tuple[Stretch, ...]:
        """Return the air it has stood and will stand in, room by room."""
        return drying.stretches(self.placement, self.view.facts, self.view.rules)

    @cached_property
    def dates(self) -> Dates:
        """Return due and clear, moved by its latest soft test."""
        return drying.standing_dates(self.placement, self.view.facts, self.view.rules)

    def progress(self, at: datetime) -> float:
        """Return how much of the minimum board time has passed at a moment, 0 to 1 and beyond."""
        return drying.progress(self.placement, self.view.facts, self.view.rules, at)

    @cached_property
    def answer(self) -> SpecimenAnswer:
        """Answer for it: may it come off?"""
        return answer_specimen(self.placement, self.view.facts, self.view.rules, self.view.now)

    @cached_property
    def evidence(self) -> Evidence:
        """Return what its dates rest on."""
        return evidence_of(self.placement, self.view.facts, self.view.rules, self.view.now)


@dataclass(frozen=True)
class Unmounted:
    """A specimen that waits, and what follows from it; each thing computed once."""

    view: View
    specimen: Specimen

    @cached_property
    def size(self) -> fit.Size | None:
        """Return its size, None when there is nothing to go by."""
        return self.view.size(self.specimen)

    @cached_property
    def softening(self) -> Softening:
        """Return how it becomes soft and when it spoils; of unknown size it counts as stout."""
        return self.softening_at(self.view.now)

    def softening_at(self, at: datetime) -> Softening:
        """Return how it becomes soft, as things stood at a moment."""
        rules = self.view.rules
        body = rules.limit("body_very_stout_mm") if self.size is None else self.size.body_mm
        return softening(self.specimen, body, self.view.facts, rules, at)

    @property
    def kept(self) -> Keeping | None:
        """Return where it was last said to be kept."""
        return self.view.facts.kept(self.specimen.specimen)
