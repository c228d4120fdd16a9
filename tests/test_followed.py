"""A person who follows a plan to the minute is never told "too late", nor refused a command.

The plans are invented (`followed.py`). Whoever does what was asked for must be able to do it. That
everything due is stiff is an assumption of these tests, not a fact of the trade.
"""

from __future__ import annotations

import pytest
from followed import followed


def test_what_goes_into_the_cold_goes_before_it_is_softened_from_there() -> None:
    benches, faults = followed(0)
    assert not faults, faults[0]
    assert benches == 2


@pytest.mark.slow
@pytest.mark.parametrize("tens", range(4))
def test_a_plan_followed_to_the_minute_never_contradicts_itself(tens: int) -> None:
    found = [followed(number) for number in range(10 * tens, 10 * tens + 10)]
    assert not [faults[0] for _, faults in found if faults]
    assert sum(benches for benches, _ in found) >= 10
