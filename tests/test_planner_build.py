"""From the record to the problem: who waits, which sessions count, what is free when.

Specimens, boards and rooms are invented.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduler.looks.problem import build_problem, groove_widths
from scheduler.planner.make import make_plan
from scheduler.planner.problem import PlanProblem, PlanWaiting
from scheduler.planner.referee.verdict import judge
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.rulebook import Rulebook, load_rulebook
from scheduler.view import View
from scheduler.words.records import (
    Board,
    BoardStay,
    ChamberStay,
    Placement,
    Room,
    Session,
    Settings,
    Specimen,
)

ZONE = ZoneInfo("Europe/Berlin")
NOW = datetime(2027, 5, 3, 10, tzinfo=ZONE)
NOCTUID = Specimen("M1", family="Noctuidae", body_mm=4.5, wingspan_mm=38)


@pytest.fixture(scope="module")
def rules() -> Rulebook:
    return load_rulebook()


def at(day: int, hour: int = 14, minute: int = 0) -> datetime:
    return datetime(2027, 5, day, hour, minute, tzinfo=ZONE)


def record(
    specimens: Iterable[Specimen] = (NOCTUID,),
    *,
    boards: Iterable[Board] = (Board("B1", 6, 60, 300),),
    rooms: Iterable[Room] = (Room("study", rh_pct=50),),
    stays: Iterable[BoardStay] | None = None,
    sessions: Iterable[Session] = (Session("sat", at(8), 120),),
    placements: Iterable[Placement] = (),
    chamber: Iterable[ChamberStay] = (),
    settings: Settings = Settings("Europe/Berlin", chamber_places=14),  # noqa: B008 - frozen
) -> Snapshot:
    boards, rooms = tuple(boards), tuple(rooms)
    everywhere = tuple(BoardStay(b.board, rooms[0].room, ALWAYS) for b in boards)
    return Snapshot(
        settings=settings,
        rooms={r.room: r for r in rooms},
        boards={b.board: b for b in boards},
        stays=everywhere if stays is None else tuple(stays),
        specimens={s.specimen: s for s in specimens},
        sessions={s.session: s for s in sessions},
        placements=tuple(placements),
        chamber=tuple(chamber),
    )


def mounted(day: int, released: datetime | None = None) -> Placement:
    when = at(day, 20)
    return Placement(1, "M1", "B1", 10, 40, when, when.date(), released)


def only(problem: PlanProblem) -> PlanWaiting:
    (waiting,) = problem.waiting
    return waiting


def test_a_noctuid_waits_with_its_board_days_and_session(rules: Rulebook) -> None:
    problem = build_problem(View(record(), rules, NOW))
    w = only(problem)
    assert (w.body_mm, w.estimated, list(w.spare_mm)) == (4.5, "", ["B1"])
    days = w.days["study"]
    assert days is not None
    # The anchor of a fresh body of 4.5 mm at 50 %: 14 days both ways.
    assert (days.min_days, days.plan_days) == (14, 17)
    assert (w.open_at, w.first, w.last) == (NOW, 0, 0)
    assert w.soft_at == NOW + timedelta(hours=w.first_look_hours)
    assert problem.end == date(2027, 6, 7), "the last session + 30 days"


def test_the_problem_is_planned_and_passes_the_referee(rules: Rulebook) -> None:
    snap = record()
    problem = build_problem(View(snap, rules, NOW))
    plan = make_plan(problem, groove_widths(View(snap, rules, NOW)))
    assert [p.specimen for p in plan.placements] == ["M1"]
    assert judge(problem, plan) == []


def test_the_moment_of_the_plan_is_said_in_the_records_zone(rules: Rulebook) -> None:
    elsewhere = NOW.astimezone(ZoneInfo("Asia/Tokyo"))
    assert build_problem(View(record(), rules, elsewhere)) == build_problem(
        View(record(), rules, NOW)
    )


def test_a_body_too_thick_for_every_groove(rules: Rulebook) -> None:
    hawkmoth = Specimen("M1", family="Sphingidae", body_mm=13.1, wingspan_mm=110)
    boards = [Board("B1", 6, 160, 300), Board("B9", 12, 160, 300)]
    problem = build_problem(View(record([hawkmoth], boards=boards), rules, NOW))
    assert problem.misfits == {"M1": "body 13.1 mm: the widest groove is 12 mm, board B9"}
    assert problem.waiting == ()


def test_wings_too_wide_for_every_board_with_a_groove_wide_enough(rules: Rulebook) -> None:
    wide = NOCTUID._replace(wingspan_mm=80)
    boards = [Board("B1", 6, 60, 300), Board("B2", 2, 160, 300)]
    problem = build_problem(View(record([wide], boards=boards), rules, NOW))
    assert problem.misfits == {
        "M1": "wingspan 80 mm: the widest board with a groove wide enough is 60 mm, board B1"
    }


def test_a_slot_longer_than_every_board(rules: Rulebook) -> None:
    problem = build_problem(View(record(boards=[Board("B1", 6, 60, 10)]), rules, NOW))
    assert problem.misfits["M1"].startswith("needs ")
    assert problem.misfits["M1"].endswith("has 10 mm, board B1")


def test_a_specimen_without_any_size(rules: Rulebook) -> None:
    problem = build_problem(View(record([Specimen("M1", taxon="Unknown")]), rules, NOW))
    assert problem.misfits["M1"].startswith("nothing to judge its size by")


def test_an_estimated_size_says_so(rules: Rulebook) -> None:
    guessed = record([NOCTUID._replace(body_mm=None)], boards=[Board("B1", 8, 60, 300)])
    assert "from wingspan 38 mm" in only(build_problem(View(guessed, rules, NOW))).estimated
    narrow = record([NOCTUID._replace(body_mm=None)], boards=[Board("B1", 4, 60, 300)])
    reason = build_problem(View(narrow, rules, NOW)).misfits["M1"]
    assert "the widest groove is 4 mm, board B1 (body " in reason


def test_a_groove_as_wide_as_the_body_is_still_too_narrow(rules: Rulebook) -> None:
    tight = record(boards=[Board("B1", 4.5, 60, 300)])
    needs = 4.5 + rules.fit_row(4.5).clearance_min_mm
    assert build_problem(View(tight, rules, NOW)).misfits == {
        "M1": f"body 4.5 mm: the widest groove is 4.5 mm, board B1, it needs {needs:g} mm"
    }


def test_a_board_as_wide_as_the_wings_leaves_no_edge(rules: Rulebook) -> None:
    bare = record(boards=[Board("B1", 6, 38, 300)])
    assert (
        build_problem(View(bare, rules, NOW)).misfits["M1"].endswith("and leaves too little edge")
    )


def test_no_board_in_use(rules: Rulebook) -> None:
    out = build_problem(View(record(boards=[Board("B1", 6, 60, 300, out=True)]), rules, NOW))
    assert out.boards == ()
    assert out.misfits == {"M1": "there is no board in use"}


def test_a_board_that_stands_nowhere_is_not_planned_on(rules: Rulebook) -> None:
    assert build_problem(View(record(stays=[]), rules, NOW)).boards == ()


def test_a_board_is_planned_in_the_room_it_was_moved_to_last(rules: Rulebook) -> None:
    stays = [BoardStay("B1", "cellar", ALWAYS), BoardStay("B1", "study", at(2))]
    rooms = [Room("cellar", rh_pct=90), Room("study", rh_pct=50)]
    problem = build_problem(View(record(rooms=rooms, stays=stays), rules, NOW))
    assert problem.boards[0].room == "study"
    assert list(only(problem).days) == ["study"]


def test_air_too_damp_gives_no_time(rules: Rulebook) -> None:
    problem = build_problem(View(record(rooms=[Room("cellar", rh_pct=92)]), rules, NOW))
    assert only(problem).days == {"cellar": None}


def test_what_stands_was_released_or_is_gone_does_not_wait(rules: Rulebook) -> None:
    assert build_problem(View(record(placements=[mounted(2)]), rules, NOW)).waiting == ()
    off = [mounted(1, released=at(2))]
    assert build_problem(View(record(placements=off), rules, NOW)).waiting == ()
    gone = replace(record(), gone={"M1": "mouldy"})
    assert build_problem(View(gone, rules, NOW)).waiting == ()


def test_what_is_not_due_stands_until_half_way_between_due_and_clear(rules: Rulebook) -> None:
    (standing,) = build_problem(View(record(placements=[mounted(1)]), rules, NOW)).standing
    assert (standing.from_mm, standing.to_mm) == (10, 40)
    assert standing.due == date(2027, 5, 15)
    assert (standing.clear, standing.free_on) == (date(2027, 5, 18), date(2027, 5, 17))


def test_what_is_due_is_free_from_today_on(rules: Rulebook) -> None:
    later = at(20, 10)
    (standing,) = build_problem(View(record(placements=[mounted(1)]), rules, later)).standing
    assert standing.due == date(2027, 5, 15)
    assert standing.free_on == later.date()


def test_what_stands_in_air_too_damp_is_never_free(rules: Rulebook) -> None:
    damp = record(placements=[mounted(1)], rooms=[Room("cellar", rh_pct=92)])
    (standing,) = build_problem(View(damp, rules, NOW)).standing
    assert (standing.due, standing.free_on) == (None, None)


def test_sessions_cancelled_ended_or_after_the_date_asked_do_not_exist(rules: Rulebook) -> None:
    sessions = [
        Session("cancelled", at(7), 0),
        Session("ended", at(3, 8), 120),
        Session("sunday", at(9), 60),
        Session("saturday", at(8), 60),
        Session("later", at(15), 60),
    ]
    problem = build_problem(View(record(sessions=sessions), rules, NOW), until=date(2027, 5, 9))
    assert [s.session for s in problem.sessions] == ["saturday", "sunday"]
    assert problem.end == date(2027, 6, 8)


def test_a_running_session_has_the_minutes_left_and_takes_what_is_soft(rules: Rulebook) -> None:
    running = [Session("now", at(3, 9, 30), 90)]
    soft = [ChamberStay("M1", at(1, 20))]
    problem = build_problem(View(record(sessions=running, chamber=soft), rules, NOW))
    assert [(s.minutes, s.running) for s in problem.sessions] == [(60, True)]
    assert (only(problem).first, only(problem).last) == (0, 0)
    dry = build_problem(View(record(sessions=running), rules, NOW))
    assert only(dry).first > only(dry).last


def test_available_opens_the_chamber_on_its_morning(rules: Rulebook) -> None:
    later = NOCTUID._replace(available=date(2027, 5, 6))
    assert only(build_problem(View(record([later]), rules, NOW))).open_at == at(6, 0)
    past = NOCTUID._replace(available=date(2027, 4, 6))
    assert only(build_problem(View(record([past]), rules, NOW))).open_at == NOW


def test_spoils_by_is_the_last_day_on_which_it_may_be_mounted(rules: Rulebook) -> None:
    sessions = [Session("fri", at(7, 20), 60), Session("sat", at(8), 60)]
    spoils = NOCTUID._replace(spoils_by=date(2027, 5, 7))
    w = only(build_problem(View(record([spoils], sessions=sessions), rules, NOW)))
    assert w.lost_at is not None
    assert w.lost_at.date() == date(2027, 5, 7)
    assert (w.first, w.last) == (0, 0)


def test_what_is_in_the_chamber_goes_into_the_fridge_after_the_most_hours_and_on_to_the_freezer(
    rules: Rulebook,
) -> None:
    stays = [ChamberStay("M1", at(1), until=at(1, 15)), ChamberStay("M1", at(3, 8))]
    w = only(build_problem(View(record(chamber=stays), rules, NOW)))
    assert w.chamber_since == at(3, 8)
    assert w.soft_at == at(3, 8) + timedelta(hours=w.first_look_hours)
    assert w.lost_at is None
    fridge, freezer = w.later
    rots = at(3, 8) + timedelta(hours=w.most_hours)
    assert rots < fridge.since < rots + timedelta(minutes=1)
    assert (fridge.place, fridge.chamber) == ("fridge", False), "soft already, it stays limp there"
    # S1, p. 29: two weeks in a refrigerator.
    assert freezer.since - fridge.since == timedelta(days=14)
    assert (freezer.place, freezer.chamber) == ("freezer", True)
    assert w.first <= w.last, "by Saturday it would rot in the chamber, not in the fridge"


def test_what_is_fresh_waits_in_the_freezer_for_a_session_that_can_take_it(
    rules: Rulebook,
) -> None:
    # Common practice, no source: what cannot be spread in time goes into the freezer.
    fresh = NOCTUID._replace(state="fresh", frozen_on=None, available=NOW.date())
    sessions = [Session("tonight", at(3, 20), 60), Session("in a week", at(10), 60)]
    w = only(build_problem(View(record([fresh], sessions=sessions), rules, NOW)))
    assert (w.first, w.last, w.lost_at) == (0, 1, None)
    tonight, next_week = (w.phase(s.start) for s in sessions)
    assert (tonight.place, tonight.chamber) == (None, False), "as it is, if a touch says limp"
    assert (next_week.place, next_week.chamber) == ("freezer", True)


def test_what_grows_brittle_in_the_freezer_is_softened_longer_from_that_day_on(
    rules: Rulebook,
) -> None:
    frozen = NOCTUID._replace(frozen_on=NOW.date() - timedelta(days=58))
    sessions = [Session("tomorrow", at(4, 20), 60), Session("in a week", at(10), 60)]
    w = only(build_problem(View(record([frozen], sessions=sessions), rules, NOW)))
    tomorrow, next_week = (w.phase(s.start) for s in sessions)
    assert next_week.since == at(5, 0), "60 days: the practical limit of S1, p. 29"
    assert next_week.first_look_hours > tomorrow.first_look_hours


def test_minutes_said_for_a_specimen_count_before_the_tables(rules: Rulebook) -> None:
    assert only(build_problem(View(record(), rules, NOW))).minutes == rules.minutes(4.5)
    slow = NOCTUID._replace(minutes=45)
    assert only(build_problem(View(record([slow]), rules, NOW))).minutes == 45


def test_settings_are_the_problems(rules: Rulebook) -> None:
    settings = Settings("Europe/Berlin", chamber_places=3, chamber_time=time(19, 30))
    problem = build_problem(View(record(settings=settings), rules, NOW))
    assert (problem.chamber_places, problem.chamber_time) == (3, time(19, 30))
    assert problem.take_off_min == rules.take_off_min


def test_alike_specimens_share_one_mapping_of_the_boards_that_take_them(rules: Rulebook) -> None:
    boards = [
        Board("B1", 6, 60, 300),
        Board("B2", 6, 60, 300),
        Board("B3", 6, 60, 20),
        Board("B4", 12, 60, 300),
    ]
    others = [
        NOCTUID._replace(specimen="M2"),
        NOCTUID._replace(specimen="M3", wingspan_mm=37.5),
        NOCTUID._replace(specimen="M4", body_mm=4.2),
        NOCTUID._replace(specimen="M5", wingspan_mm=16),
    ]
    problem = build_problem(View(record([NOCTUID, *others], boards=boards), rules, NOW))
    one, twin, smaller, slimmer, short = problem.waiting
    assert dict(one.spare_mm) == {"B1": 1.0, "B2": 1.0, "B4": 7.0}
    assert one.pack == {"B4"}
    assert one.spare_mm is twin.spare_mm is smaller.spare_mm
    assert one.pack is twin.pack is smaller.pack
    assert dict(slimmer.spare_mm) == {"B1": 1.3, "B2": 1.3, "B4": 7.3}
    assert set(short.spare_mm) == {"B1", "B2", "B3", "B4"}, "only it is short enough for B3"
