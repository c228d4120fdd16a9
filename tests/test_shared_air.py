"""Tests of what stood in the same unread air: how many witnesses are they?

The effective number is held against numpy: of n values with correlations R that are alike, the mean
is as exact as that of n^2 / (1' R 1) independent ones (Kish, Survey Sampling, 1965; from memory).
Rooms and specimens are invented.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from bench_cases import Desk
from hypothesis import given
from hypothesis import strategies as st

from scheduler.learning.posterior import DryBetween
from scheduler.learning.shared_air import in_shared_air
from scheduler.learning.taught import Judged
from scheduler.learning.witness import Drier, Witness

OWN = 0.18
FIRST = datetime(2027, 5, 1, tzinfo=UTC)


def witness(begin: float, days: float, air: float, number: int = 0) -> Witness:
    """One found soft after so many days, in air so badly known, begun so many days after May."""
    since = FIRST + timedelta(days=begin)
    soft = Judged(DryBetween(1.0, math.inf, air))
    last = since + timedelta(days=days)
    return Witness(f"M-{number}", Drier("study", False), 1, since, last, air, soft)


def counted(*those: Witness) -> list[float]:
    return [one.found.interval.counts for one in in_shared_air(those, OWN)]


@pytest.mark.parametrize("number", [2, 9, 30])
@pytest.mark.parametrize("air", [0.05, 0.2, 0.4])
def test_those_that_stood_side_by_side_count_as_their_effective_number(
    number: int, air: float
) -> None:
    share = air**2 / (OWN**2 + air**2)
    alike = np.full((number, number), share) + np.eye(number) * (1 - share)
    assert sum(counted(*[witness(0, 20, air)] * number)) == pytest.approx(
        number**2 / alike.sum(), rel=1e-9
    )


def test_where_the_air_was_read_each_counts_in_full() -> None:
    assert counted(*[witness(0, 20, 0.0)] * 9) == [1.0] * 9


def test_those_that_stood_one_after_the_other_count_in_full() -> None:
    assert counted(witness(0, 20, 0.3), witness(20, 20, 0.3), witness(60, 9, 0.3)) == [1.0] * 3


def test_half_a_time_together_is_half_the_correlation() -> None:
    share = 0.2**2 / (OWN**2 + 0.2**2)
    assert counted(witness(0, 20, 0.2), witness(10, 20, 0.2)) == pytest.approx(
        [1 / (1 + share / 2)] * 2
    )


stood = st.builds(
    witness, st.floats(0, 90), st.floats(0.5, 60), st.sampled_from([0.0, 0.05, 0.2, 0.5])
)


@given(st.lists(stood, min_size=1, max_size=12), stood)
def test_one_more_never_makes_another_count_more_and_all_count_for_something(
    those: list[Witness], more: Witness
) -> None:
    before, after = counted(*those), counted(*those, more)
    assert all(0 < b <= a + 1e-12 <= 1 + 1e-9 for a, b in zip(before, after, strict=False))


NINE = [f"M-0{n}" for n in range(1, 10)]


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Nine that stood together in a study whose air nobody reads, and a tenth that stands on."""
    desk = Desk(tmp_path / "record.sqlite")
    begin = "2027-05-01T10:00"
    desk.did("room", "study", "--rh", "50", "--temp", "20", now=begin)
    desk.did(*"board B1 --room study --groove 6 --span 120 --length 900".split(" "), now=begin)
    owlets = "add Noctuidae --count 10 --frozen --body 4.5 --wingspan 38 --as M"
    desk.did(*owlets.split(" "), now=begin)
    desk.did("mount", "B1:", *NINE, now=begin)
    desk.did("mount", "B1:", "M-10", now="2027-05-20T10:00")
    return desk


def said(desk: Desk, *words: str) -> str:
    return " ".join(desk(*words, now="2027-05-20T11:05").out.split())


def test_nine_soft_ones_after_one_spell_that_nobody_read_move_no_dates(desk: Desk) -> None:
    before = said(desk, "ready", "M-10", "--format", "csv")
    desk.did("test", *NINE, "soft", now="2027-05-20T11:00")
    assert said(desk, "ready", "M-10", "--format", "csv") == before
    rooms = said(desk, "rooms")
    assert "the table's days stand: 9 tests so far" in rooms
    assert "they count as 1.5, 5 are needed" in rooms


def test_the_same_nine_move_dates_where_a_dial_was_read(desk: Desk) -> None:
    for day in ("01", "08", "15", "20"):
        desk.did("air", "study", "50", "20", now=f"2027-05-{day}T10:30")
    desk.did("test", *NINE, "soft", now="2027-05-20T11:00")
    assert "times the table's days" in said(desk, "rooms")
