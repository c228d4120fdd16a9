"""A whole board mounted from left to right, one specimen beside another; positions optional.

Specimens and boards are those of the invented first weekend.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, weekend

from scheduler.record.store import Store


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def row(desk: Desk, board: str) -> list[tuple[str, int, int, bool]]:
    """Return what stands on a board from left to right; True: estimated."""
    with Store(desk.store) as store:
        standing = store.snapshot().standing(board)
    return [(p.specimen, p.from_mm, p.to_mm, p.estimated) for p in standing]


def image(desk: Desk) -> str:
    with Store(desk.store) as store:
        return store.image()


def test_a_list_fills_an_empty_board_from_the_left_in_its_order(desk: Desk) -> None:
    said = desk.did("mount", "B7:", "M-14", "M-16", "M-21")
    assert said.startswith("mounted M-14, M-16 and M-21 on B7\n")
    # Slots by the rules: 38, 49 and 23 mm.
    assert row(desk, "B7") == [
        ("M-14", 0, 38, True),
        ("M-16", 38, 87, True),
        ("M-21", 87, 110, True),
    ]


@pytest.mark.parametrize("words", [("B7:M-14",), ("B7:", "M-14"), ("b7:", "m-14")])
def test_the_colon_may_stand_close_and_case_does_not_matter(
    desk: Desk, words: tuple[str, ...]
) -> None:
    desk.did("mount", *words)
    assert row(desk, "B7") == [("M-14", 0, 38, True)]


def test_what_was_measured_is_kept_and_the_others_lie_around_it(desk: Desk) -> None:
    desk.did("mount", "B7:", "M-14", "M-16=120", "M-21=200-230", "M-22")
    assert row(desk, "B7") == [
        ("M-14", 0, 38, True),
        ("M-16", 120, 169, False),
        ("M-21", 200, 230, False),
        ("M-22", 230, 248, True),
    ]


def test_a_beginning_alone_ends_where_the_next_measured_one_begins(desk: Desk) -> None:
    # M-16 would take 49 mm; 30 are left before M-14.
    run = desk("mount", "B7:", "M-16=100", "M-14=130-168")
    assert run.status == 0
    assert "M-16 has 30 mm of B7; the rules would give it 49 mm" in run.err
    assert row(desk, "B7") == [("M-16", 100, 130, False), ("M-14", 130, 168, False)]


def test_what_stands_there_stays_and_the_list_takes_the_free_groove(desk: Desk) -> None:
    # M-06 0-47 and M-09 47-110 stand on B10, both measured.
    desk.did("mount", "B10:", "M-14", "M-16")
    assert row(desk, "B10")[:2] == [("M-06", 0, 47, False), ("M-09", 47, 110, False)]
    assert row(desk, "B10")[2:] == [("M-14", 110, 148, True), ("M-16", 148, 197, True)]


def test_an_estimated_one_gives_way_to_a_measured_one(desk: Desk) -> None:
    desk.did("mount", "B7:", "M-14")
    said = desk.did("mount", "B7:", "M-16=10-59")
    assert "M-14 now counts at 59-97 mm of B7 (estimated)" in said
    assert row(desk, "B7") == [("M-16", 10, 59, False), ("M-14", 59, 97, True)]


def test_one_that_stands_there_already_tells_the_order(desk: Desk) -> None:
    desk.did("mount", "B7:", "M-14=100")
    desk.did("mount", "B7:", "M-16", "M-14", "M-21")
    assert [name for name, *_ in row(desk, "B7")] == ["M-16", "M-14", "M-21"]


def test_slots_too_long_for_the_board_are_squeezed_with_a_warning(desk: Desk) -> None:
    # 57 + 58 + 77 + 69 + 38 + 49 + 47 mm on the 380 mm of B7.
    names = ("M-25", "M-26", "M-24", "M-28", "M-14", "M-16", "M-15")
    run = desk("mount", "B7:", *names)
    assert run.status == 0
    assert "the rules would give it" in run.err
    slots = row(desk, "B7")
    assert [s[0] for s in slots] == list(names)
    assert slots[-1][2] == 380


def test_after_puts_it_directly_to_the_right_and_moves_only_estimated_ones(desk: Desk) -> None:
    desk.did("mount", "B7:", "M-14=0-38", "M-16")
    desk.did("mount", "M-21", "--board", "B7", "--after", "m-14")
    assert row(desk, "B7") == [
        ("M-14", 0, 38, False),
        ("M-21", 38, 61, True),
        ("M-16", 61, 110, True),
    ]


def test_undo_takes_back_the_list_and_what_was_moved_for_it(desk: Desk) -> None:
    desk.did("mount", "B7:", "M-14", "M-15")
    before = image(desk)
    desk.did("mount", "B7:", "M-16=10-59", "M-14", "M-21", "M-15")
    assert [name for name, *_ in row(desk, "B7")] == ["M-16", "M-14", "M-21", "M-15"]
    desk.did("undo")
    assert image(desk) == before


def test_an_estimated_one_that_outlasted_its_neighbour_stays(desk: Desk) -> None:
    """Re-laid over a slot that was another's at that time, the record would contradict itself."""
    desk.did("mount", "B7:", "M-14", "M-16")
    desk.did("release", "M-14", "--early", "a leg came off", now="2027-05-06T18:00")
    before = image(desk)
    run = desk("mount", "B7:", "M-21=30-53", now="2027-05-06T19:00")
    assert run.status == 3
    assert "M-16 begins before M-21 ends" in run.err
    assert image(desk) == before
    desk.did("mount", "B7:", "M-21", now="2027-05-06T19:00")
    assert row(desk, "B7") == [("M-21", 0, 23, True), ("M-16", 38, 87, True)]


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("B7:", "M-14", "--board", "B7"), 2, "a board with its list takes no options"),
        (("B7:", "M-14", "--except", "M-14"), 2, "a board with its list takes no options"),
        (("B7:", "M-14", "B8:", "M-16"), 2, "one board at a time"),
        (("B7:",), 2, "nothing is listed for B7"),
        (("B7:", "M-14=x"), 2, "Write M-14, M-14=120 or M-14=120-168"),
        (("B7:", "M-14", "m-14"), 2, "M-14 is listed twice"),
        (("B7:", "M-14", "M-140"), 2, "there is no specimen 'M-140'. Did you mean M-14"),
        (("B7:", "M-14=370-390"), 2, "370-390 mm is no stretch of B7"),
        (("B7:", "M-14=0-40", "M-16=30-70"), 2, "M-16 at 30-70 mm lies over M-14 at 0-40 mm"),
        (("B7:", "M-14=200", "M-16=100"), 3, "M-16 begins before M-14 ends"),
        (("B7:", "M-06"), 3, "M-06 stands on B10 already"),
        (("B10:", "M-06"), 3, "all of them stand on B10 already"),
        (("B10:", "M-06=3", "M-14"), 2, "leave its position out"),
        (("B10:", "M-14=40-60"), 3, "M-06 still stands at 0-47 mm"),
        (("M-14", "M-16"), 2, "Write `mount BOARD: M-14 M-16`"),
        (("M-14", "--after", "M-06"), 2, "--after without a board"),
        (("M-14", "--board", "B10", "--after", "M-06"), 3, "between M-06 and M-09"),
        (("M-14", "--board", "B10", "--after", "M-07"), 2, "no specimen on B10 'M-07'"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_recorded(
    desk: Desk, words: tuple[str, ...], status: int, said: str
) -> None:
    before = image(desk)
    run = desk("mount", *words)
    assert run.status == status, run.err
    assert said in " ".join(run.err.split())
    assert image(desk) == before


def test_every_fault_of_a_list_is_said_at_once(desk: Desk) -> None:
    run = desk("mount", "B7:", "M-14=x", "M-16=-3")
    assert "'M-14=x'" in run.err
    assert "'M-16=-3'" in run.err
