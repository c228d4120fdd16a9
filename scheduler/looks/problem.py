"""From the record at one moment to the problem that a planner answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from scheduler.drying.fit import Size, slot_mm
from scheduler.drying.later import Phase
from scheduler.drying.on_board import OnBoard
from scheduler.drying.softening import Softening, hours_after
from scheduler.drying.unmounted import Unmounted
from scheduler.looks.air_worries import too_damp_today
from scheduler.planner.chamber import mount_moment
from scheduler.planner.problem import (
    BoardDays,
    PlanBoard,
    PlanProblem,
    PlanSession,
    PlanStanding,
    PlanWaiting,
    Weights,
)
from scheduler.planner.takers import Takers, Taking, misfit
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words.names import natural_order
from scheduler.words.records import Board, Room, Specimen

AFTER_THE_LAST_DAYS = 30
"""What is not mounted counts as mounted so many days after the last session."""


def build_problem(view: View, until: date | None = None) -> PlanProblem:
    """Return the problem that the record poses now, with sessions up to `until` (included).

    A board that is out of use, or whose room nobody has said, is not planned on.
    """
    rules, now, settings = view.rules, view.now, view.facts.settings
    sessions = _sessions(view, until)
    boards = _boards_in_use(view)
    desk = _Desk(view, rules, now, sessions, boards, Takers(boards, rules))
    waiting: list[PlanWaiting] = []
    misfits: dict[str, str] = {}
    for one in view.waiting:
        found = desk.waiting(one)
        if isinstance(found, str):
            misfits[one.specimen.specimen] = found
        else:
            waiting.append(found)
    last = sessions[-1].on if sessions else now.date()
    return PlanProblem(
        now=now,
        timezone=settings.timezone,
        end=last + timedelta(days=AFTER_THE_LAST_DAYS),
        chamber_places=settings.chamber_places,
        chamber_time=settings.chamber_time,
        take_off_min=rules.take_off_min,
        boards=tuple(PlanBoard(b.board, b.length_mm, r.room, b.refill) for b, r in desk.boards),
        standing=_standing(desk),
        sessions=sessions,
        waiting=tuple(waiting),
        misfits=misfits,
        weights=Weights(
            age_doubles_days=round(rules.limit("age_doubles_days")),
            late_days=round(rules.limit("late_days")),
            packed_days=round(rules.limit("packed_days")),
            left_days=round(rules.limit("left_days")),
            off_sessions=round(rules.limit("off_sessions")),
        ),
    )


def _found_on(specimen: Specimen) -> date | None:
    """Return since when a specimen waits: the earlier of its freezing and its availability."""
    known = [day for day in (specimen.frozen_on, specimen.available) if day is not None]
    return min(known, default=None)


def groove_widths(view: View) -> dict[str, float]:
    """Return the groove width [mm] of every board, for the reasons why something waits."""
    return {board.board: board.groove_mm for board in view.boards.values()}


def _boards_in_use(view: View) -> tuple[tuple[Board, Room], ...]:
    found = []
    for board in sorted(view.boards.values(), key=lambda b: natural_order(b.board)):
        room = view.room_of(board.board)
        if room is not None and not board.out:
            found.append((board, room))
    return tuple(found)


def _sessions(view: View, until: date | None) -> tuple[PlanSession, ...]:
    found = []
    for s in view.sessions_ahead:
        start = view.local(s.start)
        if until is not None and start.date() > until:
            continue
        past_min = max(0.0, (view.now.timestamp() - start.timestamp()) / 60)
        left = int(s.minutes - past_min)
        if left > 0:
            found.append(PlanSession(s.session, start, left, running=past_min > 0))
    return tuple(sorted(found, key=lambda s: (s.start.timestamp(), s.session)))


def _standing(desk: _Desk) -> tuple[PlanStanding, ...]:
    today = desk.now.date()
    in_use = {board.board for board, _ in desk.boards}
    found = []
    for one in desk.view.standing():
        p, dates = one.placement, one.dates
        if p.board not in in_use:
            continue
        free_on = _free_on(desk.view, one)
        if _comes_off(desk.view, one):
            damp = too_damp_today(desk.view, desk.view.answer_of(one))
            free_on = today + timedelta(days=damp)
        found.append(
            PlanStanding(
                specimen=p.specimen,
                board=p.board,
                from_mm=p.from_mm,
                to_mm=p.to_mm,
                due=dates.due,
                clear=dates.clear,
                free_on=free_on,
            )
        )
    return tuple(found)


def slot_days(min_days: int, plan_days: int, slot_pct: int) -> int:
    """Return the days after which a slot counts as free: `slot_pct` of the way to the plan's days.

    The result is rounded up.
    """
    return min_days - (-slot_pct * (plan_days - min_days) // 100)


def _comes_off(view: View, one: OnBoard) -> bool:
    """Say whether what stands is dry or worth a test, whatever today's air is."""
    return one.stiff or one.is_due(view.now.date())


def _slot_pct(rules: Rulebook) -> int:
    return round(rules.limit("slot_pct"))


def _free_on(view: View, one: OnBoard) -> date | None:
    """Return the date from which the slot of what does not come off yet counts as free."""
    due, clear = one.dates.due, one.dates.clear
    if due is None or clear is None:
        return clear
    return due + timedelta(days=slot_days(0, (clear - due).days, _slot_pct(view.rules)))


@dataclass(frozen=True, slots=True)
class _Desk:
    """What every specimen is checked against."""

    view: View
    rules: Rulebook
    now: datetime
    sessions: tuple[PlanSession, ...]
    boards: tuple[tuple[Board, Room], ...]
    takers: Takers

    def waiting(self, one: Unmounted) -> PlanWaiting | str:
        """Return how the specimen waits, or the reason when no board fits it."""
        specimen, size = one.specimen, one.size
        if size is None:
            return (
                "nothing to judge its size by: "
                "give body_mm, size, or wingspan_mm or forewing_mm with family or group"
            )
        family = self.rules.kin(specimen).row
        slot = slot_mm(size, family, self.rules)
        taking = self.takers.of(size, slot)
        if not taking.spare_mm:
            return misfit(size, slot, self.takers.fits(size, slot))
        return self._waiting(one, size, slot, taking)

    def _waiting(self, one: Unmounted, size: Size, slot: int, taking: Taking) -> PlanWaiting:
        specimen, soft = one.specimen, one.softening
        open_at = self._open_at(specimen)
        later = one.later
        if self._limp_today(one):
            later = (self._stiff_tomorrow(soft), *later)
            soft = soft._replace(chamber=False, first_look_hours=0.0)
        soft_at = soft.soft_at(open_at)
        rescued = any(phase.place is not None for phase in later)
        lost_at = soft.clock.lost_at if soft.clock and not rescued else None
        minutes = self.rules.minutes(size.body_mm)
        waiting = PlanWaiting(
            specimen=specimen.specimen,
            slot_mm=slot,
            body_mm=size.body_mm,
            minutes=minutes if specimen.minutes is None else specimen.minutes,
            priority=specimen.priority,
            open_at=open_at,
            soft_at=soft_at,
            first_look_hours=soft.first_look_hours,
            most_hours=soft.most_hours,
            chamber=soft.chamber,
            chamber_since=soft.since,
            lost_at=lost_at,
            lost_why=soft.clock.why if soft.clock else "",
            wanted_by=specimen.wanted_by,
            spare_mm=taking.spare_mm,
            pack=taking.pack,
            days=self._days(specimen, size, taking.rooms),
            first=0,
            last=-1,
            estimated=size.estimated,
            found_on=_found_on(specimen),
            later=later,
        )
        first, last = self._window(waiting)
        return replace(waiting, first=first, last=last)

    def _stiff_tomorrow(self, soft: Softening) -> Phase:
        """Return the phase from which on something limp today needs the chamber as usual."""
        midnight = datetime.combine(self.now.date() + timedelta(days=1), time(), self.now.tzinfo)
        return Phase(midnight, None, True, soft.first_look_hours, soft.most_hours)

    def _limp_today(self, one: Unmounted) -> bool:
        """Say whether it came fresh today and can be spread as it is (limp_when_fresh_days)."""
        came = one.specimen.available
        if one.specimen.state != "fresh" or came is None or one.kept is not None:
            return False
        days = (self.now.date() - came).days
        return one.softening.since is None and 0 <= days < self.rules.limit("limp_when_fresh_days")

    def _open_at(self, specimen: Specimen) -> datetime:
        if specimen.available is None:
            return self.now
        morning = datetime.combine(specimen.available, time(), self.now.tzinfo)
        return max(morning, self.now, key=datetime.timestamp)

    def _window(self, w: PlanWaiting) -> tuple[int, int]:
        """Return the first and the last session open to it; those in between are open too."""
        moments = [mount_moment(s, self.now) for s in self.sessions]
        last = len(moments) - 1
        if w.lost_at is not None:
            last = sum(m.timestamp() <= w.lost_at.timestamp() for m in moments) - 1
        soft = [self._soft_by(w, moment) for moment in moments[: last + 1]]
        first = next((k for k, is_soft in enumerate(soft) if is_soft), len(moments))
        while not all(soft[first:]):
            first += 1
        return first, last

    def _soft_by(self, w: PlanWaiting, moment: datetime) -> bool:
        phase = w.phase(moment)
        if phase.place is None and w.chamber_since is not None:
            return w.soft_at.timestamp() <= moment.timestamp()
        hours = phase.first_look_hours if phase.chamber else 0.0
        return hours_after(w.open_at, hours).timestamp() <= moment.timestamp()

    def _days(
        self, specimen: Specimen, size: Size, rooms: Sequence[Room]
    ) -> dict[str, BoardDays | None]:
        """Return the specimen's days in every room with a board that fits it."""
        found: dict[str, BoardDays | None] = {}
        for room in rooms:
            answer = self.view.time_in(specimen, size.body_mm, room)
            found[room.room] = None
            least, usual = answer.min_days, answer.plan_days
            if least is None or usual is None:
                continue
            if self.view.lessons:
                least, usual = self.view.lessons.days(specimen, size.body_mm, room, (least, usual))
            counted = slot_days(least, usual, _slot_pct(self.rules))
            found[room.room] = BoardDays(least, usual, answer.rule_ids, answer.basis, counted)
        return found
