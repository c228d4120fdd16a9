"""Played seasons with a dial read once a week: the dates that a person was told stay usable.

Bounds are ours (common practice, no source): nobody replans for three days, a fortnight is a
promise broken. Rooms, weather and people are invented (`dialled_seasons.py`).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable

import pytest
from dialled_seasons import Move, Season

FEW_DAYS, FORTNIGHT = 3, 14
AIR_CHANGED_PCT = 15.0
MOST_TIMES = 5
WRONG_PCT = 3.0
"""So far from the truth lies what is said of a room by somebody who can read a dial."""


def season(number: int, low_pct: float, high_pct: float) -> list[Move]:
    mean = random.Random(number).uniform(low_pct, high_pct)
    return list(Season(number, mean, WRONG_PCT).played())


def restless(moves: Iterable[Move]) -> list[int]:
    """Placements whose date moved by more than a few days too often."""
    times = Counter(m.placement.id for m in moves if m.days and abs(m.days) > FEW_DAYS)
    return [placement for placement, n in times.items() if n > MOST_TIMES]


def jumps(moves: Iterable[Move]) -> list[Move]:
    """Dates more than a fortnight from the last that was told, in air that did not change."""
    return [
        m
        for m in moves
        if m.days and abs(m.days) > FORTNIGHT and abs(m.air_changed_pct) < AIR_CHANGED_PCT
    ]


def test_in_a_season_of_an_ordinary_room_dates_stay_usable() -> None:
    moves = season(500, 52, 60)
    assert sum(1 for m in moves if m.days) > 20
    assert not restless(moves)
    assert not jumps(moves)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(510, 522))
def test_in_seasons_of_rooms_of_50_to_64_percent_dates_are_told_and_stay_usable(
    number: int,
) -> None:
    moves = season(number, 50, 64)
    assert not restless(moves)
    assert not jumps(moves)
    assert sum(m.now is not None for m in moves) > 0.8 * len(moves)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("number", "low", "high"),
    [*((n, 64, 68) for n in range(530, 542)), *((n, 68, 74) for n in range(600, 612))],
)
def test_in_damper_rooms_no_date_is_told_that_breaks_its_word(
    number: int, low: int, high: int
) -> None:
    # Between 65 and 75 % a stout body's pace falls from 0.6 to nothing: two points of humidity are
    # a fortnight, whatever is believed. So dates far ahead are not told there; the near ones are.
    moves = season(number, low, high)
    assert not restless(moves)
    assert not jumps(moves)
    assert sum(m.now is not None for m in moves) > 0.3 * len(moves)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(550, 562))
def test_whatever_the_air_a_date_moves_within_the_span_that_was_told(number: int) -> None:
    moves = season(number, 50, 74)
    outside = [move for move in moves if not move.within and abs(move.days or 99) > FEW_DAYS]
    assert len(outside) <= len(moves) / 100, [(move.told, move.now) for move in outside]
