"""The referee: it says whether a plan can be carried out, and whether its figures are true.

It is deliberately simple: names are looked up, slots are compared two by two on each board, the
chamber is followed moment by moment, minutes are added, dates are counted in days. It shares no
code with the search. The quality is checked only for a plan that has no other fault: the figures
of a plan that cannot be carried out mean nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import combinations

from scheduler.drying.later import Phase
from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.referee.facts import (
    Case,
    Fault,
    FaultKind,
    Lying,
    Placed,
    chamber_until,
    hours,
    put_in_time,
    read_case,
    utc,
    way_at,
    would_spoil,
)
from scheduler.planner.referee.figures import quality_faults
from scheduler.planner.referee.names import name_faults
from scheduler.planner.referee.off import off_faults

__all__ = ["Fault", "FaultKind", "judge"]


def judge(problem: PlanProblem, plan: Plan) -> list[Fault]:
    """Return every reason to reject `plan`; with none, it is valid and its figures are true."""
    case = read_case(problem, plan)
    faults = list(name_faults(problem, plan))
    for one in case.placed:
        faults += _slot_faults(one)
        faults += _moment_faults(case, one)
        faults += _date_faults(case, one)
    faults += _overlap_faults(case)
    faults += _refill_faults(case)
    faults += off_faults(case)
    faults += _after_faults(case)
    faults += _chamber_faults(case)
    faults += _minutes_faults(case)
    faults += _hands_faults(case)
    return faults or list(quality_faults(case))


def _slot_faults(one: Placed) -> Iterator[Fault]:
    """Check the slot's length and ends, and that the specimen fits the board."""
    plan, name = one.plan, one.plan.specimen
    where = f"{name} on {plan.board} from {plan.from_mm} to {plan.to_mm} mm"
    length = plan.to_mm - plan.from_mm
    if length != one.waiting.slot_mm:
        text = f"{where}: {length} mm, it needs {one.waiting.slot_mm} mm"
        yield Fault("slot length", name, text)
    if plan.from_mm < 0 or plan.to_mm > one.board.length_mm:
        text = f"{where}: the groove is {one.board.length_mm} mm long"
        yield Fault("past the end", name, text)
    if not one.fits:
        fitting = ", ".join(sorted(one.waiting.spare_mm)) or "no board"
        text = f"{where}: a body of {one.waiting.body_mm} mm fits {fitting}"
        yield Fault("wrong groove", name, text)


def _moment_faults(case: Case, one: Placed) -> Iterator[Fault]:
    """Check that the session is open to the specimen, then its time in the chamber."""
    waiting, name, session = one.waiting, one.plan.specimen, one.session.session
    if utc(one.plan.mount_at) != one.mount_at:
        said, true = _clock(case, one.plan.mount_at), _clock(case, one.mount_at)
        text = f"{name}: mounting in {session} begins {true}, the plan says {said}"
        yield Fault("mount_at", name, text)
    mount = _clock(case, one.mount_at)
    way = way_at(waiting, one.mount_at)
    least = hours(way.first_look_hours if way.chamber else 0)
    soft = utc(waiting.soft_at) <= one.mount_at
    if way.place is not None or waiting.later:
        soft = utc(waiting.open_at) + least <= one.mount_at or waiting.chamber_since is not None
    lost = waiting.lost_at is not None and utc(waiting.lost_at) < one.mount_at
    if not soft:
        text = f"{name} is soft from {_clock(case, waiting.soft_at)}, {session} is {mount}"
        yield Fault("not soft", name, text)
    if waiting.lost_at is not None and lost:
        text = f"{name} is lost after {_clock(case, waiting.lost_at)}, {session} is {mount}"
        yield Fault("lost", name, text)
    if soft and not lost:
        if not waiting.first <= one.index <= waiting.last:
            text = f"{name}: {session} is not among the sessions open to it"
            yield Fault("not open", name, text)
        yield from _relaxing_faults(case, one)


def _relaxing_faults(case: Case, one: Placed) -> Iterator[Fault]:
    """Check when the specimen goes into the chamber and when it must be out."""
    plan, waiting, name = one.plan, one.waiting, one.plan.specimen
    way = way_at(waiting, one.mount_at)
    since = waiting.chamber_since if way.place is None else None
    if since is not None and (plan.relax_from is None or utc(plan.relax_from) != utc(since)):
        said, true = _clock(case, plan.relax_from), _clock(case, since)
        text = f"{name} is in the chamber since {true}, the plan says {said}"
        yield Fault("chamber start", name, text)
    elif since is None and not way.chamber:
        if plan.relax_from is not None or plan.out_by is not None:
            yield Fault("put-in time", name, f"{name} needs no chamber")
    elif plan.relax_from is None:
        yield Fault("put-in time", name, f"{name} needs the chamber, the plan has no moment for it")
    else:
        put_in = utc(plan.relax_from)
        if not (faults := list(_hours_faults(case, one, put_in, way))) and since is None:
            best = put_in_time(case.problem, waiting, one.mount_at)
            if put_in != best:
                said, true = _clock(case, put_in), _clock(case, best)
                text = f"{name} goes into the chamber {true}, the plan says {said}"
                faults.append(Fault("put-in time", name, text))
        yield from faults
        out_by = put_in + hours(way.most_hours)
        if plan.out_by is None or utc(plan.out_by) != out_by:
            said, true = _clock(case, plan.out_by), _clock(case, out_by)
            yield Fault("out_by", name, f"{name} must be out by {true}, the plan says {said}")


def _hours_faults(case: Case, one: Placed, put_in: datetime, way: Phase) -> Iterator[Fault]:
    waiting, name = one.waiting, one.plan.specimen
    spent = (one.mount_at - put_in) / timedelta(hours=1)
    inside = waiting.chamber_since is not None and way.place is None
    if not inside and put_in < utc(waiting.open_at):
        said, open_at = _clock(case, put_in), _clock(case, waiting.open_at)
        text = f"{name} can go into the chamber from {open_at}, the plan says {said}"
        yield Fault("before available", name, text)
    if put_in + hours(way.first_look_hours) > one.mount_at:
        text = f"{name}: {spent:.2f} h in the chamber, at least {way.first_look_hours:g} h"
        yield Fault("relaxed too short", name, text)
    if put_in + hours(way.most_hours) < one.mount_at:
        text = f"{name}: {spent:.2f} h in the chamber, at most {way.most_hours:g} h"
        yield Fault("relaxed too long", name, text)


def _date_faults(case: Case, one: Placed) -> Iterator[Fault]:
    """Check minutes, dates, days and rules against the board's room."""
    plan, name, room = one.plan, one.plan.specimen, one.board.room
    if plan.minutes != one.waiting.minutes:
        text = f"{name} takes {one.waiting.minutes} min, the plan says {plan.minutes}"
        yield Fault("wrong minutes", name, text)
    if not one.fits:
        return
    days = one.days
    if days is None and not would_spoil(case.problem, one.waiting):
        text = f"{name} on {plan.board}: the air of {room} gives no time, and it would not spoil"
        yield Fault("no time", name, text)
    due = one.session.on + timedelta(days=days.min_days) if days else None
    if plan.due != due:
        yield Fault("wrong due", name, f"{name}: due {due}, the plan says {plan.due}")
    if plan.clear != one.clear:
        yield Fault("wrong clear", name, f"{name}: clear {one.clear}, the plan says {plan.clear}")
    true_days = (days.min_days, days.plan_days) if days else (None, None)
    if (plan.min_days, plan.plan_days) != true_days:
        text = f"{name}: {true_days} days in {room}, the plan says "
        yield Fault("wrong days", name, f"{text}{(plan.min_days, plan.plan_days)}")
    true_rules = (days.rule_ids, days.basis) if days else ((), None)
    if (plan.rule_ids, plan.basis) != true_rules:
        text = f"{name}: rules and basis in {room} are {true_rules}, the plan says "
        yield Fault("wrong rules", name, f"{text}{(plan.rule_ids, plan.basis)}")


def _overlap_faults(case: Case) -> Iterator[Fault]:
    """Find pairs that lie on the same mm of a board, the first of which is not off in time."""
    for on_board in case.by_board().values():
        for i, left in enumerate(on_board):
            for right in on_board[i + 1 :]:
                if right.from_mm >= left.to_mm:
                    break
                first, then = sorted((left, right), key=lambda x: x.index)
                if left.meets(right) and not then.stands and not _off_in_time(first, then):
                    yield _overlap(first, then)


def _off_in_time(first: Lying, then: Lying) -> bool:
    return first.index < then.index and first.off is not None and first.off <= then.index


def _refill_faults(case: Case) -> Iterator[Fault]:
    """Find what joins drying specimens on a board where its `refill` does not allow it."""
    refill = {board.board: board.refill for board in case.problem.boards}
    for board, on_board in case.by_board().items():
        if refill[board] == "any":
            continue
        for first in on_board:
            for then in on_board:
                if first.index >= then.index or _off_in_time(first, then):
                    continue
                if refill[board] == "whole" or then.from_mm < first.to_mm:
                    text = f"{then.specimen} joins {first.specimen}, which dries on {board}"
                    yield Fault("refill", then.specimen, f"{text} (refill {refill[board]})")


def _overlap(first: Lying, then: Lying) -> Fault:
    until = "to the end of the plan"
    if first.off is not None:
        until = f"until its session {first.off + 1} of the plan"
    text = (
        f"{then.specimen} on {then.board} from {then.from_mm} to {then.to_mm} mm on {then.on}: "
        f"{first.specimen} lies from {first.from_mm} to {first.to_mm} mm {until}"
    )
    kind: FaultKind = "overlaps standing" if first.stands else "overlaps planned"
    return Fault(kind, then.specimen, text)


def _after_faults(case: Case) -> Iterator[Fault]:
    """Check that each placement names what must be tested and taken off first.

    Every standing specimen on its mm must be named; a planned one that was there may be named.
    """
    by_board = case.by_board()
    for one, slot in zip(case.placed, case.planned, strict=True):
        gone = [x for x in by_board[slot.board] if x.meets(slot) and _off_in_time(x, slot)]
        must = {x.specimen for x in gone if x.stands}
        may = {x.specimen for x in gone}
        named = set(one.plan.after)
        if len(named) < len(one.plan.after) or not must <= named <= may:
            text = f"after {_names(must)}, the plan says after {_names(named)}"
            yield Fault("after", slot.specimen, f"{slot.specimen} on {slot.board}: {text}")


def _names(specimens: set[str]) -> str:
    return ", ".join(sorted(specimens)) or "nothing"


def _chamber_faults(case: Case) -> Iterator[Fault]:
    """Follow the chamber from moment to moment; only putting one in can make it too full.

    What is in the chamber already counts, but is never a fault of the plan.
    """
    places = case.problem.chamber_places
    if places is None:
        return
    moments: list[tuple[datetime, int, str]] = []
    for specimen, since, until, put_in in _chamber_stays(case):
        if since < until:
            moments.append((until, 0, specimen))
            moments.append((since, 2 if put_in else 1, specimen))
    inside = 0
    for moment, what, specimen in sorted(moments):
        inside += 1 if what else -1
        if what == 2 and inside > places:
            text = f"{specimen} goes into the chamber {_clock(case, moment)}"
            yield Fault("chamber full", specimen, f"{text}: {inside} inside, {places} places")


def _chamber_stays(case: Case) -> Iterator[tuple[str, datetime, datetime, bool]]:
    """Yield specimen, start, end (UTC) and whether the plan puts it in."""
    for one in case.placed:
        since = one.waiting.chamber_since
        if way_at(one.waiting, one.mount_at).place is not None:
            since = None
        start = since if since is not None else one.plan.relax_from
        if start is not None:
            yield one.plan.specimen, utc(start), one.mount_at, since is None
    planned = {one.plan.specimen for one in case.placed}
    for waiting in case.problem.waiting:
        until = chamber_until(waiting)
        if waiting.specimen not in planned and waiting.chamber_since and until:
            yield waiting.specimen, utc(waiting.chamber_since), until, False


def _minutes_faults(case: Case) -> Iterator[Fault]:
    """Check that each session has the minutes for its mounting and taking off."""
    mounting = Counter[int]()
    for one in case.placed:
        mounting[one.index] += one.waiting.minutes
    may = (lying for lying in case.standing + case.planned if lying.earliest is not None)
    taken_off = Counter(lying.off for lying in may)
    for k in range(len(case.problem.sessions)):
        session, minutes, count = case.problem.sessions[k], mounting[k], taken_off[k]
        off_minutes = count * case.problem.take_off_min
        text = f"{session.session} has {session.minutes} min: {minutes} min of mounting"
        if minutes > session.minutes:
            yield Fault("too many minutes", None, text)
        elif minutes + off_minutes > session.minutes:
            text += f" and {off_minutes} min to take off {count}"
            yield Fault("take-offs ignored", None, text)


def _hands_faults(case: Case) -> Iterator[Fault]:
    """Check that no board is mounted on in two sessions at the same time."""
    boards: dict[int, dict[str, str]] = {}
    times: dict[int, tuple[datetime, datetime]] = {}
    for one in case.placed:
        boards.setdefault(one.index, {})[one.plan.board] = one.plan.specimen
        end = one.mount_at + timedelta(minutes=one.session.minutes)
        times[one.index] = one.mount_at, end
    for k, j in combinations(sorted(boards), 2):
        if times[j][0] < times[k][1] and times[k][0] < times[j][1]:
            for board in sorted(boards[k].keys() & boards[j].keys()):
                name, hour = boards[j][board], _clock(case, times[j][0])
                text = f"{board} is in two pairs of hands at {hour}: {boards[k][board]}, {name}"
                yield Fault("two pairs of hands", name, text)


def _clock(case: Case, moment: datetime | None) -> str:
    if moment is None:
        return "none"
    return moment.astimezone(case.zone).isoformat(sep=" ", timespec="minutes")
