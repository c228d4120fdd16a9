"""The record at one moment under rules; what follows from it is computed once, when asked for.

`view_of(store, rules, now)` makes one. Whatever asks or decides is given a view instead of a
record, rules and a moment, so that nothing is looked up twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, time, timedelta
from functools import cache, cached_property
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from scheduler.air.known import Airs
from scheduler.air.latest import Air, air_now
from scheduler.air.room_air import RoomAir
from scheduler.drying import fit
from scheduler.drying.answer import BoardAnswer, SpecimenAnswer, answer_board
from scheduler.drying.evidence import Evidence, evidence_of
from scheduler.drying.on_board import OnBoard
from scheduler.drying.paces import Horizon, Paces
from scheduler.record.by_specimen import StandingBySpecimen
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.record.told_then import ToldThen
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words import names
from scheduler.words.records import Board, Dial, Placement, Room, Session, Specimen

if TYPE_CHECKING:
    from scheduler.drying.teaching import Teaching
    from scheduler.drying.unmounted import Unmounted
    from scheduler.learning.lessons import Lessons
    from scheduler.planner.problem import Planned
    from scheduler.record.kept import Kept


def view_of(store: Store, rules: Rulebook, now: datetime, table_only: bool = False) -> View:
    """Return a view of the record at `now`; `table_only` leaves out what its tests taught."""
    facts = store.facts()
    # The kept plan is of the same moment as the facts.
    source = facts if isinstance(facts, Recorded) else store

    def kept() -> Kept | None:
        from scheduler.record.kept import kept_plan  # only some questions ask for the plan

        return kept_plan(source)

    return View(facts, rules, now, kept, ToldThen(source.db), table_only)


AIR_BEFORE = timedelta(days=400)
"""A room's air counts from this long before the first mounting: months before, and a year ago."""


class View:
    """What is recorded (`facts`), under `rules`, at `now`."""

    def __init__(
        self,
        facts: Snapshot,
        rules: Rulebook,
        now: datetime,
        kept: Callable[[], Kept | None] = lambda: None,
        told: ToldThen | None = None,
        table_only: bool = False,
    ) -> None:
        self.facts = facts
        self.told = told or ToldThen()
        self.rules = rules
        self.now = facts.local(now)
        self._read_kept = kept
        self.table_only = table_only
        self._on_board: dict[Placement, OnBoard] = {}
        self.answers: dict[str, BoardAnswer] = {}
        self._answers: dict[OnBoard, SpecimenAnswer] = {}
        self._board_stays: dict[str, tuple[tuple[datetime, Room], ...]] = {}
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

    @cached_property
    def sessions_ahead(self) -> tuple[Session, ...]:
        """Return the sessions not yet over, cancelled or on days off, the earliest first."""
        return tuple(
            s for s in self.facts.sessions_from(self.now) if s.minutes and not self.is_off(s)
        )

    def is_off(self, session: Session) -> bool:
        """Say whether a session falls into days off, everybody's or its person's."""
        return self.facts.is_away(self.local(session.start).date(), session.who)

    @cached_property
    def planned(self) -> tuple[Planned, ...]:
        """Return the kept plan's placements still to do: who still waits, in sessions ahead."""
        if self.kept is None:
            return ()
        waits = {one.specimen.specimen for one in self.waiting}
        ahead = {s.session for s in self.sessions_ahead}
        return tuple(p for p in self.kept.placements if p.specimen in waits and p.session in ahead)

    def planned_for(self, specimen: str) -> Planned | None:
        """Return where a specimen is planned, None when nowhere."""
        return self._planned.get(specimen)

    def planned_at(self, session: str) -> tuple[Planned, ...]:
        """Return what is planned for a session."""
        return tuple(p for p in self.planned if p.session == session)

    @cached_property
    def _planned(self) -> Mapping[str, Planned]:
        return {p.specimen: p for p in reversed(self.planned)}

    def room_of(self, board: str) -> Room | None:
        """Return the room in which a board stands now, None when nobody has said."""
        return self.facts.room_of(board)

    @cached_property
    def airs(self) -> Airs:
        """Return every room's measured air, from as early as what stands or will stand needs."""
        return self._airs(cache(self._air_since))

    @cached_property
    def paces(self) -> Paces:
        """Return how fast bodies dry in every room."""
        return Paces(self.rules, self.airs.of, self.horizon)

    @cached_property
    def _older_paces(self) -> Paces:
        """Return paces over all air ever measured, for what was mounted before all that stands."""
        return Paces(self.rules, self._airs(lambda _: None).of, self.horizon)

    def _airs(self, since: Callable[[str], date | None]) -> Airs:
        def days_of(room: str) -> Mapping[date, bytes]:
            return self.facts.air_days_of(room, since(room))

        def dials_of(room: str) -> tuple[Dial, ...]:
            day = since(room)
            begin = None if day is None else datetime.combine(day, time(), self.zone)
            return self.facts.dials_of(room, begin)

        return Airs(days_of, dials_of, self.zone)

    def _air_since(self, room: str) -> date:
        """Return the first day whose air is read for a room."""
        last = self.facts.last_air(room) or self._first_mounted
        return min(last, self._first_mounted) - AIR_BEFORE

    @cached_property
    def _first_mounted(self) -> date:
        today = self.now.date()
        return min(self.facts.first_mounted() or today, today)

    @cached_property
    def _unmeasured(self) -> Paces:
        return Paces(self.rules, lambda _: None, self.horizon)

    @cached_property
    def horizon(self) -> Horizon:
        """Return the dates between which the record asks about air; `now` does not change them."""
        latest = self.facts.latest
        if latest is None:
            said = [self.local(s.since).date() for s in self.facts.stays]
            last = max((*(p.mounted_on for p in self.facts.standing()), *said), default=date.min)
        else:
            last = self.local(latest).date()
        return Horizon(self._first_mounted, max(last, self._first_mounted))

    def room_air(self, room: str) -> RoomAir | None:
        """Return what was measured of a room's air, None when nothing was."""
        return self.airs.of(room)

    def air_now(self, room: Room, at: datetime | None = None) -> Air:
        """Return the air of a room at a moment, now when None."""
        hours = self.rules.limit("take_off_window_hours")
        return air_now(room, self.airs, self.now if at is None else at, hours)

    def size(self, specimen: Specimen) -> fit.Size | None:
        """Return a specimen's size, None when there is nothing to go by."""
        return fit.size_of(specimen, self.rules)

    def slot_mm(self, specimen: Specimen) -> int | None:
        """Return the length of groove [mm] that a specimen takes, None when its size is unknown."""
        size = self.size(specimen)
        return size and fit.slot_mm(size, self.rules.kin(specimen).row, self.rules)

    def time_in(self, specimen: Specimen, body_mm: float, room: Room) -> BoardTime:
        """Return the rule table's answer for a specimen in a room's expected air."""
        return self.paces.time_in(specimen, body_mm, room)

    def standing(self, board: str | None = None) -> tuple[OnBoard, ...]:
        """Return what stands on a board, on every board when None, from left to right."""
        return tuple(self.of(p) for p in self.facts.standing(board))

    def on_board(self, specimen: str) -> OnBoard | None:
        """Return a specimen that stands on a board, None when it stands on none."""
        return self._by_specimen.get(specimen)

    def named(self, asked: Iterable[str]) -> tuple[Board | OnBoard, ...]:
        """Return the boards and mounted specimens of those names, each once, in the order asked.

        Raises BadInput that names all that are neither.
        """
        return names.of_either(asked, self.boards, self._by_specimen, "board or mounted specimen")

    @cached_property
    def _by_specimen(self) -> Mapping[str, OnBoard]:
        return StandingBySpecimen(self.facts, self.of)

    def of(self, placement: Placement) -> OnBoard:
        """Return a placement with what follows from it; it may be recorded or only supposed."""
        if placement not in self._on_board:
            older = placement.mounted_on < self._first_mounted
            self._on_board[placement] = OnBoard(
                placement,
                self.facts.specimens[placement.specimen],
                self.facts.boards[placement.board],
                self._stays(placement.board),
                self.facts.tests_of(placement.id),
                self._older_paces if older else self.paces,
                self._unmeasured,
                self.zone,
                self._teach,
            )
        return self._on_board[placement]

    @cached_property
    def lessons(self) -> Lessons | None:
        """Return what the record's tests taught of its rooms; None: too few, or `table_only`."""
        from scheduler.learning.of_record import lessons_of

        return None if self.table_only else lessons_of(self.facts, self.rules, self.of)

    def _teach(self, one: OnBoard) -> Teaching | None:
        return self.lessons.of(one) if self.lessons else None

    def _stays(self, board: str) -> tuple[tuple[datetime, Room], ...]:
        if board not in self._board_stays:
            self._board_stays[board] = tuple(
                (self.wall(s.since), self.rooms[s.room]) for s in self.facts.stays_of(board)
            )
        return self._board_stays[board]

    def answer(self, board: str) -> BoardAnswer:
        """Return the answer for a board and all that stands on it: may it come off?"""
        if board not in self.answers:
            self.answers[board] = answer_board(board, map(self.answer_of, self.standing(board)))
        return self.answers[board]

    def answer_of(self, one: OnBoard) -> SpecimenAnswer:
        """Return the answer for one specimen that stands on a board: may it come off?"""
        if one not in self._answers:
            air = self.air_now(one.room) if one.room else None
            self._answers[one] = SpecimenAnswer(one, air, self.now)
        return self._answers[one]

    def evidence(self, one: OnBoard) -> Evidence:
        """Return what the dates of one specimen on a board rest on."""
        return evidence_of(one, self.now)

    @cached_property
    def chamber_temp_c(self) -> float | None:
        """Return the temperature [deg C] that the chamber is taken to have, None when unknown."""
        from scheduler.drying.softening import chamber_temp_c  # no board asks for it

        return chamber_temp_c(self.rooms.values())

    @cached_property
    def waiting(self) -> tuple[Unmounted, ...]:
        """Return the specimens that were never mounted and are not gone, ordered by id."""
        return tuple(self.waits(s) for s in self.facts.waiting())

    def waits(self, specimen: Specimen) -> Unmounted:
        """Return the state of a specimen that is not on a board."""
        if specimen.specimen not in self._waiting:
            from scheduler.drying.softening import Been
            from scheduler.drying.unmounted import Unmounted  # no board asks for these either

            facts, it = self.facts, specimen.specimen
            been = Been(facts.chamber_of(it), facts.keeping_of(it), self.chamber_temp_c, self.zone)
            self._waiting[it] = Unmounted(specimen, been, self.rules, self.now)
        return self._waiting[specimen.specimen]
