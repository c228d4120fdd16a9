"""A plan as JSON, by session; `problem_json` documents every field.

Here are also the small fields that both modules use, and a reader that reports every fault with
its place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from functools import wraps
from typing import Any, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from scheduler.planner.problem import Plan, Planned, PlanProblem, PlanSession, PlanStanding, Quality
from scheduler.words.records import BASES, Basis

JsonObject = dict[str, Any]
_T = TypeVar("_T")


def to_iso(value: date | None) -> str | None:
    """Return a date or a moment as ISO 8601, None for None."""
    return None if value is None else value.isoformat()


def to_date(text: str | None) -> date | None:
    """Read a date; None stands for none."""
    return None if text is None else date.fromisoformat(text)


def to_basis(text: str) -> Basis:
    """Return the basis of this name; raise ValueError for an unknown one."""
    for basis in BASES:
        if basis == text:
            return basis
    raise ValueError(f"basis {text!r} is none of {', '.join(BASES)}")


def reason_to_json(named: tuple[str, str]) -> JsonObject:
    """Return a specimen with the reason why it waits."""
    return {"specimen": named[0], "reason": named[1]}


def reason_from_json(one: JsonObject) -> tuple[str, str]:
    """Read a specimen with the reason why it waits."""
    return one["specimen"], one["reason"]


def require(data: JsonObject, keys: Sequence[str]) -> None:
    """Raise ValueError naming every one of `keys` that is missing."""
    if missing := [key for key in keys if key not in data]:
        raise ValueError("\n".join(f"{key} is missing" for key in missing))


def fault_is_value_error(read: Callable[[JsonObject], _T]) -> Callable[[JsonObject], _T]:
    """Return a reader that raises ValueError, and says so, for JSON of another form."""

    @wraps(read)
    def reader(data: JsonObject) -> _T:
        try:
            return read(data)
        except (TypeError, KeyError, AttributeError) as error:
            raise ValueError(f"is not of the form that is documented: {error}") from error

    return reader


class FieldReader:
    """Reads JSON objects, and keeps every fault with the place it was found in."""

    def __init__(self, timezone: str) -> None:
        try:
            self.zone = ZoneInfo(timezone)
        except (ValueError, OSError, ZoneInfoNotFoundError) as error:
            raise ValueError(f"timezone {timezone!r} is not known") from error
        self.faults: list[str] = []

    def moment(self, text: str) -> datetime:
        """Read a moment into the record's zone; raise ValueError where it has no UTC offset."""
        read = datetime.fromisoformat(text)
        if read.tzinfo is None:
            raise ValueError(f"{text!r} has no UTC offset")
        return read.astimezone(self.zone)

    def moment_or_none(self, text: str | None) -> datetime | None:
        """Read a moment; None stands for none."""
        return None if text is None else self.moment(text)

    def one(self, place: str, item: JsonObject, read: Callable[[JsonObject], _T]) -> _T | None:
        """Read one object; where it cannot be read, keep the fault and return None."""
        try:
            return read(item)
        except KeyError as error:
            self.faults.append(f"{place}: {error.args[0]} is missing")
        except (TypeError, ValueError, AttributeError) as error:
            self.faults.append(f"{place}: {error}")
        return None

    def each(self, data: JsonObject, key: str, read: Callable[[JsonObject], _T]) -> tuple[_T, ...]:
        """Read every object of the list `key`; leave out those that cannot be read."""
        found = (self.one(f"{key}[{n}]", item, read) for n, item in enumerate(data[key]))
        return tuple(one for one in found if one is not None)

    def finish(self) -> None:
        """Raise ValueError with all faults found, if there are any."""
        if self.faults:
            raise ValueError("\n".join(self.faults))


_Lying = PlanStanding | Planned
"""What lies on a board: it stands there already, or it is planned."""


def plan_to_json(problem: PlanProblem, plan: Plan) -> JsonObject:
    """Return a plan as JSON data, by session.

    Raises ValueError for a placement in a session that the problem does not have.
    """
    mounted: dict[str, list[Planned]] = {one.session: [] for one in problem.sessions}
    if strange := sorted({one.session for one in plan.placements} - mounted.keys()):
        raise ValueError(f"planned in sessions that do not exist: {', '.join(strange)}")
    for one in plan.placements:
        mounted[one.session].append(one)
    off = _taken_off(problem, plan)
    by_hand = None if plan.by_hand is None else _quality_to_json(plan.by_hand)
    return {
        "sessions": [
            _bench_to_json(problem, session, off[k], mounted[session.session])
            for k, session in enumerate(problem.sessions)
        ],
        "unplaced": [reason_to_json(named) for named in plan.unplaced],
        "quality": {**_quality_to_json(plan.quality), "by_hand": by_hand},
    }


def _bench_to_json(
    problem: PlanProblem, session: PlanSession, off: list[_Lying], mounted: list[Planned]
) -> JsonObject:
    """Return one session as JSON data: what to take off first, then what to mount."""
    boards = {one.board: k for k, one in enumerate(problem.boards)}
    off = sorted(off, key=lambda one: (boards.get(one.board, len(boards)), one.board, one.from_mm))
    used = len(off) * problem.take_off_min + sum(one.minutes for one in mounted)
    return {
        "session": session.session,
        "start": session.start.isoformat(),
        "minutes": session.minutes,
        "minutes_used": used,
        "test_first": [_off_to_json(one) for one in off],
        "placements": [_planned_to_json(one) for one in mounted],
    }


def _taken_off(problem: PlanProblem, plan: Plan) -> list[list[_Lying]]:
    """Return for each session what is taken off at it."""
    order = {one.session: k for k, one in enumerate(problem.sessions)}
    lying: list[_Lying] = [*problem.standing, *plan.placements]
    off: list[list[_Lying]] = [[] for _ in problem.sessions]
    for one in lying:
        if one.specimen in plan.off:
            off[order[plan.off[one.specimen]]].append(one)
    return off


def _off_to_json(one: _Lying) -> JsonObject:
    return {
        "board": one.board,
        "specimen": one.specimen,
        "from_mm": one.from_mm,
        "to_mm": one.to_mm,
        "due": to_iso(one.due),
        "clear": to_iso(one.clear),
    }


def _planned_to_json(one: Planned) -> JsonObject:
    return {
        "specimen": one.specimen,
        "board": one.board,
        "from_mm": one.from_mm,
        "to_mm": one.to_mm,
        "relax_from": to_iso(one.relax_from),
        "out_by": to_iso(one.out_by),
        "mount_at": one.mount_at.isoformat(),
        "due": to_iso(one.due),
        "clear": to_iso(one.clear),
        "min_days": one.min_days,
        "plan_days": one.plan_days,
        "rule_ids": list(one.rule_ids),
        "basis": one.basis,
        "minutes": one.minutes,
        "after": list(one.after),
    }


def _quality_to_json(one: Quality) -> JsonObject:
    return {
        "spoiled": one.spoiled,
        "spoiled_priority": one.spoiled_priority,
        "weighted_waiting_days": one.weighted_waiting_days,
        "spare_groove_mm": one.spare_groove_mm,
        "blocked_board_days": one.blocked_board_days,
        "unsavable": list(one.unsavable),
    }


def plan_from_json(timezone: str, data: JsonObject) -> Plan:
    """Read a plan back into a time zone; raise ValueError with every fault found."""
    require(data, ("sessions", "unplaced", "quality"))
    read = FieldReader(timezone)

    def session(one: JsonObject) -> tuple[Planned, ...]:
        return read.each(
            one, "placements", lambda item: _planned_from_json(read, item, one["session"])
        )

    off = {
        entry["specimen"]: one["session"] for one in data["sessions"] for entry in one["test_first"]
    }
    placements = tuple(one for found in read.each(data, "sessions", session) for one in found)
    unplaced = read.each(data, "unplaced", reason_from_json)
    quality = read.one("quality", data["quality"], _quality_from_json)
    by_hand = None
    if data["quality"].get("by_hand") is not None:
        by_hand = read.one("quality.by_hand", data["quality"]["by_hand"], _quality_from_json)
    read.finish()
    assert quality is not None  # else there was a fault to report
    return Plan(placements, unplaced, quality, by_hand, off=off)


def _quality_from_json(one: JsonObject) -> Quality:
    return Quality(
        spoiled=one["spoiled"],
        spoiled_priority=one["spoiled_priority"],
        weighted_waiting_days=one["weighted_waiting_days"],
        spare_groove_mm=one["spare_groove_mm"],
        blocked_board_days=one["blocked_board_days"],
        unsavable=tuple(one["unsavable"]),
    )


def _planned_from_json(read: FieldReader, one: JsonObject, session: str) -> Planned:
    return Planned(
        specimen=one["specimen"],
        session=session,
        board=one["board"],
        from_mm=one["from_mm"],
        to_mm=one["to_mm"],
        relax_from=read.moment_or_none(one["relax_from"]),
        out_by=read.moment_or_none(one["out_by"]),
        mount_at=read.moment(one["mount_at"]),
        due=to_date(one["due"]),
        clear=to_date(one["clear"]),
        min_days=one["min_days"],
        plan_days=one["plan_days"],
        rule_ids=tuple(one["rule_ids"]),
        basis=None if one["basis"] is None else to_basis(one["basis"]),
        minutes=one["minutes"],
        after=tuple(one["after"]),
    )
