"""Along one groove: order is kept, measured ones stay, nobody overlaps, nobody hangs over."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.drying.layout import NoRoom, Piece, Slot, join, lay, put_after


def guessed(name: str, length_mm: int, from_mm: int | None = None) -> Piece:
    at = None if from_mm is None else (from_mm, from_mm + length_mm)
    return Piece(name, length_mm, at)


def measured(name: str, from_mm: int, to_mm: int) -> Piece:
    return Piece(name, to_mm - from_mm, (from_mm, to_mm), fixed=True)


@st.composite
def rows(draw: st.DrawFn) -> tuple[list[Piece], int]:
    """Return a row whose measured ones lie apart and in order, and the board's length."""
    row: list[Piece] = []
    at = 0
    for number in range(draw(st.integers(1, 8))):
        length = draw(st.integers(1, 60))
        name = f"M-{number}"
        if draw(st.booleans()):
            begin = at + draw(st.integers(0, 80))
            row.append(measured(name, begin, begin + length))
            at = begin + length
        else:
            where = draw(st.none() | st.integers(0, 300))
            row.append(guessed(name, length, where))
    return row, at + draw(st.integers(0, 80))


@given(rows())
def test_the_laws_of_a_groove(case: tuple[list[Piece], int]) -> None:
    row, board_mm = case
    try:
        slots = lay(row, board_mm)
    except NoRoom:
        assert _more_pieces_than_millimetres(row, board_mm)
        return
    assert [s.specimen for s in slots] == [p.specimen for p in row]
    assert all(0 <= s.from_mm < s.to_mm <= board_mm for s in slots)
    assert all(a.to_mm <= b.from_mm for a, b in pairwise(slots))
    for piece, slot in zip(row, slots, strict=True):
        if piece.fixed:
            assert (slot.from_mm, slot.to_mm) == piece.at
        assert slot.to_mm - slot.from_mm <= piece.length_mm


def _more_pieces_than_millimetres(row: list[Piece], board_mm: int) -> bool:
    begin = between = 0
    for piece in [*row, measured("end", board_mm, board_mm + 1)]:
        if piece.fixed and piece.at is not None:
            if piece.at[0] - begin < between:
                return True
            begin, between = piece.at[1], 0
        else:
            between += 1
    return False


@given(rows())
def test_slots_are_squeezed_only_where_they_do_not_fit(case: tuple[list[Piece], int]) -> None:
    row, board_mm = case
    if any(p.fixed for p in row) or sum(p.length_mm for p in row) > board_mm:
        return
    slots = lay(row, board_mm)
    assert [s.to_mm - s.from_mm for s in slots] == [p.length_mm for p in row]


@given(rows())
def test_laying_what_is_laid_moves_nobody(case: tuple[list[Piece], int]) -> None:
    row, board_mm = case
    try:
        slots = lay(row, board_mm)
    except NoRoom:
        return
    again = [
        Piece(s.specimen, s.to_mm - s.from_mm, (s.from_mm, s.to_mm), p.fixed)
        for s, p in zip(slots, row, strict=True)
    ]
    assert lay(again, board_mm) == slots


@given(rows(), st.lists(st.integers(1, 60), min_size=1, max_size=5))
def test_a_list_joins_what_stands_there_in_both_orders(
    case: tuple[list[Piece], int], lengths: list[int]
) -> None:
    row, board_mm = case
    try:
        slots = lay(row, board_mm)
    except NoRoom:
        return
    standing = [
        Piece(s.specimen, p.length_mm, (s.from_mm, s.to_mm), p.fixed)
        for s, p in zip(slots, row, strict=True)
    ]
    listed = [guessed(f"N-{number}", length) for number, length in enumerate(lengths)]
    try:
        joined = join(standing, listed, board_mm)
    except NoRoom:
        return
    names = [p.specimen for p in joined]
    assert [n for n in names if n.startswith("M")] == [p.specimen for p in standing]
    assert [n for n in names if n.startswith("N")] == [p.specimen for p in listed]
    lay(joined, board_mm)


def test_an_empty_board_is_filled_from_the_left() -> None:
    row = [guessed("M-14", 38), guessed("M-09", 40), guessed("M-21", 22)]
    assert lay(row, 350) == (Slot("M-14", 0, 38), Slot("M-09", 38, 78), Slot("M-21", 78, 100))


def test_what_does_not_fit_is_squeezed_alike() -> None:
    slots = lay([guessed("M-14", 60), guessed("M-09", 60)], 100)
    assert slots == (Slot("M-14", 0, 50), Slot("M-09", 50, 100))


def test_an_estimated_one_gives_way_to_a_measured_one_and_no_further() -> None:
    standing = [guessed("M-14", 40, from_mm=100)]
    row = join(standing, [measured("M-09", 90, 110)], 300)
    assert lay(row, 300) == (Slot("M-09", 90, 110), Slot("M-14", 110, 150))


def test_the_list_says_on_which_side_an_estimated_one_gives_way() -> None:
    standing = [guessed("M-14", 40, from_mm=40)]
    newcomer = measured("M-09", 50, 70)
    assert [p.specimen for p in join(standing, [newcomer, standing[0]], 200)] == ["M-09", "M-14"]
    assert [p.specimen for p in join(standing, [standing[0], newcomer], 200)] == ["M-14", "M-09"]


def test_a_new_one_rather_takes_a_free_stretch_than_moves_anyone() -> None:
    standing = [guessed("M-14", 40, from_mm=0), guessed("M-09", 40, from_mm=70)]
    row = join(standing, [guessed("M-21", 30), guessed("M-22", 31)], 300)
    assert lay(row, 300) == (
        Slot("M-14", 0, 40),
        Slot("M-21", 40, 70),
        Slot("M-09", 70, 110),
        Slot("M-22", 110, 141),
    )


def test_estimated_ones_move_before_anyone_is_squeezed() -> None:
    standing = [guessed("M-14", 40, from_mm=10), guessed("M-09", 40, from_mm=60)]
    slots = lay(join(standing, [guessed("M-21", 20)], 100), 100)
    assert [s.to_mm - s.from_mm for s in slots] == [40, 40, 20]


def test_one_that_stands_there_tells_where_the_others_go() -> None:
    standing = [measured("M-03", 100, 140)]
    listed = [guessed("M-14", 30), standing[0], guessed("M-21", 30)]
    assert [s.from_mm for s in lay(join(standing, listed, 300), 300)] == [0, 100, 140]


def test_after_means_directly_after() -> None:
    standing = [measured("M-09", 0, 40), guessed("M-21", 40, from_mm=40)]
    row = put_after(standing, guessed("M-14", 30), "M-09")
    assert lay(row, 300) == (Slot("M-09", 0, 40), Slot("M-14", 40, 70), Slot("M-21", 70, 110))


@pytest.mark.parametrize(
    ("standing", "listed", "said"),
    [
        (
            [measured("M-03", 0, 40), measured("M-04", 60, 100)],
            ["M-04", "M-03"],
            "M-03 lies left of M-04",
        ),
        ([measured("M-03", 0, 100)], ["M-03", "M-14"], "no groove is left for M-14 beside M-03"),
    ],
)
def test_a_list_that_contradicts_the_board_is_said_so(
    standing: list[Piece], listed: list[str], said: str
) -> None:
    there = {p.specimen: p for p in standing}
    with pytest.raises(NoRoom, match=said):
        join(standing, [there.get(name, guessed(name, 30)) for name in listed], 100)


def test_no_groove_between_two_measured_ones() -> None:
    standing = [measured("M-09", 0, 40), measured("M-21", 40, 80)]
    with pytest.raises(NoRoom, match="between M-09 and M-21"):
        lay(put_after(standing, guessed("M-14", 30), "M-09"), 300)
