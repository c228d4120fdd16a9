"""Why a specimen waits: each reason in the trade's words, with its numbers."""

from __future__ import annotations

from planner_cases import NOW, board, may, on, problem, session, specimen, takes
from planner_cases import standing as stands

from scheduler.planner.make import make_plan
from scheduler.planner.problem import PlanProblem


def _why(of: PlanProblem, name: str, grooves: dict[str, float] | None = None) -> str:
    return dict(make_plan(of, grooves).unplaced)[name]


def test_no_board_fits() -> None:
    reason = "body 13.1 mm: the widest groove is 12 mm, board B9"
    of = problem([board("B1")], [session(8)], [], misfits={"M1": reason})
    assert _why(of, "M1") == reason


def test_not_soft_before_the_last_session() -> None:
    of = problem([board("B1")], [session(9)], [specimen("M1", open_at=may(9, 21))])
    assert _why(of, "M1") == (
        "soft on Mon 10 May 09:00 at the earliest; the last session is Sun 9 May 14:00"
    )


def test_lost_before_it_is_soft() -> None:
    of = problem([board("B1")], [session(9)], [specimen("M1", open_at=may(7), spoils=on(7))])
    assert _why(of, "M1") == (
        "lost after Fri 7 May 23:59, before it is soft: Sat 8 May 02:00 at the earliest"
    )


def test_no_session_between_soft_and_lost() -> None:
    of = problem([board("B1")], [session(9)], [specimen("M1", spoils=on(7))])
    assert _why(of, "M1") == (
        "soft on Mon 3 May 22:00, lost after Fri 7 May 23:59: "
        "no session between, the next is Sun 9 May 14:00"
    )


def test_every_fitting_groove_is_taken() -> None:
    of = problem(
        [board("B1", 40), board("B2", 40), board("B3", 40)],
        [session(8)],
        [specimen("M1", ["B1", "B2"])],
        stands=[stands("M8", "B1", 0, 40, on(20)), stands("M9", "B2", 0, 40, on(12))],
    )
    assert _why(of, "M1", {"B1": 6, "B2": 8, "B3": 3}) == (
        "every groove of 6-8 mm is taken until 12 May"
    )
    assert _why(of, "M1") == "every board that fits (B1 and B2) is taken until 12 May"


def test_enough_groove_but_no_stretch_long_enough() -> None:
    of = problem(
        [board("B1", 100)],
        [session(8)],
        [specimen("M1")],
        stands=[stands("M8", "B1", 30, 60, on(20)), stands("M9", "B1", 90, 100, on(12))],
    )
    assert _why(of, "M1", {"B1": 6}) == "the groove of board B1 (6 mm) is taken until 12 May"


def test_a_groove_that_nobody_can_promise() -> None:
    of = problem(
        [board("B1", 40)],
        [session(8)],
        [specimen("M1", spoils=on(9))],
        stands=[stands("M9", "B1", 0, 40, None)],
    )
    assert _why(of, "M1", {"B1": 6}) == (
        "the groove of board B1 (6 mm) is taken to the end of the plan; "
        "it is lost after Sun 9 May 23:59"
    )


def test_a_groove_free_until_a_planned_neighbour_needs_it() -> None:
    waiting = [specimen("M1", priority=9), specimen("M2", days=7)]
    of = problem([board("B1", 40)], [session(8)], waiting)
    assert _why(of, "M2", {"B1": 6}) == "the groove of board B1 (6 mm) is taken until 15 May"


def test_the_session_has_too_few_minutes_left() -> None:
    waiting = [specimen("M1", minutes=20, priority=9), specimen("M2", minutes=25)]
    of = problem([board("B1")], [session(8, minutes=30)], waiting)
    assert _why(of, "M2") == "needs 25 min, the session has 10 left (Sat 8 May 14:00)"


def test_of_several_sessions_the_one_with_the_most_minutes_speaks() -> None:
    of = problem(
        [board("B1")],
        [session(8, 10), session(9, 20), session(10, 5)],
        [specimen("M1", minutes=25)],
    )
    assert _why(of, "M1") == "needs 25 min, the session has 20 left (Sun 9 May 14:00)"


def test_minutes_that_taking_off_alone_uses_up_are_none_left() -> None:
    of = problem(
        [board("B1")],
        [session(8, minutes=4)],
        [specimen("M1")],
        stands=[stands("M8", "B1", 0, 10, on(4)), stands("M9", "B1", 10, 20, on(4))],
    )
    assert _why(of, "M1") == "needs 10 min, the session has 0 left (Sat 8 May 14:00)"


def test_the_chamber_is_full() -> None:
    waiting = [specimen(f"M{n}", priority=9 - n, first_look_hours=24) for n in range(3)]
    of = problem([board("B1", 200)], [session(8)], waiting, places=2)
    assert _why(of, "M2") == "the chamber holds 2 and is full on Thu 6 May 20:00"


def test_no_minutes_left_to_take_it_off_again() -> None:
    perishable = specimen("M1", minutes=10, open_at=may(14), spoils=on(15))
    of = problem(
        [board("B1", 40)],
        [session(8), session(15, minutes=11)],
        [perishable, specimen("M2", minutes=1)],
    )
    assert _why(of, "M2") == (
        "taking it off again needs 2 min, the session of Sat 15 May 14:00 has 1 left"
    )


def test_damp_air_and_a_taken_groove_are_both_named() -> None:
    of = problem(
        [board("B1", 40), board("B2", 40, "cellar")],
        [session(8)],
        [specimen("M1", ["B1", "B2"], rooms={"study": takes(5, 7), "cellar": None})],
        stands=[stands("M9", "B1", 0, 40, on(12))],
    )
    assert _why(of, "M1", {"B1": 6, "B2": 7}) == (
        "the groove of board B1 (6 mm) is taken until 12 May; "
        "in the air of cellar no time can be promised"
    )


def test_two_things_that_one_session_lacks_are_both_said() -> None:
    of = problem(
        [board("B1", 40)],
        [session(8, minutes=5)],
        [specimen("M1", open_at=NOW)],
        stands=[stands("M9", "B1", 0, 40, on(12))],
    )
    assert _why(of, "M1", {"B1": 6}) == (
        "needs 10 min, the session has 5 left (Sat 8 May 14:00); "
        "the groove of board B1 (6 mm) is taken until 12 May"
    )
