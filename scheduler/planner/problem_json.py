"""A planning problem and a plan as JSON; a referee needs to know no more than this text.

Moments are ISO 8601 with their UTC offset, dates ISO 8601, both local to `timezone`. A slot
covers `from_mm` (included) to `to_mm` (excluded), whole mm from the board's left end.
`null` means that there is none.

The problem (`"format": "wingrest-problem/1"`)
==============================================

- `now`: the moment of planning. `timezone`: IANA name. `end`: the date that stands for
  "never" (the last session's date + 30 days).
- `chamber_places`: how many specimens the relaxing chamber holds (null: no limit).
  `chamber_time`: local time of day (HH:MM:SS) at which specimens are put in.
- `weights`: what counts, in days of waiting; a missing one is 0. `age_doubles_days`, d for short:
  a day counts 1, and 1 more for every d days since `found_on`, so from age a to age b the days
  count b - a + (b^2 div 2d) - (a^2 div 2d); with 0 age does not count. `late_days` counts for each
  day past `wanted_by`, `packed_days` for a groove that must be packed. `off_sessions`: what may
  come off at a session must be off at one of so many more, if it is planned; what stands now and
  is on longer counts `left_days`.
- `take_off_min`: minutes spent on each specimen taken off; no session spends more than it has.
- `boards`: `board`, `length_mm` (usable groove), `room` (a key of a specimen's `days`),
  `refill`: where new specimens may join while others, mounted at an earlier session, dry on
  it: `any` (anywhere), `end` (only to the right of all of them) or `whole` (not at all).
- `standing`: what stands on the boards: `specimen`, `board`, `from_mm`, `to_mm`, `due`,
  `clear`, and `free_on`, the first date on which the slot counts as free (null: taken to the
  end). It comes off at a session on or after `free_on`, or stays. The same holds for what is
  planned, from the date on which its slot counts as free.
- `sessions`, by start: `session`, `start`, `minutes` (in a running one those left), `running`.
  Mounting begins at `start`, in a running session at `now`. Of two sessions that overlap, only one
  may mount on a board.
- `specimens`: those that wait to be mounted:
  - `specimen`, `slot_mm` (groove it needs), `body_mm`, `estimated` (how a missing size was
    estimated, "" when measured), `minutes` (to mount it), `priority` (1-10, 10 most urgent);
  - `chamber`: whether it needs the relaxing chamber; `chamber_since`: since when it is in
    it; `open_at`: from when it may be put in; `first_look_hours`, `most_hours`: least and
    most time inside (elapsed hours); `soft_at`: from when it is soft;
  - `lost_at`: moment after which it must not be mounted; `lost_why`: where that comes from;
    `wanted_by`: date by which it should be off the board; `found_on`: the date from which its
    age counts, null: from when it is soft;
  - `later`: how it is kept and softened if it is mounted later, by `since`. The last one begun by
    the moment of mounting holds; before the first, what is said above. `place`: where it has to
    lie from then on (null: where it is); `chamber`, `first_look_hours`, `most_hours` as above. It
    can be put in from `open_at` on;
  - `earliest_session`: the first session at which it is soft (null: none);
    `latest_session`: the last one before it is lost (null: none). These two and all between are
    open to it; no session is where either is null or the latest comes before the earliest;
  - `boards`, all that it fits: `board`, `spare_mm` (groove - body - least clearance),
    `pack` (the groove must be packed);
  - `days`, by room of these boards: `min_days` (from mounting to due), `plan_days` (from
    mounting to clear), `slot_days` (until its slot counts as free; null: `plan_days`),
    `rule_ids`, `basis`; null where the air gives no time: then only a specimen that would spoil
    otherwise (`lost_at` on a date before `end`) may go there, and it takes its slot to the end.
- `misfits`: `specimen`, `reason`: those that no board in use fits; they are never planned.

The plan
========

- `sessions`, all of the problem's:
  - `session`, `start`, `minutes`, `minutes_used` (taking off and mounting);
  - `test_first`: what is tested and taken off at this session, by board and position:
    `board`, `specimen`, `from_mm`, `to_mm`, `due`, `clear`;
  - `placements`, in mounting order: `specimen`, `board`, `from_mm`, `to_mm`; `relax_from`
    (put into the chamber) and `out_by` (out of it at the latest), null without chamber;
    `mount_at`; `due`, `clear`, `min_days`, `plan_days`, `rule_ids`, `basis` (dates, days and
    basis null where the air gives no time); `minutes`; `after`: the specimens to be taken
    off first so that the slot is free.
- `unplaced`: `specimen`, `reason`.
- `quality`, smaller is better, compared in the order `spoiled_priority`,
  `weighted_waiting_days`, `spare_groove_mm`, `blocked_board_days`; `spoiled` counts the specimens
  behind `spoiled_priority`, `unsavable` names those that no plan could save; `by_hand` holds the
  same figures for the plan by hand, or null.

Unknown keys are ignored, so that later formats may add some.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields
from datetime import date, datetime, time
from typing import get_args

from scheduler.drying.later import Phase
from scheduler.planner.plan_json import (
    FieldReader,
    JsonObject,
    fault_is_value_error,
    plan_from_json,
    plan_to_json,
    reason_from_json,
    reason_to_json,
    require,
    to_basis,
    to_date,
    to_iso,
)
from scheduler.planner.problem import (
    BoardDays,
    PlanBoard,
    PlanProblem,
    PlanSession,
    PlanStanding,
    PlanWaiting,
    Weights,
)
from scheduler.words.records import REFILLS, Place

__all__ = [
    "PROBLEM_FORMAT",
    "plan_from_json",
    "plan_to_json",
    "problem_from_json",
    "problem_to_json",
]

PROBLEM_FORMAT = "wingrest-problem/1"


def problem_to_json(problem: PlanProblem) -> JsonObject:
    """Return the problem as JSON data; the module's docstring explains every field."""
    return {
        "format": PROBLEM_FORMAT,
        "now": problem.now.isoformat(),
        "timezone": problem.timezone,
        "end": problem.end.isoformat(),
        "chamber_places": problem.chamber_places,
        "chamber_time": problem.chamber_time.isoformat(),
        "take_off_min": problem.take_off_min,
        "weights": asdict(problem.weights),
        "boards": [asdict(one) for one in problem.boards],
        "standing": [_standing_to_json(one) for one in problem.standing],
        "sessions": [{**_session_to_json(one), "running": one.running} for one in problem.sessions],
        "specimens": [_waiting_to_json(problem, one) for one in problem.waiting],
        "misfits": [reason_to_json(named) for named in problem.misfits.items()],
    }


def _session_to_json(one: PlanSession) -> JsonObject:
    return {"session": one.session, "start": one.start.isoformat(), "minutes": one.minutes}


def _standing_to_json(one: PlanStanding) -> JsonObject:
    return {
        "specimen": one.specimen,
        "board": one.board,
        "from_mm": one.from_mm,
        "to_mm": one.to_mm,
        "due": to_iso(one.due),
        "clear": to_iso(one.clear),
        "free_on": to_iso(one.free_on),
    }


def _waiting_to_json(problem: PlanProblem, one: PlanWaiting) -> JsonObject:
    return {
        "specimen": one.specimen,
        "slot_mm": one.slot_mm,
        "body_mm": one.body_mm,
        "estimated": one.estimated,
        "minutes": one.minutes,
        "priority": one.priority,
        "chamber": one.chamber,
        "chamber_since": to_iso(one.chamber_since),
        "open_at": one.open_at.isoformat(),
        "first_look_hours": one.first_look_hours,
        "most_hours": one.most_hours,
        "soft_at": one.soft_at.isoformat(),
        "lost_at": to_iso(one.lost_at),
        "lost_why": one.lost_why,
        "wanted_by": to_iso(one.wanted_by),
        "found_on": to_iso(one.found_on),
        "later": [_phase_to_json(phase) for phase in one.later],
        "earliest_session": _session_id(problem, one.first, none=len(problem.sessions)),
        "latest_session": _session_id(problem, one.last, none=-1),
        "boards": [
            {"board": board, "spare_mm": spare, "pack": board in one.pack}
            for board, spare in one.spare_mm.items()
        ],
        "days": {room: _days_to_json(days) for room, days in one.days.items()},
    }


def _phase_to_json(phase: Phase) -> JsonObject:
    return {**phase._asdict(), "since": phase.since.isoformat()}


def _session_id(problem: PlanProblem, index: int, *, none: int) -> str | None:
    if index == none:
        return None
    if not 0 <= index < len(problem.sessions):
        raise ValueError(f"session index {index}: there are {len(problem.sessions)} sessions")
    return problem.sessions[index].session


def _days_to_json(days: BoardDays | None) -> JsonObject | None:
    if days is None:
        return None
    return {
        "min_days": days.min_days,
        "plan_days": days.plan_days,
        "slot_days": days.slot_days,
        "rule_ids": list(days.rule_ids),
        "basis": days.basis,
    }


@fault_is_value_error
def problem_from_json(data: JsonObject) -> PlanProblem:
    """Read a problem back exactly; raise ValueError with every fault found."""
    if data.get("format") != PROBLEM_FORMAT:
        raise ValueError(f"format is {data.get('format')!r}, this program reads {PROBLEM_FORMAT!r}")
    require(data, _PROBLEM_KEYS)
    read = FieldReader(data["timezone"])
    moments = read.one("problem", data, lambda one: _moments_from_json(read, one))
    sessions = read.each(data, "sessions", lambda one: _session_from_json(read, one))
    read.finish()  # what follows names sessions, so a faulty session would be reported again
    assert moments is not None
    index = {one.session: k for k, one in enumerate(sessions)}
    problem = PlanProblem(
        now=moments[0],
        timezone=data["timezone"],
        end=moments[1],
        chamber_places=data["chamber_places"],
        chamber_time=moments[2],
        take_off_min=data["take_off_min"],
        boards=read.each(data, "boards", _board_from_json),
        standing=read.each(data, "standing", standing_from_json),
        sessions=sessions,
        waiting=read.each(data, "specimens", lambda one: _waiting_from_json(read, one, index)),
        misfits=dict(read.each(data, "misfits", reason_from_json)),
        weights=Weights(**{k: v for k, v in data.get("weights", {}).items() if k in _WEIGHTS}),
    )
    read.finish()
    return problem


_WEIGHTS = {field.name for field in fields(Weights)}
_PROBLEM_KEYS = (
    *("now", "timezone", "end", "chamber_places", "chamber_time", "take_off_min"),
    *("boards", "standing", "sessions", "specimens", "misfits"),
)


def _moments_from_json(read: FieldReader, one: JsonObject) -> tuple[datetime, date, time]:
    end, evening = date.fromisoformat(one["end"]), time.fromisoformat(one["chamber_time"])
    return read.moment(one["now"]), end, evening


def _board_from_json(one: JsonObject) -> PlanBoard:
    if one["refill"] not in REFILLS:
        raise ValueError(f"refill {one['refill']!r} is none of {', '.join(REFILLS)}")
    return PlanBoard(one["board"], one["length_mm"], one["room"], one["refill"])


def standing_from_json(one: JsonObject) -> PlanStanding:
    """Read what stands on a board."""
    return PlanStanding(
        one["specimen"],
        one["board"],
        one["from_mm"],
        one["to_mm"],
        to_date(one["due"]),
        to_date(one["clear"]),
        to_date(one["free_on"]),
    )


def _days_from_json(one: JsonObject | None) -> BoardDays | None:
    if one is None:
        return None
    basis = to_basis(one["basis"])
    ids, counted = tuple(one["rule_ids"]), one.get("slot_days")
    return BoardDays(one["min_days"], one["plan_days"], ids, basis, counted)


def _session_from_json(read: FieldReader, one: JsonObject) -> PlanSession:
    return PlanSession(one["session"], read.moment(one["start"]), one["minutes"], one["running"])


def _phase_from_json(read: FieldReader, one: JsonObject) -> Phase:
    if one["place"] is not None and one["place"] not in get_args(Place):
        raise ValueError(f"place {one['place']!r} is none of {', '.join(get_args(Place))}")
    since, first, most = read.moment(one["since"]), one["first_look_hours"], one["most_hours"]
    return Phase(since, one["place"], one["chamber"], first, most)


def _waiting_from_json(read: FieldReader, one: JsonObject, index: Mapping[str, int]) -> PlanWaiting:
    first, last = one["earliest_session"], one["latest_session"]
    for session in (first, last):
        if session is not None and session not in index:
            raise ValueError(f"there is no session {session!r}")
    return PlanWaiting(
        specimen=one["specimen"],
        slot_mm=one["slot_mm"],
        body_mm=one["body_mm"],
        minutes=one["minutes"],
        priority=one["priority"],
        open_at=read.moment(one["open_at"]),
        soft_at=read.moment(one["soft_at"]),
        first_look_hours=one["first_look_hours"],
        most_hours=one["most_hours"],
        chamber=one["chamber"],
        chamber_since=read.moment_or_none(one["chamber_since"]),
        lost_at=read.moment_or_none(one["lost_at"]),
        wanted_by=to_date(one["wanted_by"]),
        spare_mm={board["board"]: board["spare_mm"] for board in one["boards"]},
        pack=frozenset(board["board"] for board in one["boards"] if board["pack"]),
        days={room: _days_from_json(days) for room, days in one["days"].items()},
        first=len(index) if first is None else index[first],
        last=-1 if last is None else index[last],
        estimated=one["estimated"],
        lost_why=one["lost_why"],
        found_on=to_date(one.get("found_on")),
        later=tuple(_phase_from_json(read, phase) for phase in one.get("later", ())),
    )
