"""Drying summed over years of hours is the hour-by-hour sum, and obeys the trade's laws."""

from __future__ import annotations

import math
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from scheduler.air.hours import NO_HUMIDITY, Hours
from scheduler.air.room_air import RoomAir, room_air
from scheduler.drying.sums import BodyDrying, Rates, RoomDrying
from scheduler.rulebook import Rulebook, load_rulebook
from scheduler.words.problems import BadInput

RULES = load_rulebook()
RATES = Rates(RULES)
ZONE = ZoneInfo("Europe/Berlin")
JULY = datetime(2026, 7, 1)  # noqa: DTZ001 - local wall clock
DAY = JULY.date()
HOUR = timedelta(hours=1)

bodies = st.one_of(st.floats(0.3, 25), st.sampled_from([*RULES.bodies]))
assumed = st.none() | st.floats(0, 100)
hour_values = st.one_of(
    st.none(), st.integers(0, 10_000), st.integers(6_500, 8_300), st.sampled_from([5_000, 7_000])
)
"""Half of them lie where the rate of some body falls under the least that counts."""

shifts = st.floats(-60, 24 * 30).map(lambda hours: hours * HOUR)
days_at_50 = st.floats(0.2, 40)


@st.composite
def airs(draw: st.DrawFn) -> RoomAir:
    """Draw up to a week of hours, with gaps, beginning on 1 July."""
    days = {}
    for day in range(draw(st.integers(0, 7))):
        values = draw(st.lists(hour_values, min_size=24, max_size=24))
        rh = [None if value is None else value / 100 for value in values]
        days[JULY.date() + timedelta(days=day)] = Hours.of(rh, [None] * 24)
    return room_air(days, zone=ZONE, dial_days=3)


def drying(air: RoomAir, body_mm: float, assumed_pct: float | None = 60.0) -> BodyDrying:
    return RoomDrying(air, RATES, assumed_pct).of(body_mm)


def logged(*rh_pct: float, first: date = DAY) -> RoomAir:
    days = {
        first + timedelta(days=n): Hours.of([rh] * 24, [20.0] * 24) for n, rh in enumerate(rh_pct)
    }
    return room_air(days, zone=ZONE, dial_days=3)


def naive_rate(air: RoomAir, hour: int, body_mm: float, assumed_pct: float | None) -> float:
    """Return the rate in a known hour by asking the rulebook for it alone."""
    gap = 0.0 if assumed_pct is None else RULES.rate(body_mm, assumed_pct)
    if hour < 0 or air.counting[hour] == NO_HUMIDITY:
        return gap
    return RULES.rate(body_mm, air.counting[hour] / 100)


def naive(
    air: RoomAir, begin: datetime, end: datetime, body_mm: float, assumed_pct: float | None
) -> float:
    """Return the days at 50 % between two moments, hour by hour."""
    total = 0.0
    first, last = air.hour_of(begin), air.hour_of(end)
    onward = drying(air, body_mm, assumed_pct).expected_rate
    for hour in range(math.floor(first), math.ceil(last)):
        share = min(last, hour + 1) - max(first, hour)
        known = hour < air.known_hours
        total += share * (naive_rate(air, hour, body_mm, assumed_pct) if known else onward)
    return total / 24


@given(airs(), bodies, assumed, shifts, shifts)
def test_it_is_the_sum_hour_by_hour(
    air: RoomAir, body_mm: float, assumed_pct: float | None, one: timedelta, two: timedelta
) -> None:
    begin, end = JULY + min(one, two), JULY + max(one, two)
    total = drying(air, body_mm, assumed_pct).between(begin, end)
    assert total == pytest.approx(naive(air, begin, end, body_mm, assumed_pct), abs=1e-9)


@given(airs(), bodies, assumed, shifts, days_at_50)
def test_the_first_morning_is_the_first_that_the_sum_reaches(
    air: RoomAir, body_mm: float, assumed_pct: float | None, shift: timedelta, need: float
) -> None:
    mine, begin = drying(air, body_mm, assumed_pct), JULY + shift
    found = mine.first_morning(begin, None, need)
    if found is None:
        assert mine.expected_rate == 0
        assert mine.between(begin, JULY + timedelta(days=400)) < need
        return
    morning = datetime.combine(found, datetime.min.time())
    assert morning >= begin
    assert naive(air, begin, morning, body_mm, assumed_pct) >= need * (1 - 1e-7)
    if morning - timedelta(days=1) >= begin:
        before = naive(air, begin, morning - timedelta(days=1), body_mm, assumed_pct)
        assert before < need * (1 + 1e-7)


@given(airs(), bodies, shifts, st.floats(0, 20), days_at_50)
def test_a_stay_that_ends_too_early_has_no_morning(
    air: RoomAir, body_mm: float, shift: timedelta, stay_days: float, need: float
) -> None:
    mine, begin = drying(air, body_mm), JULY + shift
    end = begin + timedelta(days=stay_days)
    found = mine.first_morning(begin, end, need)
    had = mine.between(begin, end)
    assume(abs(had - need) > 1e-6)
    assert (found is not None) == (had > need)
    if found is not None:
        assert found == mine.first_morning(begin, None, need)


@given(airs(), bodies, shifts, shifts, shifts)
def test_splitting_a_time_changes_nothing(
    air: RoomAir, body_mm: float, one: timedelta, two: timedelta, three: timedelta
) -> None:
    a, b, c = (JULY + shift for shift in sorted((one, two, three)))
    mine = drying(air, body_mm)
    assert mine.between(a, b) + mine.between(b, c) == pytest.approx(mine.between(a, c), abs=1e-9)


@given(st.integers(0, 10_000), bodies, days_at_50, st.integers(0, 6))
def test_steady_air_takes_the_days_over_the_rate_exactly(
    hundredths: int, body_mm: float, need: float, day: int
) -> None:
    mine = drying(logged(*[hundredths / 100] * 40), body_mm)
    begin, rate = JULY + timedelta(days=day), RULES.rate(body_mm, hundredths / 100)
    found = mine.first_morning(begin, None, need)
    if rate == 0:
        assert found is None
    else:
        days = need / rate
        # Within a hair of a whole number of days, floating point may fall to either side.
        assume(abs(days - round(days)) > 1e-6)
        assert found == (begin + timedelta(days=math.ceil(days))).date()


@pytest.mark.parametrize("first", [date(2026, 3, 27), date(2026, 10, 23)])
def test_14_days_at_50_pct_are_14_days_across_a_change_of_clocks(first: date) -> None:
    air = logged(*[50.0] * 30, first=first)
    begin = datetime.combine(first, datetime.min.time())
    assert drying(air, 4.5).first_morning(begin, None, 14.0) == first + timedelta(days=14)


@given(airs(), bodies, bodies, shifts)
def test_thicker_never_dries_more(air: RoomAir, one: float, two: float, shift: timedelta) -> None:
    thin, thick = sorted((one, two))
    begin, end = JULY - timedelta(days=1), JULY + shift
    assume(begin <= end)
    dried = drying(air, thick).between(begin, end)
    assert dried <= drying(air, thin).between(begin, end) + 1e-9


def test_gaps_count_at_the_assumed_air_and_the_time_after_at_the_expected() -> None:
    days = {JULY.date() + timedelta(days=n): Hours.of([50.0] * 24, [20.0] * 24) for n in (0, 2)}
    mine = drying(room_air(days, zone=ZONE, dial_days=3), 4.5, 65.0)
    assert mine.between(JULY, JULY + timedelta(days=3)) == pytest.approx(1 + 0.7 + 1)
    assert mine.expected_rate == pytest.approx(0.7), "two logged days are too few"


def test_after_14_logged_days_their_mean_rate_goes_on() -> None:
    mine = drying(logged(*[50.0] * 7, *[65.0] * 7), 4.5, 90.0)
    assert mine.expected_rate == pytest.approx(0.85)
    after = JULY + timedelta(days=14)
    assert mine.between(after, after + timedelta(days=10)) == pytest.approx(8.5)


def test_another_rate_may_be_tried_for_the_time_after() -> None:
    mine = drying(logged(*[50.0] * 14), 4.5)
    assert mine.first_morning(JULY, None, 20.0, 0.5) == date(2026, 7, 27)
    assert mine.first_morning(JULY, None, 20.0, 0.0) is None
    assert mine.first_morning(JULY, None, 14.0, 0.0) == date(2026, 7, 15)


def test_a_fortnight_has_its_mean_rate() -> None:
    air = logged(*[50.0] * 20, *[65.0] * 14)
    both = air.fortnights()
    assert both is not None
    mine = drying(air, 4.5)
    rates = [mine.mean_rate(mean.begin, mean.end) for mean in both]
    assert rates == pytest.approx([1.0, 0.7])


def test_a_rule_by_which_damper_air_dries_faster_is_refused_by_name() -> None:
    rows = [
        row._replace(rate=1.5) if (row.body_mm, row.rh_pct) == (4.5, 65) else row
        for row in RULES.tables.humidity
    ]
    rules = Rulebook(RULES.tables._replace(humidity=tuple(rows)))
    with pytest.raises(BadInput, match=r"4.5 mm dries faster in damper air. .* rules check"):
        RoomDrying(logged(50.0), Rates(rules), 60.0)
