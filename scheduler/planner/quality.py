"""How good a plan is: the four tiers, each in its own unit.

1. the priority of what spoils; 2. weighted days of waiting and of standing longer than wished, and
the prices of packed grooves and of what is left on too long; 3. the mean spare groove [mm];
4. blocked board-days: days on which one specimen's slot on a board counts as free and another's
on the same board does not.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from math import fsum
from typing import NamedTuple

from scheduler.planner.bench import aged
from scheduler.planner.problem import Planned, PlanProblem, PlanWaiting, Quality
from scheduler.planner.state import PlanBench, PlanState, roomiest


class _Spell(NamedTuple):
    """One specimen's days on a board, as bits counted from the day of the plan."""

    past: int
    not_yet: int


def quality(
    problem: PlanProblem,
    placements: Sequence[Planned],
    off: Mapping[str, str],
    *,
    lost: Sequence[str] | None = None,
) -> Quality:
    """Return the quality of placements; `off` is the session at which each comes off, if it does.

    `lost` is the result of `unsavable` where it is known already.
    """
    planned = {p.specimen: p for p in placements}
    on = {s.session: s.on for s in problem.sessions}
    spoiled, weight, waiting_days = 0, 0, _left_days(problem, off)
    spare: list[float] = []
    weights, rooms = problem.weights, {b.board: b.room for b in problem.boards}
    for w in problem.waiting:
        p = planned.get(w.specimen)
        mounted = problem.end if p is None else on[p.session]
        free = None if p is None else _free_on(rooms[p.board], w, mounted)
        late = 0 if w.wanted_by is None else max(0, ((free or problem.end) - w.wanted_by).days)
        soft = w.soft_at.date()
        found = min(soft, w.found_on or soft)
        waited = aged((mounted - found).days, weights) - aged((soft - found).days, weights)
        waiting_days += w.priority * (waited + weights.late_days * late)
        if p is not None and p.board in w.pack:
            waiting_days += weights.packed_days
        if w.lost_at is not None and mounted > w.lost_at.date():
            spoiled += 1
            weight += w.priority
        if p is not None:
            spare.append(w.spare_mm[p.board])
    return Quality(
        spoiled_priority=weight,
        weighted_waiting_days=waiting_days,
        spare_groove_mm=round(fsum(spare) / len(placements), 1) if placements else 0.0,
        blocked_board_days=_blocked_board_days(problem, placements, on, off),
        spoiled=spoiled,
        unsavable=tuple(unsavable(PlanBench(problem)) if lost is None else lost),
    )


def _free_on(room: str, w: PlanWaiting, mounted: date) -> date | None:
    """Return the date from which a slot counts as free, None where the air gives no time."""
    days = w.days[room]
    return None if days is None else mounted + timedelta(days=days.free_days)


def _left_days(problem: PlanProblem, off: Mapping[str, str]) -> int:
    """Return the price of what stands and is left on longer than it may wait."""
    number = {s.session: k for k, s in enumerate(problem.sessions)}
    days = [s.on for s in problem.sessions]
    late = 0
    for s in problem.standing:
        first = len(days) if s.free_on is None else bisect_left(days, s.free_on)
        at = number[off[s.specimen]] if s.specimen in off else len(days)
        late += first < len(days) and at > min(first + problem.weights.off_sessions, len(days) - 1)
    return late * problem.weights.left_days


def unsavable(bench: PlanBench) -> tuple[str, ...]:
    """Return what spoils in every plan: it would find no slot even if nothing else were planned.

    What stands comes off as soon as it may, and that takes no minutes.
    """
    empty = roomiest(bench)
    return tuple(
        bench.waiting[number].specimen
        for number, spoils in enumerate(bench.would_spoil)
        if spoils and not _saved_alone(empty, number)
    )


def _saved_alone(empty: PlanState, number: int) -> bool:
    # The chamber does not count: what is in it now may be mounted earlier and make room.
    w = empty.bench.waiting[number]
    choices = empty.bench.choices[number] + empty.bench.refused[number]
    return any(
        empty.slots(number, session, choice)
        for session in range(w.first, w.last + 1)
        if empty.has_minutes(number, session)
        for choice in choices
    )


def _blocked_board_days(
    problem: PlanProblem,
    placements: Sequence[Planned],
    on: Mapping[str, date],
    off_at: Mapping[str, str],
) -> int:
    today = problem.now.date()
    length = (problem.end - today).days
    spells: dict[str, list[_Spell]] = {}

    def up_to(day: date) -> int:
        """Return the days before `day` as bits."""
        return (1 << min(length, max(0, (day - today).days))) - 1

    def add(name: str, board: str, since: date, free_on: date | None) -> None:
        off = on[off_at[name]] if name in off_at else problem.end
        not_yet = up_to(free_on or problem.end)
        present = up_to(off) & ~up_to(since)
        spells.setdefault(board, []).append(_Spell(present & ~not_yet, present & not_yet))

    for s in problem.standing:
        add(s.specimen, s.board, today, s.free_on)
    waiting = {w.specimen: w for w in problem.waiting}
    rooms = {b.board: b.room for b in problem.boards}
    for p in placements:
        day = on[p.session]
        add(p.specimen, p.board, day, _free_on(rooms[p.board], waiting[p.specimen], day))
    return sum(_blocked(board) for board in spells.values())


def _blocked(spells: list[_Spell]) -> int:
    """Return the number of days on which one slot of the board is free and another is not."""
    past = not_yet = 0
    for spell in spells:
        past |= spell.past
        not_yet |= spell.not_yet
    return (past & not_yet).bit_count()
