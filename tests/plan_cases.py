"""Planning problems for the tests, all invented: a preparator's weekend in an attic.

`weekend_problem` and `weekend_plan` are worked out by hand; the comments say how.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.planner.problem import (
    BoardDays,
    Plan,
    PlanBoard,
    Planned,
    PlanProblem,
    PlanSession,
    PlanStanding,
    PlanWaiting,
    Quality,
    Weights,
)

VIENNA = ZoneInfo("Europe/Vienna")
NOW = datetime(2027, 5, 5, 10, tzinfo=VIENNA)
SAT = PlanSession("SAT", datetime(2027, 5, 8, 14, tzinfo=VIENNA), 55)
SUN = PlanSession("SUN", datetime(2027, 5, 9, 10, tzinfo=VIENNA), 49)
LATE = PlanSession("LATE", datetime(2027, 5, 29, 14, tzinfo=VIENNA), 60)
ATTIC_DAYS = BoardDays(14, 21, ("bt-fresh-8", "rh-8-50"), "published")


def may(day: int, hour: int = 0, minute: int = 0) -> datetime:
    """Return a moment in May 2027, local time."""
    return datetime(2027, 5, day, hour, minute, tzinfo=VIENNA)


def waiting(
    specimen: str, slot_mm: int, spare_mm: Mapping[str, float], **given: Any
) -> PlanWaiting:
    """Return a fresh specimen that waits since the plan's moment and fits `spare_mm`."""
    usual: dict[str, Any] = {
        "body_mm": 6.0,
        "minutes": 20,
        "priority": 1,
        "open_at": NOW,
        "soft_at": NOW,
        "first_look_hours": 0.0,
        "most_hours": 72.0,
        "chamber": False,
        "chamber_since": None,
        "lost_at": None,
        "wanted_by": None,
        "pack": frozenset(),
        "days": {"attic": ATTIC_DAYS},
        "first": 0,
        "last": 2,
    }
    return PlanWaiting(specimen, slot_mm, spare_mm=spare_mm, **{**usual, **given})


def problem(
    boards: Sequence[PlanBoard],
    sessions: Sequence[PlanSession],
    specimens: Sequence[PlanWaiting],
    standing: Sequence[PlanStanding] = (),
    **given: Any,
) -> PlanProblem:
    """Return a problem whose end is 30 days after the last session."""
    usual: dict[str, Any] = {
        "now": NOW,
        "timezone": "Europe/Vienna",
        "end": sessions[-1].on + timedelta(days=30),
        "chamber_places": None,
        "chamber_time": time(20),
        "take_off_min": 5,
        "weights": Weights(late_days=2, left_days=100, off_sessions=3),
    }
    return PlanProblem(
        **{**usual, **given},
        boards=tuple(boards),
        standing=tuple(standing),
        sessions=tuple(sessions),
        waiting=tuple(specimens),
    )


def planned(
    one: PlanWaiting, session: PlanSession, board: str, from_mm: int, **given: Any
) -> Planned:
    """Return a placement in the attic: 14 days to due, 21 to clear, no chamber."""
    usual: dict[str, Any] = {
        "relax_from": None,
        "out_by": None,
        "mount_at": session.start,
        "due": session.on + timedelta(days=14),
        "clear": session.on + timedelta(days=21),
        "min_days": 14,
        "plan_days": 21,
        "rule_ids": ATTIC_DAYS.rule_ids,
        "basis": ATTIC_DAYS.basis,
        "minutes": one.minutes,
    }
    to_mm = from_mm + one.slot_mm
    return Planned(one.specimen, session.session, board, from_mm, to_mm, **{**usual, **given})


NO_TIME: dict[str, Any] = {
    "due": None,
    "clear": None,
    "min_days": None,
    "plan_days": None,
    "rule_ids": (),
    "basis": None,
}
"""What a placement says in a room whose air gives no time."""


def without(plan: Plan, specimen: str) -> Plan:
    """Return the plan without a specimen, planned or left out."""
    return plan._replace(
        placements=tuple(one for one in plan.placements if one.specimen != specimen),
        unplaced=tuple(one for one in plan.unplaced if one[0] != specimen),
        off=staying(plan, specimen).off,
    )


def staying(plan: Plan, specimen: str) -> Plan:
    """Return the plan with a specimen that stays on its board to the end."""
    return plan._replace(off={name: at for name, at in plan.off.items() if name != specimen})


def changed(plan: Plan, specimen: str, **fields: Any) -> Plan:
    """Return the plan with fields of one placement changed."""
    placements = tuple(
        one._replace(**fields) if one.specimen == specimen else one for one in plan.placements
    )
    return plan._replace(placements=placements)


def swapped(plan: Plan, new: Planned) -> Plan:
    """Return the plan with another placement of the same specimen."""
    placements = [new if one.specimen == new.specimen else one for one in plan.placements]
    return plan._replace(placements=tuple(placements))


# M1 was papered: a day in the chamber at least, three at most.
M1 = waiting(
    "M1",
    80,
    {"B1": 0.5, "B2": 1.5},
    minutes=30,
    priority=3,
    chamber=True,
    first_look_hours=24.0,
    soft_at=may(6, 10),
)
# M2 is fresh, and should be off the board by the 25th.
M2 = waiting(
    "M2",
    60,
    {"B1": 1.8, "B2": 0.8, "B3": 1.2},
    wanted_by=date(2027, 5, 25),
    days={"attic": ATTIC_DAYS, "cellar": None},
)
# M3 is in the chamber and lost after Sunday; it fits only the board in the damp cellar.
M3 = waiting(
    "M3",
    80,
    {"B3": 2.0},
    chamber=True,
    chamber_since=may(4, 20),
    first_look_hours=24.0,
    most_hours=120.0,
    soft_at=may(5, 20),
    lost_at=may(9, 20),
    wanted_by=date(2027, 6, 20),
    days={"cellar": None},
    last=1,
)
# M4 comes in on the 28th at 21:00, an hour after the chamber time.
M4 = waiting(
    "M4",
    100,
    {"B1": 0.4},
    minutes=24,
    chamber=True,
    open_at=may(28, 21),
    soft_at=may(29, 9),
    first_look_hours=12.0,
    most_hours=48.0,
    first=2,
)
# M5 needs 150 mm of B2, of which S3 leaves 140 mm to the end: no plan could save it.
M5 = waiting("M5", 150, {"B2": 1.0}, priority=2, lost_at=may(30), last=2)
# M6 takes longer than any session has.
M6 = waiting("M6", 70, {"B2": 1.0}, minutes=130, open_at=may(20), soft_at=may(20), first=2)


def weekend_problem() -> PlanProblem:
    """Return three boards, three sessions, three that stand and six that wait."""
    return replace(
        problem(
            boards=[
                PlanBoard("B1", 300, "attic"),
                PlanBoard("B2", 200, "attic"),
                PlanBoard("B3", 160, "cellar"),
            ],
            sessions=[SAT, SUN, LATE],
            specimens=[M1, M2, M3, M4, M5, M6],
            standing=[
                # due already, so free from the plan's date on
                PlanStanding("S1", "B1", 0, 100, NOW.date(), date(2027, 5, 12), NOW.date()),
                PlanStanding("S2", "B1", 100, 180, may(13).date(), may(20).date(), may(20).date()),
                PlanStanding("S3", "B2", 0, 60, None, None, None),
            ],
            chamber_places=2,
        ),
        misfits={"X1": "body 13.1 mm: the widest groove is 12 mm, board B3"},
    )


def weekend_plan() -> Plan:
    """Return a valid plan for the weekend, with its figures reckoned by hand.

    Minutes: SAT 5 (S1 off) + 30 + 20 = 55; SUN 20; LATE 3 x 5 (S2, M1, M2 off) + 24 = 39.
    Chamber: M3 and M1 together, two places.
    PlanWaiting days: M1 3 x 2; M2 3 + 2 x 4 (clear 29 May, wanted 25 May); M3 4 + 2 x 8 (to the
    end, 28 June, wanted 20 June); M4 0; M5 2 x 54; M6 39: in all 6 + 11 + 20 + 108 + 39.
    Spare groove: (0.5 + 0.8 + 2.0 + 0.4) / 4 = 0.925 mm.
    Blocked: B1 from 5 to 7 May (S1 could come off, S2 not: 3 days) and from 20 to 28 May (S2
    could come off, M1 not: 9 days).
    """
    return Plan(
        placements=(
            # Thursday 20:00 is the latest evening that leaves 24 h
            planned(M1, SAT, "B1", 0, relax_from=may(6, 20), out_by=may(9, 20), after=("S1",)),
            planned(M2, SAT, "B2", 60),
            planned(M3, SUN, "B3", 0, relax_from=may(4, 20), out_by=may(9, 20), **NO_TIME),
            # no evening is late enough: the first look (12 h) falls on the mounting
            planned(M4, LATE, "B1", 0, relax_from=may(29, 2), out_by=may(31, 2), after=("S1",)),
        ),
        unplaced=(
            ("M5", "needs 150 mm: B2 has 140 mm free"),
            ("M6", "needs 130 min: the longest session has 60"),
            ("X1", "body 13.1 mm: the widest groove is 12 mm, board B3"),
        ),
        quality=Quality(
            spoiled_priority=2,
            weighted_waiting_days=184,
            spare_groove_mm=0.9,
            blocked_board_days=12,
            spoiled=1,
            unsavable=("M5",),
        ),
        off={"S1": "SAT", "S2": "LATE", "M1": "LATE", "M2": "LATE"},
    )
