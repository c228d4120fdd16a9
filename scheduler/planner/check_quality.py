"""The referee's own reckoning of a plan's quality, figure by figure.

`E` below is the problem's `end`; what is not placed counts as mounted, and clear, on E.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from scheduler.planner.check_facts import (
    Case,
    Fault,
    FaultKind,
    Lying,
    chamber_until,
    mounting_moment,
    put_in_time,
    utc,
    would_spoil,
)
from scheduler.planner.problem import PlanProblem, PlanSession, Waiting

_ROUNDING_MM = 0.05 + 1e-6
"""Half of the last shown place of `spare_groove_mm` (0.1 mm), and what floats lose."""


def quality_faults(case: Case) -> Iterator[Fault]:
    """Compare every figure of the plan's quality with the one reckoned here."""
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


def _spoiled(case: Case) -> list[Waiting]:
    """Return the specimens that this plan leaves to spoil."""
    placed = {one.plan.specimen for one in case.placed}
    rest = [one for one in case.problem.waiting if one.specimen not in placed]
    return [one for one in rest if would_spoil(case.problem, one)]


def _weighted_waiting_days(case: Case) -> int:
    """Sum priority x (days from soft to mounted + 2 x days on the board past wanted)."""
    end = case.problem.end
    dates = {one.plan.specimen: (one.session.on, one.clear or end) for one in case.placed}
    total = 0
    for one in case.problem.waiting:
        mounted, clear = dates.get(one.specimen, (end, end))
        days = (mounted - case.local_date(one.soft_at)).days
        if one.wanted_by is not None:
            days += 2 * max(0, (clear - one.wanted_by).days)
        total += one.priority * days
    return total


def _mean_spare_mm(case: Case) -> float:
    spare = [one.waiting.spare_mm[one.plan.board] for one in case.placed]
    return sum(spare) / len(spare) if spare else 0.0


def _blocked_board_days(case: Case) -> int:
    """Count the days on which a board holds one that could come off and one that cannot."""
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


def _unsavable_faults(case: Case, spoiled: list[Waiting]) -> Iterator[Fault]:
    """Check the excuse "no plan could save it", from both sides.

    Named are only specimens that spoil here and that could not even be mounted if nothing
    else were; named is at least what has no session or no board to go to.
    """
    named = case.plan.quality.unsavable
    spoiling = {one.specimen: one for one in spoiled}
    for specimen in named:
        if specimen not in spoiling:
            text = f"{specimen} is called unsavable, but does not spoil in this plan"
            yield Fault("unsavable", specimen, text)
        elif place := _place_for(case.problem, spoiling[specimen], case):
            text = f"{specimen} is called unsavable, but alone it can be mounted {place}"
            yield Fault("unsavable", specimen, text)
    for specimen, one in spoiling.items():
        nowhere = not one.spare_mm or not _open(case.problem, one)
        if nowhere and specimen not in named:
            text = f"{specimen} has no session or no board to go to: no plan could save it"
            yield Fault("unsavable", specimen, text)


def _open(problem: PlanProblem, one: Waiting) -> list[PlanSession]:
    """Return the sessions at which it is soft and not yet lost."""
    return [
        session
        for session in problem.sessions
        if utc(one.soft_at) <= mounting_moment(problem, session)
        and (one.lost_at is None or mounting_moment(problem, session) <= utc(one.lost_at))
    ]


def _place_for(problem: PlanProblem, one: Waiting, case: Case) -> str | None:
    """Say where `one` could be mounted if nothing else were, None if nowhere."""
    standing = case.standing
    for session in _open(problem, one):
        index = problem.sessions.index(session)
        taken_off = sum(lying.off == index for lying in standing)
        if taken_off * problem.take_off_min + one.minutes > session.minutes:
            continue
        if not _chamber_place(problem, one, session):
            continue
        for board in problem.boards:
            there = [x for x in standing if x.board == board.board and not _off_by(x, session)]
            start = _free_stretch(there, board.length_mm, one.slot_mm)
            if board.board in one.spare_mm and start is not None:
                return f"in {session.session} on {board.board} from {start} mm"
    return None


def _off_by(lying: Lying, session: PlanSession) -> bool:
    return lying.free_on is not None and lying.free_on <= session.on


def _free_stretch(there: list[Lying], length_mm: int, slot_mm: int) -> int | None:
    """Return where the first free stretch of `slot_mm` begins."""
    at = 0
    for lying in sorted(there, key=lambda x: x.from_mm):
        if lying.from_mm - at >= slot_mm:
            return at
        at = max(at, lying.to_mm)
    return at if length_mm - at >= slot_mm else None


def _chamber_place(problem: PlanProblem, one: Waiting, session: PlanSession) -> bool:
    """Tell whether those in the chamber now leave a place just before the session."""
    if problem.chamber_places is None or one.chamber_since is not None or not one.chamber:
        return True
    moment = put_in_time(problem, one, mounting_moment(problem, session))
    leaving = [chamber_until(x) for x in problem.waiting]
    return sum(out is not None and out > moment for out in leaving) < problem.chamber_places
