"""A phone subscribes for weeks: whatever `today` asks for, an event of that day names.

The season is an invented one (`seasons/world.py`), played through the commands; its bench is on
Saturdays, and one is missed.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent / "seasons"))

from subscriber import Subscriber

MOST_A_WEEK = 40
"""Events of a week, all kinds together; a first statement, measured 27 at the most."""


def followed(number: int, evidence: str, folder: Path, days: int) -> Subscriber:
    """A season with its phone."""
    found = Subscriber(number, evidence, folder, days)  # type: ignore[arg-type]
    found.play_with_phone()
    assert found.crashes == []
    return found


def holds(found: Subscriber) -> None:
    """The calendar followed the day."""
    assert found.unnamed == [], "asked for by today, named by no event of the day"
    assert found.untrue == [], "titles that `ready` denies at the same moment"
    assert found.rewritten == [], "what was past is said otherwise"
    assert max(map(len, found.of_week.values())) <= MOST_A_WEEK
    assert found.most_events < 200
    assert found.long_titles == 0


def test_a_phone_follows_ten_days_with_a_bench_missed(tmp_path: Path) -> None:
    found = followed(1, "weekly dial", tmp_path, 10)
    assert found.titles > 0
    holds(found)


@pytest.mark.slow
@pytest.mark.parametrize(("number", "evidence"), [(3, "logger")])
def test_a_phone_follows_eight_weeks(number: int, evidence: str, tmp_path: Path) -> None:
    found = followed(number, evidence, tmp_path, 56)
    assert found.asked > 10
    holds(found)
