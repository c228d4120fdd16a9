"""What is scarce, as a person reads it. Boards, rooms, sessions and prices are invented."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bench_cases import seen
from planner_cases import problem, session, specimen

from scheduler.faces.howgood import how_good_lines
from scheduler.looks.planning import Planning
from scheduler.planner.problem import Plan, PlanBoard, Quality, Scarce
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Board

NOTHING = Quality(0, 0, 0.0, 0, 0)


def planning(
    boards: Mapping[Board, str],
    board_saves: Mapping[str, float],
    minute_saves: Mapping[str, float] | None = None,
    priorities: Sequence[int] = (1,),
) -> Planning:
    """Return an empty plan of two sessions on the boards, which stand in the rooms named."""
    return Planning(
        view=seen(Snapshot(boards={b.board: b for b in boards})),
        problem=problem(
            [PlanBoard(b.board, b.length_mm, room) for b, room in boards.items()],
            [session(8), session(9)],
            [specimen(f"M{n}", priority=p) for n, p in enumerate(priorities)],
        ),
        plan=Plan(
            (),
            (),
            NOTHING,
            by_hand=NOTHING,
            status="bounded",
            bound=0,
            scarce=Scarce(minute_saves or {}, board_saves),
        ),
    )


def scarce(of: Planning) -> str:
    """Return the sentence about what is scarce, in one line; empty without one."""
    lines = how_good_lines(of)
    assert all(len(line) <= 80 for line in lines)
    _, found, said = " ".join(lines).partition("What would help most: ")
    return said if found else ""


def test_one_more_board_and_half_an_hour_more() -> None:
    boards = {Board("B1", 6, 60, 300): "study", Board("B2", 6, 60, 300): "study"}
    of = planning(boards, {"B1": 0.4667}, {"09.05-14": 0.4, "08.05-14": 0.0})
    assert scarce(of) == (
        "one more board with a groove of 6 mm would save at most about 140 specimen-days;"
        " 30 more minutes on 9 May (09.05-14) at most about 12."
    )


def test_a_width_is_said_once_with_the_room_where_it_would_save_most() -> None:
    boards = {Board("B1", 6, 60, 300): "study", Board("B2", 6, 60, 300): "attic"}
    assert scarce(planning(boards, {"B1": 0.1, "B2": 0.2})) == (
        "one more board with a groove of 6 mm (in attic) would save at most about 60 specimen-days."
    )


def test_where_boards_of_a_width_differ_it_is_said_like_which() -> None:
    boards = {Board("B1", 6, 60, 300): "study", Board("B2", 6, 60, 500): "study"}
    said = scarce(planning(boards, {"B1": 0.2, "B2": 0.15}))
    assert said.startswith("one more board like B2, with a groove of 6 mm would save at most")
    assert said.endswith("about 75 specimen-days.")


def test_only_the_scarcest_and_nothing_below_a_day_is_said() -> None:
    boards = {Board(f"B{n}", n, 60, 100): "study" for n in (4, 6, 8)}
    minutes = {"08.05-14": 0.03, "09.05-14": 0.04}
    of = planning(boards, {"B4": 0.02, "B6": 0.5, "B8": 0.3}, minutes)
    assert scarce(of) == (
        "one more board with a groove of 6 mm would save at most about 50 specimen-days;"
        " one more board with a groove of 8 mm at most about 30;"
        " 30 more minutes on 9 May (09.05-14) at most about 1."
    )
    assert scarce(planning(boards, {"B4": 0.0099})) == ""


def test_the_scarcest_is_said_first() -> None:
    of = planning({Board("B1", 6, 60, 300): "study"}, {"B1": 0.1}, {"08.05-14": 2.0})
    assert scarce(of) == (
        "30 more minutes on 8 May (08.05-14) would save at most about 60 specimen-days;"
        " one more board with a groove of 6 mm at most about 30."
    )


def test_with_priorities_the_days_are_not_specimen_days() -> None:
    of = planning({Board("B1", 6, 60, 300): "study"}, {"B1": 0.1}, priorities=(1, 5))
    assert scarce(of).endswith("save at most about 30 specimen-days x priority.")


def test_what_a_kept_plan_no_longer_has_is_not_said() -> None:
    of = planning({Board("B1", 6, 60, 300): "study"}, {"B9": 5.0}, {"ended": 5.0})
    assert scarce(of) == ""
