"""The referee: one plan worked out by hand, and every way to spoil it a little."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import (
    ATTIC_DAYS,
    LATE,
    M1,
    M2,
    M3,
    M4,
    NO_TIME,
    NOW,
    SAT,
    SUN,
    VIENNA,
    changed,
    may,
    planned,
    problem,
    staying,
    swapped,
    waiting,
    weekend_plan,
    weekend_problem,
    without,
)

from scheduler.planner.problem import (
    Plan,
    PlanBoard,
    PlanProblem,
    PlanSession,
    PlanStanding,
    Quality,
)
from scheduler.planner.referee.facts import FaultKind
from scheduler.planner.referee.verdict import judge


def kinds(case: PlanProblem, plan: Plan) -> list[FaultKind]:
    return [fault.kind for fault in judge(case, plan)]


def test_the_weekend_worked_out_by_hand_is_valid() -> None:
    assert judge(weekend_problem(), weekend_plan()) == []


Spoil = Callable[[Plan], Plan]


def left_out(plan: Plan, specimen: str, reason: str) -> Plan:
    return plan._replace(unplaced=(*plan.unplaced, (specimen, reason)))


def also(plan: Plan, **figures: object) -> Plan:
    return plan._replace(quality=replace(plan.quality, **figures))  # type: ignore[arg-type]


SINGLE_FAULTS: dict[str, tuple[FaultKind, Spoil]] = {
    "a specimen nobody knows is left out": (
        "unknown specimen",
        lambda plan: left_out(plan, "M9", "never seen"),
    ),
    "a specimen nobody knows is planned": (
        "unknown specimen",
        lambda plan: plan._replace(
            placements=(*plan.placements, plan.placements[3]._replace(specimen="M9")),
        ),
    ),
    "a board nobody has": ("unknown board", lambda plan: changed(plan, "M4", board="B7")),
    "a session nobody holds": ("unknown session", lambda plan: changed(plan, "M4", session="X")),
    "planned twice": (
        "named twice",
        lambda plan: plan._replace(placements=(*plan.placements, planned(M2, LATE, "B2", 120))),
    ),
    "left out twice": ("named twice", lambda plan: left_out(plan, "M6", "once more")),
    "both planned and left out": (
        "planned and unplaced",
        lambda plan: left_out(plan, "M2", "no room"),
    ),
    "forgotten": ("forgotten", lambda plan: without(plan, "M6")),
    "a specimen that fits nowhere is forgotten": ("forgotten", lambda plan: without(plan, "X1")),
    "left out without a reason": (
        "no reason",
        lambda plan: left_out(without(plan, "M6"), "M6", " "),
    ),
    "slot 1 mm too short": ("slot length", lambda plan: changed(plan, "M4", to_mm=99)),
    "slot 1 mm too long": ("slot length", lambda plan: changed(plan, "M2", to_mm=121)),
    "slot 1 mm past the right end": (
        "past the end",
        lambda plan: changed(plan, "M2", from_mm=141, to_mm=201),
    ),
    "slot 1 mm past the left end": (
        "past the end",
        lambda plan: changed(plan, "M3", from_mm=-1, to_mm=79),
    ),
    "1 mm into what is planned": (
        "overlaps planned",
        lambda plan: changed(plan, "M1", board="B2", from_mm=119, to_mm=199, after=()),
    ),
    "1 mm into what stands to the end": (
        "overlaps standing",
        lambda plan: changed(plan, "M2", from_mm=59, to_mm=119),
    ),
    "where one stands for another fortnight": (
        "overlaps standing",
        lambda plan: changed(plan, "M1", from_mm=100, to_mm=180, after=()),
    ),
    "a groove that does not suit the body": (
        "wrong groove",
        lambda plan: changed(plan, "M1", board="B3", from_mm=80, to_mm=160, after=()),
    ),
    "a specimen that fits no board is planned": (
        "wrong groove",
        lambda plan: without(plan, "X1")._replace(
            placements=(*plan.placements, plan.placements[3]._replace(specimen="X1")),
        ),
    ),
    "mounted before it is soft": (
        "not soft",
        lambda plan: swapped(
            plan, planned(M4, SUN, "B1", 180, relax_from=may(8, 22), out_by=may(10, 22))
        ),
    ),
    "mounted when it is lost": (
        "lost",
        lambda plan: swapped(
            plan, planned(M3, LATE, "B3", 0, relax_from=may(4, 20), out_by=may(9, 20), **NO_TIME)
        ),
    ),
    "mounting begins a minute late": (
        "mount_at",
        lambda plan: changed(plan, "M2", mount_at=may(8, 14, 1)),
    ),
    "in the chamber before it is there": (
        "before available",
        lambda plan: changed(plan, "M4", relax_from=may(28, 20), out_by=may(30, 20)),
    ),
    "relaxed too short": (
        "relaxed too short",
        lambda plan: changed(plan, "M1", relax_from=may(7, 20), out_by=may(10, 20)),
    ),
    "relaxed too short by a minute": (
        "relaxed too short",
        lambda plan: changed(plan, "M1", relax_from=may(7, 14, 1), out_by=may(10, 14, 1)),
    ),
    "relaxed too long by a minute": (
        "relaxed too long",
        lambda plan: changed(plan, "M1", relax_from=may(5, 13, 59), out_by=may(8, 13, 59)),
    ),
    "put in an evening too early": (
        "put-in time",
        lambda plan: changed(plan, "M1", relax_from=may(5, 20), out_by=may(8, 20)),
    ),
    "put in at an odd hour": (
        "put-in time",
        lambda plan: changed(plan, "M1", relax_from=may(6, 19), out_by=may(9, 19)),
    ),
    "never put in": (
        "put-in time",
        lambda plan: changed(plan, "M1", relax_from=None, out_by=None),
    ),
    "hours in the chamber although it is fresh": (
        "put-in time",
        lambda plan: changed(plan, "M2", out_by=may(10, 20)),
    ),
    "in the chamber since another hour": (
        "chamber start",
        lambda plan: changed(plan, "M3", relax_from=may(4, 21)),
    ),
    "out of the chamber too late": (
        "out_by",
        lambda plan: changed(plan, "M1", out_by=may(9, 21)),
    ),
    "no time to be out of the chamber": ("out_by", lambda plan: changed(plan, "M3", out_by=None)),
    "one minute too many": (  # 20 + 30 min on Sunday, of 49
        "too many minutes",
        lambda plan: staying(
            swapped(plan, planned(M1, SUN, "B2", 120, relax_from=may(7, 20), out_by=may(10, 20))),
            "M1",
        ),
    ),
    "minutes of one specimen": ("wrong minutes", lambda plan: changed(plan, "M2", minutes=19)),
    "a board in damp air for one that can wait": (
        "no time",
        lambda plan: staying(swapped(plan, planned(M2, SAT, "B3", 80, **NO_TIME)), "M2"),
    ),
    "due a day early": ("wrong due", lambda plan: changed(plan, "M1", due=may(21).date())),
    "clear a day early": ("wrong clear", lambda plan: changed(plan, "M1", clear=may(28).date())),
    "a date where the air gives none": (
        "wrong clear",
        lambda plan: changed(plan, "M3", clear=may(28).date()),
    ),
    "least days of another room": ("wrong days", lambda plan: changed(plan, "M2", min_days=13)),
    "usual days of another room": ("wrong days", lambda plan: changed(plan, "M2", plan_days=22)),
    "rules of another room": ("wrong rules", lambda plan: changed(plan, "M2", rule_ids=("x",))),
    "a basis too strong": ("wrong rules", lambda plan: changed(plan, "M2", basis="memory")),
    "not said what comes off first": ("after", lambda plan: changed(plan, "M1", after=())),
    "what comes off first lies elsewhere": (
        "after",
        lambda plan: changed(plan, "M2", after=("S1",)),
    ),
    "what comes off first is said twice": (
        "after",
        lambda plan: changed(plan, "M1", after=("S1", "S1")),
    ),
    "spoiled, not counted": ("spoiled", lambda plan: also(plan, spoiled=0)),
    "spoiled, weight": ("spoiled_priority", lambda plan: also(plan, spoiled_priority=1)),
    "one day of waiting": (
        "weighted_waiting_days",
        lambda plan: also(plan, weighted_waiting_days=183),
    ),
    "a tenth of spare groove": ("spare_groove_mm", lambda plan: also(plan, spare_groove_mm=0.8)),
    "one day blocked": ("blocked_board_days", lambda plan: also(plan, blocked_board_days=13)),
    "not said that no plan could save it": ("unsavable", lambda plan: also(plan, unsavable=())),
    "said of one that only waits": (
        "unsavable",
        lambda plan: also(plan, unsavable=("M5", "M6")),
    ),
}


@pytest.mark.parametrize("case", SINGLE_FAULTS)
def test_a_plan_with_one_fault_is_rejected_for_that_reason_alone(case: str) -> None:
    kind, spoil = SINGLE_FAULTS[case]
    assert kinds(weekend_problem(), spoil(weekend_plan())) == [kind]


def test_what_was_planned_before_may_be_named_too() -> None:
    assert kinds(weekend_problem(), changed(weekend_plan(), "M4", after=("S1", "M1"))) == []


def test_a_message_names_specimen_board_and_numbers() -> None:
    (fault,) = judge(weekend_problem(), changed(weekend_plan(), "M2", from_mm=59, to_mm=119))
    assert fault.specimen == "M2"
    for part in ("B2", "59", "119", "S3", "0 to 60 mm"):
        assert part in fault.message


def test_taking_off_counts_before_mounting() -> None:
    tight = replace(weekend_problem(), sessions=(replace(SAT, minutes=54), SUN, LATE))
    assert kinds(tight, weekend_plan()) == ["take-offs ignored"]


def taken_off_at(plan: Plan, specimen: str, session: str) -> Plan:
    return plan._replace(off={**plan.off, specimen: session})


@pytest.mark.parametrize(
    ("specimen", "session", "said"),
    [
        ("S2", "SUN", "S2 on B1 is free from 2027-05-20, it comes off at SUN"),
        ("M1", "SUN", "M1 on B1 is free from 2027-05-29, it comes off at SUN"),
        ("S3", "LATE", "S3 on B2 is free from None, it comes off at LATE"),
        ("M9", "LATE", "M9 is said to come off at LATE"),
        ("M2", "MON", "M2 is said to come off at MON"),
    ],
)
def test_nothing_comes_off_before_it_may(specimen: str, session: str, said: str) -> None:
    found = judge(weekend_problem(), taken_off_at(weekend_plan(), specimen, session))
    assert said in [fault.message for fault in found if fault.kind == "taken off"]


def test_what_is_planned_must_come_off_what_stands_may_stay_for_its_price() -> None:
    stays = staying(weekend_plan(), "M2")
    assert kinds(weekend_problem(), stays) == ["taken off"]
    # The price is 100 days; and B1 is blocked while M4 dries beside it.
    waits, blocks = judge(weekend_problem(), staying(weekend_plan(), "S2"))
    assert waits.message == "weighted_waiting_days: the plan says 184, reckoned 284"
    assert blocks.kind == "blocked_board_days"


def test_taking_off_keeps_to_the_minutes_where_nothing_is_mounted_either() -> None:
    short = replace(LATE, minutes=10)  # 3 x 5 min to take off
    case = replace(weekend_problem(), sessions=(SAT, SUN, short))
    plan = left_out(without(weekend_plan(), "M4"), "M4", "no minutes left")
    plan = also(plan, weighted_waiting_days=184 + 30, spare_groove_mm=1.1)
    assert kinds(case, plan) == ["take-offs ignored"]


def test_the_chamber_holds_only_so_many() -> None:
    narrow = replace(weekend_problem(), chamber_places=1)
    assert [(f.kind, f.specimen) for f in judge(narrow, weekend_plan())] == [("chamber full", "M1")]


def test_one_left_in_the_chamber_takes_its_place_until_it_must_be_out() -> None:
    """M3 is not mounted: it stays until Sunday evening; one place is too few for M1."""
    plan = left_out(without(weekend_plan(), "M3"), "M3", "no board")
    assert kinds(replace(weekend_problem(), chamber_places=1), plan) == ["chamber full"]


def test_more_in_the_chamber_than_it_holds_is_a_fact_not_a_fault() -> None:
    inside = {"chamber": True, "chamber_since": may(4, 20), "soft_at": may(5, 20)}
    specimens = [
        waiting(name, 50, {"B": 1.0}, first_look_hours=24.0, most_hours=120.0, **inside)
        for name in ("K1", "K2")
    ]
    case = problem([PlanBoard("B", 100, "attic")], [SAT], specimens, chamber_places=1)
    case = replace(case, waiting=tuple(replace(one, last=0) for one in case.waiting))
    out = {"relax_from": may(4, 20), "out_by": may(9, 20)}
    placements = tuple(planned(x, SAT, "B", 50 * n, **out) for n, x in enumerate(case.waiting))
    assert kinds(case, Plan(placements, (), Quality(0, 6, 1.0, 0, 0))) == []


def test_a_running_session_takes_only_what_is_soft_now() -> None:
    running = PlanSession("NOW", may(5, 9), 60, running=True)
    ready = waiting("K1", 50, {"B": 1.0}, last=0)
    later = waiting("K2", 50, {"B": 1.0}, open_at=may(5, 11), soft_at=may(5, 11), last=0)
    case = problem([PlanBoard("B", 100, "attic")], [running], [ready, later])
    placements = tuple(
        planned(one, running, "B", 50 * n, mount_at=NOW) for n, one in enumerate((ready, later))
    )
    plan = Plan(placements, (), Quality(0, 0, 1.0, 0, 0))
    assert [(f.kind, f.specimen) for f in judge(case, plan)] == [("not soft", "K2")]
    alone = Plan(placements[:1], (("K2", "not soft yet"),), Quality(0, 30, 1.0, 0, 0))
    assert kinds(case, alone) == []


def test_a_session_outside_the_problems_own_range_is_rejected() -> None:
    closed = tuple(replace(one, first=1) if one == M2 else one for one in weekend_problem().waiting)
    assert kinds(replace(weekend_problem(), waiting=closed), weekend_plan()) == ["not open"]


def test_hours_in_the_chamber_pass_on_the_night_the_clocks_go_back() -> None:
    """In Vienna 31 October 2027 has 25 hours: from 20:00 to 19:00 are 24 of them."""
    session = PlanSession("SUN", datetime(2027, 10, 31, 19, tzinfo=VIENNA), 60)
    start = datetime(2027, 10, 29, 8, tzinfo=VIENNA)
    moth = waiting(
        "K1",
        50,
        {"B": 1.0},
        chamber=True,
        first_look_hours=24.0,
        open_at=start,
        soft_at=start + timedelta(days=1),
        last=0,
    )
    case = problem([PlanBoard("B", 100, "attic")], [session], [moth], now=start)
    put_in = datetime(2027, 10, 30, 20, tzinfo=VIENNA)
    out_by = datetime(2027, 11, 2, 19, tzinfo=VIENNA)  # 72 hours, one of them doubled
    plan = Plan(
        (planned(moth, session, "B", 0, relax_from=put_in, out_by=out_by),),
        (),
        Quality(0, 1, 1.0, 0, 0),
    )
    assert kinds(case, plan) == []


def test_the_excuse_that_no_plan_could_save_it_is_tried_out() -> None:
    """With S3 gone on the 29th, B2 has 200 mm in LATE that day, before M5 is lost."""
    case = weekend_problem()
    standing = [*case.standing[:2], case.standing[2]._replace(free_on=LATE.on)]
    case = replace(case, standing=tuple(standing))
    plan = weekend_plan()  # one more to take off in LATE: 44 min
    plan = plan._replace(off={**plan.off, "S3": "LATE"})
    (fault,) = judge(case, plan)
    assert (fault.kind, fault.specimen) == ("unsavable", "M5")
    assert "LATE on B2" in fault.message


def on_the_dot() -> tuple[PlanProblem, Plan]:
    """Return a moth for which everything is just in time: 42 hours from put-in to mounting.

    It is available at the chamber time, soft, lost and out of the chamber when the session
    starts, and takes all its groove and minutes; the one place in the chamber is free at
    20:00, when the other must be out and is lost.
    """
    moth = waiting(
        "K1",
        50,
        {"B": 1.0},
        chamber=True,
        open_at=may(6, 20),
        first_look_hours=42.0,
        most_hours=42.0,
        soft_at=SAT.start,
        lost_at=SAT.start,
        last=0,
    )
    rotten = waiting(
        "K2",
        60,
        {"B": 1.0},
        chamber=True,
        chamber_since=may(4, 20),
        first_look_hours=24.0,
        most_hours=48.0,
        soft_at=may(5, 20),
        lost_at=may(6, 20),
        last=-1,
    )
    case = problem(
        [PlanBoard("B", 50, "attic")],
        [replace(SAT, minutes=20)],
        [moth, rotten],
        chamber_places=1,
    )
    put_in = {"relax_from": may(6, 20), "out_by": SAT.start}
    left = (("K2", "lost on Thursday evening"),)
    # K2 counts from the 5th to the end, 7 June
    return case, Plan(
        (planned(moth, SAT, "B", 0, **put_in),), left, Quality(1, 33, 1.0, 0, 1, ("K2",))
    )


def test_just_in_time_is_in_time() -> None:
    assert judge(*on_the_dot()) == []


def test_one_that_could_be_mounted_just_in_time_is_not_past_saving() -> None:
    case, plan = on_the_dot()
    left = Plan((), (("K1", "forgotten on the shelf"), *plan.unplaced), plan.quality)
    # K1 waits from 8 May to 7 June
    left = also(left, spoiled=2, spoiled_priority=2, weighted_waiting_days=63, spare_groove_mm=0.0)
    assert kinds(case, left) == []
    (fault,) = judge(case, also(left, unsavable=("K1", "K2")))
    assert fault.message == "K1 is called unsavable, but alone it can be mounted in SAT on B"


def test_one_lost_on_the_day_that_stands_for_never_does_not_spoil() -> None:
    """The air gives no time, and it keeps until midnight after 6 June: it can wait."""
    moth = waiting("K1", 50, {"B": 1.0}, days={"cellar": None}, last=0)
    end = SAT.on + timedelta(days=30)
    midnight = datetime(end.year, end.month, end.day, tzinfo=VIENNA)
    placed = planned(moth, SAT, "B", 0, **NO_TIME)
    for lost_at, expected in ((midnight, ["no time"]), (midnight - timedelta(seconds=1), [])):
        case = problem([PlanBoard("B", 50, "cellar")], [SAT], [replace(moth, lost_at=lost_at)])
        assert kinds(case, Plan((placed,), (), Quality(0, 3, 1.0, 0, 0))) == expected


def test_a_slot_is_never_used_twice_in_one_session() -> None:
    """Even if a rule should say that nothing needs to dry at all."""
    at_once = replace(ATTIC_DAYS, min_days=0, plan_days=0)
    one, two = (
        waiting(name, 50, {"B": 1.0}, days={"attic": at_once}, last=0) for name in ("K1", "K2")
    )
    case = problem([PlanBoard("B", 50, "attic")], [SAT], [one, two])
    dry = {"min_days": 0, "plan_days": 0, "due": SAT.on, "clear": SAT.on}
    placements = tuple(planned(x, SAT, "B", 0, **dry) for x in (one, two))
    assert kinds(case, Plan(placements, (), Quality(0, 6, 1.0, 0, 0))) == ["overlaps planned"]


def test_figures_of_a_plan_that_cannot_be_carried_out_are_not_reckoned() -> None:
    plan = also(changed(weekend_plan(), "M2", minutes=19), weighted_waiting_days=0)
    assert kinds(weekend_problem(), plan) == ["wrong minutes"]


# --- laws -------------------------------------------------------------------------------


def row(lengths: list[int], stands: list[bool]) -> tuple[PlanProblem, Plan]:
    """Return one board filled from end to end, some of it standing to the end."""
    specimens, placements, standing, at = [], [], [], 0
    for n, (length, stood) in enumerate(zip(lengths, stands, strict=True)):
        if stood:
            standing.append(PlanStanding(f"S{n}", "B", at, at + length, None, None, None))
        else:
            one = waiting(f"K{n}", length, {"B": 1.0}, minutes=1, last=0)
            specimens.append(one)
            placements.append(planned(one, SAT, "B", at))
        at += length
    session = replace(SAT, minutes=100)
    case = problem([PlanBoard("B", at, "attic")], [session], specimens, standing)
    # every one waits from Wednesday to Saturday; from 29 May on (clear) to 7 June (the end)
    # the planned ones could come off, beside what stands
    blocked = 9 if any(stands) and specimens else 0
    spare = 1.0 if specimens else 0.0
    return case, Plan(tuple(placements), (), Quality(0, 3 * len(specimens), spare, blocked, 0))


slots = st.lists(st.tuples(st.integers(1, 120), st.booleans()), min_size=1, max_size=12)


@given(slots)
def test_law_a_board_filled_to_the_mm_is_valid(parts: list[tuple[int, bool]]) -> None:
    assert kinds(*row([length for length, _ in parts], [stood for _, stood in parts])) == []


@given(slots, st.data())
def test_law_a_slot_shifted_1_mm_into_its_neighbour_is_always_found(
    parts: list[tuple[int, bool]], data: st.DataObject
) -> None:
    stands = [stood for _, stood in parts] + [False]
    case, plan = row([length for length, _ in parts] + [50], stands)
    n = data.draw(st.sampled_from([k for k, stood in enumerate(stands) if not stood]))
    step = data.draw(st.sampled_from([-1, 1]))
    one = next(p for p in plan.placements if p.specimen == f"K{n}")
    shifted = changed(plan, one.specimen, from_mm=one.from_mm + step, to_mm=one.to_mm + step)
    neighbour = n + step
    expected: FaultKind = "past the end"
    if 0 <= neighbour < len(stands):
        expected = "overlaps standing" if stands[neighbour] else "overlaps planned"
    assert kinds(case, shifted) == [expected]


@given(st.integers(1, 60), st.integers(1, 60), st.integers(-49, 49))
def test_law_a_slot_is_used_again_from_the_clear_date_on_not_a_day_before(
    plan_days: int, later_days: int, offset_mm: int
) -> None:
    second = PlanSession("LATER", SAT.start + timedelta(days=later_days), 100)
    days = replace(ATTIC_DAYS, min_days=1, plan_days=plan_days)
    one, two = (
        waiting(name, 50, {"B": 1.0}, days={"attic": days}, last=1) for name in ("K1", "K2")
    )
    case = problem([PlanBoard("B", 150, "attic")], [SAT, second], [one, two])
    placements = tuple(
        planned(
            x,
            session,
            "B",
            at,
            min_days=1,
            plan_days=plan_days,
            due=session.on + timedelta(days=1),
            clear=session.on + timedelta(days=plan_days),
        )
        for x, session, at in ((one, SAT, 50), (two, second, 50 + offset_mm))
    )
    off = {"K1": "LATER"} if plan_days <= later_days else {}
    plan = Plan(placements, (), Quality(0, 0, 0.0, 0, 0), off=off)
    found = "overlaps planned" in kinds(case, plan)
    assert found == (later_days < plan_days)


@given(st.permutations(range(4)))
def test_law_the_order_of_the_placements_does_not_matter(order: list[int]) -> None:
    plan = weekend_plan()
    mixed = plan._replace(placements=tuple(plan.placements[n] for n in order))
    assert judge(weekend_problem(), mixed) == []
