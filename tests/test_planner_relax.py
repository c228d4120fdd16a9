"""Hours in the chamber are hours that pass, also on the night on which the clocks change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st
from planner_cases import ZONE, may

from scheduler.drying.softening import hours_after
from scheduler.planner.chamber import Chamber


def test_a_night_with_the_hour_left_out_is_an_hour_shorter() -> None:
    evening = datetime(2027, 3, 27, 20, tzinfo=ZONE)
    assert hours_after(evening, 12) == datetime(2027, 3, 28, 9, tzinfo=ZONE)
    assert hours_after(evening, 12).astimezone(UTC) - evening.astimezone(UTC) == timedelta(hours=12)


def test_a_night_with_the_hour_twice_is_an_hour_longer() -> None:
    evening = datetime(2027, 10, 30, 20, tzinfo=ZONE)
    assert hours_after(evening, 12) == datetime(2027, 10, 31, 7, tzinfo=ZONE)


_STAYS = st.lists(
    st.tuples(st.integers(0, 30), st.integers(1, 15)).map(lambda s: (float(s[0]), float(sum(s)))),
    min_size=1,
    max_size=8,
)


@given(_STAYS, st.integers(1, 3))
def test_the_chamber_is_full_when_counting_hour_by_hour_says_so(
    stays: list[tuple[float, float]], places: int
) -> None:
    chamber = Chamber(places, 0.0, stays)
    inside: list[tuple[float, float]] = []
    for since, until in stays:
        hours = range(int(since), int(until))
        counted = next(
            (hour for hour in hours if sum(a <= hour < b for a, b in inside) >= places), None
        )
        assert chamber.full_at((since, until)) == counted
        if counted is None:
            chamber.change((since, until), 1)
            inside.append((since, until))


def test_a_chamber_without_a_limit_is_never_full() -> None:
    stay = (may(4).timestamp(), may(5).timestamp())
    chamber = Chamber(None, may(3).timestamp(), [stay])
    for _ in range(100):
        chamber.change(stay, 1)
    assert chamber.full_at(stay) is None
