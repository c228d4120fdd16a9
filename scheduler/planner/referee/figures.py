"""The referee works out a plan's quality by itself, figure by figure.

What is not placed counts as mounted, and as clear, on the problem's `end`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta

from scheduler.planner.problem import PlanBoard, PlanSession, PlanWaiting
from scheduler.planner.referee.facts import (
    Case,
    Fault,
    FaultKind,
    Lying,
    chamber_until,
    counted_days,
    first_session,
    mounting_moment,
    put_in_time,
    utc,
    would_spoil,
)

_ROUNDING_MM = 0.05 + 1e-6
"""Half of the last shown place of `spare_groove_mm` (0.1 mm), and floating-point error."""


def quality_faults(case: Case) -> Iterator[Fault]:
    """Yield a fault for every figure of the plan's quality that differs from the one found here."""
    stated = case.plan.quality
    spoiled = _spoiled(case)
    exact: list[tuple[FaultKind, int, int]] = [
        ("spoiled", stated.spoiled, len(spoiled)),
        ("spoiled_priority", stated.spoiled_priority, sum(one.priority for one in spoiled)),
        ("weighted_waiting_days", stated.weighted_waiting_days, _weighted_waiting_days(case)),
        ("blocked_board_days", stated.blocked_board_days, _blocked_board_days(case)),
    ]
    for kind, said, reckoned in exact:
        if said != reckoned:
            yield Fault(kind, None, f"{kind}: the plan says {said}, reckoned {reckoned}")
    mean = _mean_spare_mm(case)
    if abs(stated.spare_groove_mm - mean) > _ROUNDING_MM:
        text = f"the plan says {stated.spare_groove_mm} mm, reckoned {mean:.3f} mm"
        yield Fault("spare_groove_mm", None, f"spare_groove_mm: {text}")
    yield from _unsavable_faults(case, spoiled)


def _spoiled(case: Case) -> list[PlanWaiting]:
    """Return the specimens that this plan leaves to spoil."""
    placed = {one.plan.specimen for one in case.placed}
    rest = [one for one in case.problem.waiting if one.specimen not in placed]
    return [one for one in rest if would_spoil(case.problem, one)]


def _weighted_waiting_days(case: Case) -> int:
    """Return tier 2 [weighted days].

    It is the sum of priority x (days from soft to mounted, which count more with age, and days on
    the board past the wished date), and the prices of packed grooves and of what is left on.
    """
    end, weights = case.problem.end, case.problem.weights
    dates = {one.plan.specimen: (one.session.on, one.free_on or end) for one in case.placed}
    total = 0
    for one in case.problem.waiting:
        mounted, free = dates.get(one.specimen, (end, end))
        days = _counted(case, one, mounted)
        if one.wanted_by is not None:
            days += weights.late_days * max(0, (free - one.wanted_by).days)
        total += one.priority * days
    packed = sum(one.plan.board in one.waiting.pack for one in case.placed)
    return total + packed * weights.packed_days + _left_on(case) * weights.left_days


def _left_on(case: Case) -> int:
    """Return how many standing ones are still on after they waited as many sessions as they may."""
    last, wait = len(case.problem.sessions) - 1, case.problem.weights.off_sessions
    return sum(
        one.off is None or one.off > min(one.earliest + wait, last)
        for one in case.standing
        if one.earliest is not None
    )


def _counted(case: Case, one: PlanWaiting, mounted: date) -> int:
    """Return what the days from soft to mounted count for; at the doubling age a day counts 2.

    Days up to an age count age + age^2 / (2 x doubling age), in whole days.
    """
    soft, doubles = case.local_date(one.soft_at), case.problem.weights.age_doubles_days
    found = min(soft, one.found_on or soft)
    ages = [(day - found).days for day in (soft, mounted)]
    if doubles:
        ages = [age + age**2 // (2 * doubles) for age in ages]
    return ages[1] - ages[0]


def _mean_spare_mm(case: Case) -> float:
    spare = [one.waiting.spare_mm[one.plan.board] for one in case.placed]
    return sum(spare) / len(spare) if spare else 0.0


def _blocked_board_days(case: Case) -> int:
    """Return the board-days on which one specimen could come off and another could not yet."""
    return sum(len(_blocked(case, lying)) for lying in case.by_board().values())


def _blocked(case: Case, on_board: list[Lying]) -> set[date]:
    end, sessions = case.problem.end, case.problem.sessions
    today = case.local_date(case.problem.now)
    could_come_off: set[date] = set()
    must_stay: set[date] = set()
    for one in on_board:
        must_stay.update(_days(max(today, one.on), min(one.free_on or end, end)))
        if one.free_on is not None:
            off = end if one.off is None else sessions[one.off].on
            could_come_off.update(_days(max(today, one.free_on), min(off, end)))
    return could_come_off & must_stay


def _days(start: date, end: date) -> list[date]:
    return [start + timedelta(days=n) for n in range((end - start).days)]


def _unsavable_faults(case: Case, spoiled: list[PlanWaiting]) -> Iterator[Fault]:
    """Check the specimens that the plan calls unsavable, in both directions.

    It may name only what spoils here and could not be mounted even if nothing else were. It must
    name what could not be mounted then even in a chamber without limit: others that leave the
    chamber early may make a place in it, but nothing makes more groove or minutes.
    """
    named = case.plan.quality.unsavable
    spoiling = {one.specimen: one for one in spoiled}
    room = _Room(case)
    for specimen in named:
        if specimen not in spoiling:
            text = f"{specimen} is called unsavable, but does not spoil in this plan"
            yield Fault("unsavable", specimen, text)
        elif place := room.place_for(spoiling[specimen], limited_chamber=True):
            text = f"{specimen} is called unsavable, but alone it can be mounted {place}"
            yield Fault("unsavable", specimen, text)
    for specimen in sorted(spoiling.keys() - set(named)):
        if room.place_for(spoiling[specimen], limited_chamber=False) is None:
            text = f"{specimen} has no session, no board or no groove to go to: it is unsavable"
            yield Fault("unsavable", specimen, text)


class _Room:
    """The groove, minutes and places in the chamber that there are when nothing is planned."""

    def __init__(self, case: Case) -> None:
        self.problem = case.problem
        standing: dict[str, list[Lying]] = {}
        for one in sorted(case.standing, key=lambda x: x.from_mm):
            standing.setdefault(one.board, []).append(one)
        boards = case.problem.boards
        self.room = {x.board: x.room for x in boards}
        self.longest_mm = [
            {x.board: _longest_free_mm(x, standing.get(x.board, ()), session) for x in boards}
            for session in case.problem.sessions
        ]
        self.minutes = [session.minutes for session in case.problem.sessions]
        self.out = [out for x in case.problem.waiting if (out := chamber_until(x))]

    def place_for(self, one: PlanWaiting, *, limited_chamber: bool) -> str | None:
        """Say where `one` could be mounted if nothing else were, None if nowhere."""
        for k, session in enumerate(self.problem.sessions):
            moment = mounting_moment(self.problem, session)
            in_time = utc(one.soft_at) <= moment
            lost = one.lost_at is not None and utc(one.lost_at) < moment
            if not in_time or lost or one.minutes > self.minutes[k]:
                continue
            if limited_chamber and not self._chamber_place(one, moment):
                continue
            for board in one.spare_mm:
                longest_mm = self.longest_mm[k].get(board, 0)
                if longest_mm >= one.slot_mm and self._comes_off(one, board, k):
                    return f"in {session.session} on {board}"
        return None

    def _comes_off(self, one: PlanWaiting, board: str, k: int) -> bool:
        """Tell whether any session at which `one` may be taken off has the minutes for it."""
        days = one.days[self.room[board]]
        if days is None:
            return True
        free = self.problem.sessions[k].on + timedelta(days=counted_days(days))
        off = first_session(self.problem.sessions, free, after=k)
        if off is None:
            return True
        may = self.minutes[off : off + self.problem.weights.off_sessions + 1]
        return max(may) >= self.problem.take_off_min

    def _chamber_place(self, one: PlanWaiting, mount_at: datetime) -> bool:
        """Tell whether those in the chamber now leave a place when `one` goes in."""
        places = self.problem.chamber_places
        if places is None or one.chamber_since is not None or not one.chamber:
            return True
        moment = put_in_time(self.problem, one, mount_at)
        return sum(out > moment for out in self.out) < places


def _longest_free_mm(board: PlanBoard, standing: Sequence[Lying], session: PlanSession) -> int:
    """Return the longest free stretch [mm] between standing ones that cannot be off by then.

    `standing` must be in order of its mm.
    """
    at, longest = 0, 0
    drying = [one for one in standing if one.free_on is None or one.free_on > session.on]
    if drying and board.refill == "whole":
        return 0
    if board.refill == "end":
        return board.length_mm - max((one.to_mm for one in drying), default=0)
    for one in standing:
        if one.free_on is None or one.free_on > session.on:
            longest = max(longest, one.from_mm - at)
            at = max(at, one.to_mm)
    return max(longest, board.length_mm - at)
