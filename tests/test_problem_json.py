"""A problem and a plan as JSON: read back exactly, and told plainly when they cannot be."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_cases import VIENNA, changed, weekend_plan, weekend_problem

from scheduler.planner import problem_json
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
from scheduler.planner.problem_json import (
    plan_from_json,
    plan_to_json,
    problem_from_json,
    problem_to_json,
)
from scheduler.planner.referee.verdict import judge
from scheduler.words.records import BASES


def through_a_file(data: dict[str, Any]) -> dict[str, Any]:
    """Return what a stranger's JSON reader makes of it."""
    read: dict[str, Any] = json.loads(json.dumps(data, allow_nan=False))
    return read


# --- the weekend, by hand ---------------------------------------------------------------


def test_the_weekend_comes_back_and_is_still_valid() -> None:
    problem, plan = weekend_problem(), weekend_plan()
    again = problem_from_json(through_a_file(problem_to_json(problem)))
    assert again == problem
    plan_again = plan_from_json(again.timezone, through_a_file(plan_to_json(problem, plan)))
    assert plan_again == plan
    assert judge(again, plan_again) == []


def test_moments_come_back_in_the_records_zone_not_as_a_bare_offset() -> None:
    problem = problem_from_json(problem_to_json(weekend_problem()))
    plan = plan_from_json(problem.timezone, plan_to_json(problem, weekend_plan()))
    first = plan.placements[0]
    assert first.relax_from is not None
    assert first.relax_from.tzinfo == first.mount_at.tzinfo == problem.now.tzinfo == VIENNA


def test_a_moment_is_iso_8601_with_its_utc_offset() -> None:
    data = problem_to_json(weekend_problem())
    assert data["now"] == "2027-05-05T10:00:00+02:00"
    assert (data["end"], data["chamber_time"]) == ("2027-06-28", "20:00:00")


def test_a_specimen_says_boards_days_and_its_earliest_and_latest_session() -> None:
    data = problem_to_json(weekend_problem())
    assert data["format"] == "wingrest-problem/1"
    m2, m3 = data["specimens"][1], data["specimens"][2]
    assert m2["boards"][1] == {"board": "B2", "spare_mm": 0.8, "pack": False}
    assert m2["days"]["attic"]["plan_days"] == 21
    assert m2["days"]["cellar"] is None
    assert (m3["earliest_session"], m3["latest_session"]) == ("SAT", "SUN")


@pytest.mark.parametrize(("first", "last"), [(3, 2), (0, -1), (3, -1), (2, 1)])
def test_one_with_no_session_open_to_it_comes_back_the_same(first: int, last: int) -> None:
    case = weekend_problem()
    case = replace(case, waiting=(replace(case.waiting[0], first=first, last=last),))
    data = problem_to_json(case)
    assert problem_from_json(data) == case
    assert (data["specimens"][0]["earliest_session"] is None) == (first == 3)


def test_a_session_index_beyond_the_sessions_is_refused() -> None:
    case = weekend_problem()
    case = replace(case, waiting=(replace(case.waiting[0], first=4),))
    with pytest.raises(ValueError, match="session index 4: there are 3 sessions"):
        problem_to_json(case)


def test_each_session_lists_what_comes_off_first_by_board_and_position() -> None:
    data = plan_to_json(weekend_problem(), weekend_plan())
    off = [[(x["board"], x["specimen"]) for x in s["test_first"]] for s in data["sessions"]]
    assert off == [[("B1", "S1")], [], [("B1", "M1"), ("B1", "S2"), ("B2", "M2")]]
    assert data["sessions"][2]["test_first"][1] == {
        "board": "B1",
        "specimen": "S2",
        "from_mm": 100,
        "to_mm": 180,
        "due": "2027-05-13",
        "clear": "2027-05-20",
    }


def test_minutes_used_are_those_of_taking_off_and_of_mounting() -> None:
    data = plan_to_json(weekend_problem(), weekend_plan())
    assert [(s["session"], s["minutes"], s["minutes_used"]) for s in data["sessions"]] == [
        ("SAT", 55, 5 + 30 + 20),
        ("SUN", 49, 20),
        ("LATE", 60, 3 * 5 + 24),
    ]


def test_a_placement_says_all_that_the_bench_needs() -> None:
    data = plan_to_json(weekend_problem(), weekend_plan())
    assert data["sessions"][0]["placements"][0] == {
        "specimen": "M1",
        "board": "B1",
        "from_mm": 0,
        "to_mm": 80,
        "relax_from": "2027-05-06T20:00:00+02:00",
        "out_by": "2027-05-09T20:00:00+02:00",
        "mount_at": "2027-05-08T14:00:00+02:00",
        "due": "2027-05-22",
        "clear": "2027-05-29",
        "min_days": 14,
        "plan_days": 21,
        "rule_ids": ["bt-fresh-8", "rh-8-50"],
        "basis": "published",
        "minutes": 30,
        "after": ["S1"],
    }


def test_the_figures_stand_beside_those_of_planning_by_hand() -> None:
    by_hand = Quality(5, 400, 1.25, 3, 2, ("M5",))
    quality = plan_to_json(weekend_problem(), weekend_plan()._replace(by_hand=by_hand))["quality"]
    assert quality == {
        "spoiled": 1,
        "spoiled_priority": 2,
        "weighted_waiting_days": 184,
        "spare_groove_mm": 0.9,
        "blocked_board_days": 12,
        "unsavable": ["M5"],
        "by_hand": {
            "spoiled": 2,
            "spoiled_priority": 5,
            "weighted_waiting_days": 400,
            "spare_groove_mm": 1.25,
            "blocked_board_days": 3,
            "unsavable": ["M5"],
        },
    }


def test_every_key_is_documented() -> None:
    def keys(data: object) -> set[str]:
        if isinstance(data, dict):
            inner = {k for name, x in data.items() if name != "days" for k in keys(x)}
            return inner | set(data) | {k for x in data.get("days", {}).values() for k in x or ()}
        return {k for x in data for k in keys(x)} if isinstance(data, list) else set()

    problem, plan = weekend_problem(), weekend_plan()
    used = keys(problem_to_json(problem)) | keys(
        plan_to_json(problem, plan._replace(by_hand=plan.quality))
    )
    text = problem_json.__doc__ or ""
    assert len(used) > 50
    assert [key for key in sorted(used) if f"`{key}`" not in text and f'"{key}"' not in text] == []


# --- faults -----------------------------------------------------------------------------


def test_all_faults_of_a_problem_file_are_told_at_once() -> None:
    data = problem_to_json(weekend_problem())
    del data["boards"][1]["length_mm"]
    data["standing"][0]["due"] = "soon"
    data["specimens"][2]["latest_session"] = "MON"
    data["specimens"][3]["open_at"] = "2027-05-20T00:00:00"
    data["specimens"][0]["days"]["attic"]["basis"] = "hearsay"
    with pytest.raises(ValueError, match="boards") as told:
        problem_from_json(data)
    assert str(told.value).splitlines() == [
        "boards[1]: length_mm is missing",
        "standing[0]: Invalid isoformat string: 'soon'",
        "specimens[0]: basis 'hearsay' is none of published, scaled, common practice, memory",
        "specimens[2]: there is no session 'MON'",
        "specimens[3]: '2027-05-20T00:00:00' has no UTC offset",
    ]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"format": "other/9"}, "format is 'other/9', this program reads 'wingrest-problem/1'"),
        ({"timezone": "Attic/Left"}, "timezone 'Attic/Left' is not known"),
        ({"now": "today"}, "problem: Invalid isoformat string: 'today'"),
    ],
)
def test_a_problem_that_cannot_be_read_says_why(change: dict[str, str], told: str) -> None:
    with pytest.raises(ValueError, match=re.escape(told)):
        problem_from_json(problem_to_json(weekend_problem()) | change)


def test_a_problem_without_lists_names_every_missing_one() -> None:
    data = problem_to_json(weekend_problem())
    del data["boards"], data["sessions"]
    with pytest.raises(ValueError, match=r"^boards is missing\nsessions is missing$"):
        problem_from_json(data)


def test_all_faults_of_a_plan_file_are_told_at_once() -> None:
    data = plan_to_json(weekend_problem(), weekend_plan())
    del data["sessions"][0]["placements"][1]["after"]
    del data["quality"]["spoiled"]
    with pytest.raises(ValueError, match="placements") as told:
        plan_from_json(weekend_problem().timezone, data)
    assert str(told.value).splitlines() == [
        "placements[1]: after is missing",
        "quality: spoiled is missing",
    ]


def test_a_placement_in_a_session_that_does_not_exist_is_not_lost_silently() -> None:
    plan = changed(weekend_plan(), "M2", session="MON")
    with pytest.raises(ValueError, match="sessions that do not exist: MON"):
        plan_to_json(weekend_problem(), plan)


# --- laws: any problem, any plan ----------------------------------------------------------

ZONES = ["UTC", "Europe/Vienna", "America/St_Johns", "Australia/Lord_Howe"]
names = st.text(min_size=1, max_size=5)
dates = st.dates(date(2020, 1, 1), date(2035, 12, 31))
no_date = st.none() | dates
mm = st.integers(0, 2000)
sizes = st.floats(0, 200)
days = st.builds(
    BoardDays, st.integers(1, 90), st.integers(1, 90), st.lists(names).map(tuple),
    st.sampled_from(BASES),
)  # fmt: skip
standing = st.builds(PlanStanding, names, names, mm, mm, no_date, no_date, no_date)


def moments(zone: str) -> st.SearchStrategy[datetime]:
    """Return moments that exist in the zone, the doubled hour of autumn among them."""
    instants = st.datetimes(datetime(2020, 1, 1), datetime(2035, 12, 31), timezones=st.just(UTC))  # noqa: DTZ001
    return instants.map(lambda moment: moment.astimezone(ZoneInfo(zone)))


@st.composite
def problems(draw: st.DrawFn) -> PlanProblem:
    zone = draw(st.sampled_from(ZONES))
    moment = moments(zone)
    ids = draw(st.lists(names, max_size=4, unique=True))
    sessions = [
        PlanSession(name, draw(moment), draw(st.integers(0, 600)), draw(st.booleans()))
        for name in ids
    ]

    @st.composite
    def specimens(draw: st.DrawFn) -> PlanWaiting:
        spare = draw(st.dictionaries(names, sizes, max_size=3))
        return draw(
            st.builds(
                PlanWaiting,
                specimen=names,
                slot_mm=mm,
                body_mm=sizes,
                minutes=st.integers(1, 60),
                priority=st.integers(1, 10),
                open_at=moment,
                soft_at=moment,
                first_look_hours=sizes,
                most_hours=sizes,
                chamber=st.booleans(),
                chamber_since=st.none() | moment,
                lost_at=st.none() | moment,
                wanted_by=no_date,
                spare_mm=st.just(spare),
                pack=st.sets(st.sampled_from(sorted(spare))).map(frozenset)
                if spare
                else st.just(frozenset()),
                days=st.dictionaries(names, st.none() | days, max_size=2),
                first=st.integers(0, len(sessions)),
                last=st.integers(-1, len(sessions) - 1),
                estimated=st.text(max_size=5),
            )
        )

    return PlanProblem(
        now=draw(moment),
        timezone=zone,
        end=draw(dates),
        chamber_places=draw(st.none() | st.integers(0, 50)),
        chamber_time=draw(st.times()),
        take_off_min=draw(st.integers(0, 30)),
        boards=tuple(draw(st.lists(st.builds(PlanBoard, names, mm, names), max_size=3))),
        standing=tuple(draw(st.lists(standing, max_size=3))),
        sessions=tuple(sessions),
        waiting=tuple(draw(st.lists(specimens(), max_size=3))),
        misfits=draw(st.dictionaries(names, names, max_size=2)),
        weights=draw(st.builds(Weights, *[st.integers(0, 100)] * len(fields(Weights)))),
    )


@st.composite
def plans(draw: st.DrawFn) -> tuple[PlanProblem, Plan]:
    problem = draw(problems())
    moment = moments(problem.timezone)
    placements = [
        draw(
            st.builds(
                Planned,
                specimen=names,
                session=st.just(session.session),
                board=names,
                from_mm=mm,
                to_mm=mm,
                relax_from=st.none() | moment,
                out_by=st.none() | moment,
                mount_at=moment,
                due=no_date,
                clear=no_date,
                min_days=st.none() | st.integers(1, 90),
                plan_days=st.none() | st.integers(1, 90),
                rule_ids=st.lists(names, max_size=2).map(tuple),
                basis=st.none() | st.sampled_from(BASES),
                minutes=st.integers(1, 60),
                after=st.lists(names, max_size=2).map(tuple),
            )
        )
        for session in problem.sessions
        for _ in range(draw(st.integers(0, 2)))
    ]
    unplaced = draw(st.lists(st.tuples(names, names), max_size=2))
    figure = st.integers(0, 10**6)
    quality = st.builds(
        Quality, figure, figure, sizes, figure, figure, st.lists(names, max_size=2).map(tuple)
    )
    return problem, Plan(tuple(placements), tuple(unplaced), draw(quality))


@given(problems())
def test_law_a_problem_read_back_is_the_same(problem: PlanProblem) -> None:
    data = problem_to_json(problem)
    again = problem_from_json(through_a_file(data))
    assert again == problem
    assert problem_to_json(again) == data  # the doubled hour of autumn too


@given(plans())
def test_law_a_plan_read_back_is_the_same(case: tuple[PlanProblem, Plan]) -> None:
    problem, plan = case
    plan = plan._replace(by_hand=plan.quality)
    data = plan_to_json(problem, plan)
    again = plan_from_json(problem.timezone, through_a_file(data))
    assert again == plan
    assert plan_to_json(problem, again) == data
