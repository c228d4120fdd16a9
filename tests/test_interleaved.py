"""Two commands that cross: as if one came after the other, or told that another was quicker.

Nothing here is a rule of the trade: it is what a record of facts owes to those who keep it.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from interleaved_cases import Ended, House, deeds

NAMES = tuple(deeds(Path()))


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    return House(tmp_path_factory.mktemp("house"))


def names_the_other(ended: Ended) -> bool:
    """Whether a refusal says which line was in its way."""
    return ended.refused is not None and bool(re.search(r"(?i)\bline \d+", ended.refused))


def assert_crossed_well(house: House, first: str, second: str) -> None:
    orders = [house.in_turn(first, second), house.in_turn(second, first)]
    alone = {name: house.in_turn(name) for name in (first, second)}
    for point in house.points(first):
        mine, hers = house.crossed(first, point, second)
        left = house.left()
        if left in orders:
            continue
        assert (names_the_other(mine) and left == alone[second]) or (
            names_the_other(hers) and left == alone[first]
        ), (first, point, second, mine, hers, left.lines, [o.lines for o in orders])


@pytest.mark.slow
@pytest.mark.parametrize("first", NAMES)
def test_any_two_commands_cross_as_if_one_came_after_the_other(house: House, first: str) -> None:
    for second in NAMES:
        assert_crossed_well(house, first, second)
