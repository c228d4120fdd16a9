"""Two hundred invented rooms in each of five worlds, three seasons: what is promised about learned
dates. The same specimens and days are played by the table and by what was learned.
"""

from __future__ import annotations

from functools import cache

import pytest
from learning_worlds import WORLDS, Played, play

ROOMS, SEED = 200, 4

pytestmark = pytest.mark.slow


@cache
def both(world: str) -> tuple[Played, Played]:
    return play(world, ROOMS, SEED, None), play(world, ROOMS, SEED, 0.7)


@pytest.mark.parametrize("world", WORLDS)
def test_eight_in_ten_are_dry_within_the_span_that_says_so(world: str) -> None:
    _, learned = both(world)
    assert 75 <= learned.covered <= 88
    assert learned.shown_early == 0


@pytest.mark.parametrize("world", ["right", "too short"])
def test_in_the_third_season_at_most_half_as_many_are_found_soft(world: str) -> None:
    table, learned = both(world)
    assert learned.seasons[2].soft <= table.seasons[2].soft / 2


def test_where_the_table_is_too_long_a_tenth_of_the_days_is_saved() -> None:
    table, learned = both("too long")
    assert learned.seasons[2].days <= 0.9 * table.seasons[2].days


@pytest.mark.parametrize("world", WORLDS)
def test_no_more_droop_than_with_the_table(world: str) -> None:
    table, learned = both(world)
    assert learned.drooped <= table.drooped + 2


@cache
def felt_ahead(world: str) -> Played:
    return play(world, ROOMS, SEED, 0.7, ahead=True)


@pytest.mark.parametrize("world", WORLDS)
def test_what_is_felt_twice_droops_no_more_often_than_what_is_tested_once(world: str) -> None:
    _, learned = both(world)
    assert felt_ahead(world).drooped <= learned.drooped


def test_where_the_table_is_too_long_feeling_ahead_saves_more_days() -> None:
    _, learned = both("too long")
    ahead = felt_ahead("too long")
    assert all(a.days < b.days for a, b in zip(ahead.seasons, learned.seasons, strict=True))
