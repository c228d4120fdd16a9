"""A kept plan as a short text: what repeats is written once and numbered.

The problem that the plan answers is not kept, only what later questions need of it, and a digest
that tells whether the record still poses the same problem.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from datetime import date, datetime
from types import MappingProxyType
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from scheduler.planner.proposal import Plan, Planned, PlanStanding, Quality, Scarce
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.planner.problem import PlanProblem

PLAN_FORMAT = 2
_NOTHING: Mapping[str, Any] = MappingProxyType({})


class Kept(NamedTuple):
    """A plan, since when it is kept, and what later questions need of its problem.

    `asked_at` is the local moment it was made for; `pinned` are the specimens whose place the
    person decided; `rests_on` is `resting_on` of its problem. `sessions` maps each session to its
    start, `rooms` each board in use to its room; `standing` is what stood on the boards. For
    specimens left out, `lost_at` says when each would be lost; `misfits` are those that no board
    fits. For a plan mended after a journal line (`line`), `before` is `text_of` the plan before.
    """

    plan: Plan
    kept_at: datetime
    asked_at: datetime
    pinned: frozenset[str] = frozenset()
    rests_on: str = ""
    sessions: Mapping[str, datetime] = _NOTHING
    rooms: Mapping[str, str] = _NOTHING
    standing: tuple[PlanStanding, ...] = ()
    lost_at: Mapping[str, datetime] = _NOTHING
    misfits: frozenset[str] = frozenset()
    line: int = 0
    before: str = ""

    @property
    def reasons(self) -> Mapping[str, str]:
        """Return, for each specimen that the plan leaves out, why it has no place."""
        return dict(self.plan.unplaced)

    @classmethod
    def of(
        cls,
        problem: PlanProblem,
        plan: Plan,
        kept_at: datetime,
        pinned: frozenset[str] = frozenset(),
    ) -> Kept:
        """Return a plan with what is kept of its problem."""
        without = {name for name, _ in plan.unplaced}
        lost = {w.specimen: w.lost_at for w in problem.waiting if w.specimen in without}
        return cls(
            plan=plan,
            kept_at=kept_at,
            asked_at=problem.now,
            pinned=pinned,
            rests_on=resting_on(problem),
            sessions={s.session: s.start for s in problem.sessions},
            rooms={b.board: b.room for b in problem.boards},
            standing=problem.standing,
            lost_at={name: at for name, at in lost.items() if at is not None},
            misfits=frozenset(problem.misfits),
        )

    @property
    def placements(self) -> tuple[Planned, ...]:
        """Return the planned placements, session by session and board by board."""
        return self.plan.placements

    @property
    def until(self) -> date | None:
        """Return the date of the last session of the plan; None where it has no session."""
        return max((start.date() for start in self.sessions.values()), default=None)

    @property
    def names(self) -> frozenset[str]:
        """Return every specimen that the plan places or leaves out."""
        return frozenset(p.specimen for p in self.placements) | {n for n, _ in self.plan.unplaced}

    def off_by(self, session: datetime) -> frozenset[str]:
        """Return what the plan takes off at sessions that start at or before this moment."""
        by = {name for name, start in self.sessions.items() if start <= session}
        return frozenset(name for name, at in self.plan.off.items() if at in by)

    def left_out_for(self, specimen: str, lost_at: datetime) -> bool:
        """Say whether the plan left a specimen out knowing that it is lost at that moment."""
        return specimen in self.misfits or self.lost_at.get(specimen) == lost_at


def resting_on(problem: PlanProblem) -> str:
    """Return a digest of a problem: equal problems have the same digest."""
    from dataclasses import fields  # slow to import, and no question needs it
    from hashlib import sha256  # it loads a C library, which a question does not need

    from scheduler.planner.problem import PlanProblem, PlanWaiting

    digest = sha256()
    for one in fields(PlanProblem):
        if one.name != "waiting":
            digest.update(repr(getattr(problem, one.name)).encode())
    shared = ("spare_mm", "pack")
    alone = [one.name for one in fields(PlanWaiting) if one.name not in shared]
    fits: dict[tuple[int, int], str] = {}
    for w in problem.waiting:
        key = (id(w.spare_mm), id(w.pack))  # many specimens share these very objects
        if key not in fits:
            fits[key] = repr((sorted(w.spare_mm.items()), sorted(w.pack)))
            fits[key] = sha256(fits[key].encode()).hexdigest()
        facts = [getattr(w, name) for name in alone]
        digest.update(repr((facts, fits[key])).encode())
    return digest.hexdigest()


class _Once:
    """Numbers values, so that each needs to be written only once."""

    def __init__(self) -> None:
        self.number: dict[Any, int] = {}

    def __call__(self, value: Any) -> int:
        return self.number.setdefault(value, len(self.number))

    @property
    def values(self) -> list[Any]:
        return list(self.number)


def text_of(kept: Kept) -> str:
    """Return a kept plan as JSON, without the moment since when it is kept."""
    plan = kept.plan
    standing = [
        [
            *(s.specimen, s.board, s.from_mm, s.to_mm),
            *(_iso(s.due), _iso(s.clear), _iso(s.free_on)),
            plan.off.get(s.specimen),
        ]
        for s in kept.standing
    ]
    written = {
        "format": PLAN_FORMAT,
        "timezone": _zone_of(kept.asked_at),
        "asked_at": kept.asked_at.isoformat(),
        "rests_on": kept.rests_on,
        "pinned": sorted(kept.pinned),
        "sessions": {name: start.isoformat() for name, start in kept.sessions.items()},
        "rooms": dict(kept.rooms),
        "standing": standing,
        "lost_at": {name: at.isoformat() for name, at in kept.lost_at.items()},
        "misfits": sorted(kept.misfits),
        "line": kept.line,
        "before": kept.before,
        **_placed(plan),
        "quality": plan.quality.figures,
        "by_hand": plan.by_hand and plan.by_hand.figures,
        "status": plan.status,
        "bound": plan.bound,
        "stopped": plan.stopped,
        "minute_saves": dict(plan.scarce.minute),
        "board_mm_saves": dict(plan.scarce.board_mm),
    }
    return json.dumps(written, ensure_ascii=False, separators=(",", ":"))


def _placed(plan: Plan) -> dict[str, list[Any]]:
    """Return who goes where and who nowhere; what many have in common is written once."""
    moments, dates, rules, reasons = _Once(), _Once(), _Once(), _Once()
    sessions, boards = _Once(), _Once()
    planned = [
        [
            p.specimen,
            sessions(p.session),
            boards(p.board),
            p.from_mm,
            p.to_mm,
            moments((_iso(p.relax_from), _iso(p.out_by), p.mount_at.isoformat())),
            dates((_iso(p.due), _iso(p.clear), p.min_days, p.plan_days, plan.off.get(p.specimen))),
            rules((p.rule_ids, p.basis)),
            p.minutes,
            *p.after,
        ]
        for p in plan.placements
    ]
    unplaced = [[name, reasons(why)] for name, why in plan.unplaced]
    return {
        "in_session": sessions.values,
        "on_board": boards.values,
        "moments": moments.values,
        "dates": dates.values,
        "rules": rules.values,
        "reasons": reasons.values,
        "planned": planned,
        "unplaced": unplaced,
    }


def kept_of(text: str, kept_at: datetime) -> Kept:
    """Read a kept plan back from its JSON."""
    read: dict[str, Any] = json.loads(text)
    if read["format"] == 1:
        return _of_format_1(read, kept_at)
    zone = ZoneInfo(read["timezone"])

    def moment(text: str) -> datetime:
        return datetime.fromisoformat(text).astimezone(zone)

    return Kept(
        plan=_plan_of(read, moment),
        kept_at=kept_at,
        asked_at=moment(read["asked_at"]),
        pinned=frozenset(read["pinned"]),
        rests_on=read["rests_on"],
        sessions={name: moment(start) for name, start in read["sessions"].items()},
        rooms=read["rooms"],
        standing=tuple(PlanStanding(*one[:4], *map(_day, one[4:7])) for one in read["standing"]),
        lost_at={name: moment(at) for name, at in read["lost_at"].items()},
        misfits=frozenset(read["misfits"]),
        line=read.get("line", 0),
        before=read.get("before", ""),
    )


def _plan_of(read: dict[str, Any], moment: Callable[[str], datetime]) -> Plan:
    sessions, boards, reasons = read["in_session"], read["on_board"], read["reasons"]
    moments = [tuple(at and moment(at) for at in one) for one in read["moments"]]
    dates = [(*map(_day, one[:2]), *one[2:4]) for one in read["dates"]]
    rules = [(tuple(ids), basis) for ids, basis in read["rules"]]
    placements = []
    for name, session, board, from_mm, to_mm, when, dated, ruled, minutes, *after in read[
        "planned"
    ]:
        where = (name, sessions[session], boards[board], from_mm, to_mm)
        facts = (*where, *moments[when], *dates[dated], *rules[ruled], minutes, tuple(after))
        placements.append(Planned(*facts))
    return Plan(
        tuple(placements),
        tuple((name, reasons[why]) for name, why in read["unplaced"]),
        _quality_of(read["quality"]),
        by_hand=None if read["by_hand"] is None else _quality_of(read["by_hand"]),
        status=read["status"],
        bound=read["bound"],
        scarce=Scarce(read["minute_saves"], read["board_mm_saves"]),
        stopped=read["stopped"],
        off=_off_of(read),
    )


def _off_of(read: dict[str, Any]) -> dict[str, str]:
    """Return the session at which each specimen comes off.

    In a plan kept before this was written, it is the first session at which it may come off.
    """
    days = {name: start[:10] for name, start in read["sessions"].items()}

    def at(facts: list[Any], known: int, free_on: str | None) -> str | None:
        if len(facts) > known or free_on is None:
            return facts[-1] if len(facts) > known else None
        return min(
            (n for n, day in days.items() if day >= free_on), key=days.__getitem__, default=None
        )

    dated = [at(one, 4, one[1]) for one in read["dates"]]
    off = {one[0]: at(one, 7, one[6]) for one in read["standing"]}
    off |= {one[0]: dated[one[6]] for one in read["planned"]}
    return {name: session for name, session in off.items() if session is not None}


def _of_format_1(read: dict[str, Any], kept_at: datetime) -> Kept:
    """Return a plan from the first format, which has no digest of its problem."""
    from scheduler.planner.plan_json import FieldReader, plan_from_json
    from scheduler.planner.problem_json import standing_from_json

    moment = FieldReader(read["timezone"]).moment
    plan, proof = plan_from_json(read["timezone"], read["plan"]), read["proof"]
    return Kept(
        plan=plan._replace(
            status=proof["status"],
            bound=proof["bound"],
            scarce=Scarce(proof["minute_saves"], proof["board_saves"]),
            stopped=proof["stopped"],
        ),
        kept_at=kept_at,
        asked_at=moment(read["now"]),
        pinned=frozenset(read["pinned"]),
        sessions={one["session"]: moment(one["start"]) for one in read["sessions"]},
        rooms={one["board"]: one["room"] for one in read["boards"]},
        standing=tuple(map(standing_from_json, read["standing"])),
        lost_at={name: moment(at) for name, at in read["lost_at"].items()},
        misfits=frozenset(one["specimen"] for one in read["misfits"]),
    )


def _quality_of(read: list[Any]) -> Quality:
    return Quality(*(*read[:5], tuple(read[5])))


def _zone_of(moment: datetime) -> str:
    if not isinstance(moment.tzinfo, ZoneInfo):
        raise ValueError(f"the plan's moment {moment!r} is not local")
    return moment.tzinfo.key


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)
