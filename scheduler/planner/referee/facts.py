"""What the referee reads from a problem and a plan before it judges.

What can be worked out from the problem is not taken from the plan. No code is shared with the
search.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from scheduler.drying.later import Phase
from scheduler.planner.problem import (
    BoardDays,
    Plan,
    PlanBoard,
    Planned,
    PlanProblem,
    PlanSession,
    PlanStanding,
    PlanWaiting,
)

FaultKind = Literal[
    "unknown specimen",
    "unknown board",
    "unknown session",
    "named twice",
    "planned and unplaced",
    "forgotten",
    "no reason",
    "slot length",
    "past the end",
    "wrong groove",
    "overlaps planned",
    "overlaps standing",
    "refill",
    "not soft",
    "lost",
    "not open",
    "mount_at",
    "chamber start",
    "before available",
    "relaxed too short",
    "relaxed too long",
    "put-in time",
    "out_by",
    "chamber full",
    "too many minutes",
    "take-offs ignored",
    "taken off",
    "two pairs of hands",
    "wrong minutes",
    "no time",
    "wrong due",
    "wrong clear",
    "wrong days",
    "wrong rules",
    "after",
    "spoiled_priority",
    "weighted_waiting_days",
    "spare_groove_mm",
    "blocked_board_days",
    "spoiled",
    "unsavable",
]


@dataclass(frozen=True, slots=True)
class Fault:
    """One reason to reject a plan; `specimen` is None when it concerns no single one."""

    kind: FaultKind
    specimen: str | None
    message: str


def utc(moment: datetime) -> datetime:
    """Return `moment` in UTC, since Python adds and compares local times as a wall clock would.

    Hours in the chamber are hours that pass, so a night on which the clocks change has its true
    length.
    """
    return moment.astimezone(UTC)


def hours(count: float) -> timedelta:
    """Return `count` hours as a duration."""
    return timedelta(hours=count)


def mounting_moment(problem: PlanProblem, session: PlanSession) -> datetime:
    """Return when mounting begins (UTC): at the session's start, in a running session now."""
    start = utc(session.start)
    return max(start, utc(problem.now)) if session.running else start


def way_at(waiting: PlanWaiting, mount_at: datetime) -> Phase:
    """Return how a specimen is softened for `mount_at` (UTC): the last way begun by then."""
    first = Phase(
        waiting.open_at,
        None,
        waiting.chamber,
        waiting.first_look_hours,
        waiting.most_hours,
    )
    return [first, *(way for way in waiting.later if utc(way.since) <= mount_at)][-1]


def put_in_time(problem: PlanProblem, waiting: PlanWaiting, mount_at: datetime) -> datetime:
    """Return when a specimen goes into the chamber (UTC) to be mounted at `mount_at` (UTC).

    It is the latest daily chamber time that keeps first look and most hours, and at which the
    specimen is available; where there is none, the first look falls on the mounting itself.
    """
    zone, way = ZoneInfo(problem.timezone), way_at(waiting, mount_at)
    day = mount_at.astimezone(zone).date()
    while True:
        moment = utc(datetime.combine(day, problem.chamber_time, zone))
        too_long = moment + hours(way.most_hours) < mount_at
        if too_long or moment < utc(waiting.open_at):
            return mount_at - hours(way.first_look_hours)
        if moment + hours(way.first_look_hours) <= mount_at:
            return moment
        day -= timedelta(days=1)


def chamber_until(waiting: PlanWaiting) -> datetime | None:
    """Return when one in the chamber must come out (UTC) if it is not mounted, None if outside."""
    if waiting.chamber_since is None:
        return None
    out = utc(waiting.chamber_since) + hours(waiting.most_hours)
    return out if waiting.lost_at is None else min(out, utc(waiting.lost_at))


def would_spoil(problem: PlanProblem, waiting: PlanWaiting) -> bool:
    """Tell whether a specimen is lost if it is not mounted in this plan."""
    if waiting.lost_at is None:
        return False
    return waiting.lost_at.astimezone(ZoneInfo(problem.timezone)).date() < problem.end


def first_session(sessions: Sequence[PlanSession], day: date | None, *, after: int) -> int | None:
    """Return the first session's index above `after` that is not before `day`, None if none."""
    if day is None:
        return None
    return next((k for k in range(after + 1, len(sessions)) if sessions[k].on >= day), None)


def counted_days(days: BoardDays) -> int:
    """Return the days from mounting until a slot counts as free."""
    return days.plan_days if days.slot_days is None else days.slot_days


@dataclass(frozen=True, slots=True)
class Placed:
    """A planned placement whose specimen, board and session all exist."""

    plan: Planned
    waiting: PlanWaiting
    board: PlanBoard
    session: PlanSession
    index: int
    mount_at: datetime

    @property
    def fits(self) -> bool:
        """Tell whether the specimen fits the board."""
        return self.plan.board in self.waiting.spare_mm

    @property
    def days(self) -> BoardDays | None:
        """Return its days in the board's room, None where the air gives no time."""
        return self.waiting.days.get(self.board.room)

    @property
    def clear(self) -> date | None:
        """Return the clear date by the problem's days, or the plan's where it does not fit."""
        if not self.fits:
            return self.plan.clear
        return self.session.on + timedelta(days=self.days.plan_days) if self.days else None

    @property
    def free_on(self) -> date | None:
        """Return the first date on which the slot counts as free, None where there is none."""
        if not self.fits or self.days is None:
            return self.clear
        return self.session.on + timedelta(days=counted_days(self.days))


@dataclass(frozen=True, slots=True)
class Lying:
    """One specimen in one slot, standing (`index` -1) or planned, until it is taken off.

    `index` is the number of its session. `on` is its mounting date (the plan's date for what
    stands), `free_on` the first date on which the slot counts as free, `earliest` the index of the
    first session at which it may come off, and `off` of the one at which it does; None means never
    within the plan.
    """

    specimen: str
    board: str
    from_mm: int
    to_mm: int
    index: int
    on: date
    free_on: date | None
    earliest: int | None
    off: int | None

    @property
    def stands(self) -> bool:
        """Tell whether it is mounted already."""
        return self.index < 0

    def meets(self, other: Lying) -> bool:
        """Tell whether both lie on the same mm of the same board, at the same time or not."""
        same = self.board == other.board
        return same and self.from_mm < other.to_mm and other.from_mm < self.to_mm


@dataclass(frozen=True, slots=True)
class Case:
    """A problem and a plan, prepared for judging; `planned` are the slots of `placed`."""

    problem: PlanProblem
    plan: Plan
    placed: tuple[Placed, ...]
    standing: tuple[Lying, ...]
    planned: tuple[Lying, ...]

    @property
    def zone(self) -> ZoneInfo:
        """Return the record's zone."""
        return ZoneInfo(self.problem.timezone)

    def local_date(self, moment: datetime) -> date:
        """Return the local date of `moment`."""
        return moment.astimezone(self.zone).date()

    def by_board(self) -> dict[str, list[Lying]]:
        """Return what lies on each board over the whole plan, from its left end."""
        boards: dict[str, list[Lying]] = {}
        lying_anywhere = self.standing + self.planned
        for lying in sorted(lying_anywhere, key=lambda x: (x.from_mm, x.to_mm, x.specimen)):
            boards.setdefault(lying.board, []).append(lying)
        return boards


def read_case(problem: PlanProblem, plan: Plan) -> Case:
    """Return a case with the placements whose names all exist, and all that lies on boards."""
    placed = tuple(_placed(problem, plan.placements))
    today = problem.now.astimezone(ZoneInfo(problem.timezone)).date()
    standing = tuple(_standing(problem, plan, one, today) for one in problem.standing)
    planned = tuple(_planned(problem, one, plan) for one in placed)
    return Case(problem, plan, placed, standing, planned)


def _placed(problem: PlanProblem, placements: Iterable[Planned]) -> Iterable[Placed]:
    waiting = {one.specimen: one for one in problem.waiting}
    boards = {board.board: board for board in problem.boards}
    index = {session.session: k for k, session in enumerate(problem.sessions)}
    for plan in placements:
        if plan.specimen in waiting and plan.board in boards and plan.session in index:
            k = index[plan.session]
            session = problem.sessions[k]
            moment = mounting_moment(problem, session)
            yield Placed(plan, waiting[plan.specimen], boards[plan.board], session, k, moment)


def _standing(problem: PlanProblem, plan: Plan, one: PlanStanding, today: date) -> Lying:
    free_on = one.free_on
    earliest = first_session(problem.sessions, free_on, after=-1)
    off = _off(problem, plan, one.specimen)
    slot = one.from_mm, one.to_mm
    return Lying(one.specimen, one.board, *slot, -1, today, free_on, earliest, off)


def _planned(problem: PlanProblem, one: Placed, whole: Plan) -> Lying:
    plan, on, free_on = one.plan, one.session.on, one.free_on
    earliest = first_session(problem.sessions, free_on, after=one.index)
    off = _off(problem, whole, one.plan.specimen)
    slot = plan.from_mm, plan.to_mm
    return Lying(plan.specimen, plan.board, *slot, one.index, on, free_on, earliest, off)


def _off(problem: PlanProblem, plan: Plan, specimen: str) -> int | None:
    """Return the index of the session at which the plan takes a specimen off, None if none."""
    said = plan.off.get(specimen)
    return next((k for k, s in enumerate(problem.sessions) if s.session == said), None)
