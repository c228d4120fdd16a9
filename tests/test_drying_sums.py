"""Drying summed over years of hours is the hour-by-hour sum, and obeys the trade's laws."""

from __future__ import annotations

import math
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from air_cases import usual_of
from hypothesis import assume, given
from hypothesis import strategies as st

from scheduler.air.belief import Process
from scheduler.air.hours import NO_HUMIDITY, NO_TEMPERATURE, DialRead, Hours
from scheduler.air.room_air import RoomAir, room_air
from scheduler.drying.amounts import SteadyDrying
from scheduler.drying.law import Law, SteadyAir
from scheduler.drying.sums import KeptDays, RoomDrying, Side
from scheduler.rulebook import load_rulebook

RULES = load_rulebook()
LAW = Law(RULES)
PROCESS = Process(6, 7, 4, 8, 60, 8)
ZONE = ZoneInfo("Europe/Berlin")
JULY = datetime(2026, 7, 1)  # noqa: DTZ001 - local wall clock
DAYS = KeptDays(date(2026, 6, 20), date(2026, 11, 30))
FIRST = JULY.date()
MIDDLING = SteadyAir(60.0)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)

bodies = st.one_of(st.floats(0.3, 25), st.sampled_from([*RULES.bodies]))
assumed = st.none() | st.builds(SteadyAir, st.floats(1, 100), st.floats(-5, 45))
hour_values = st.one_of(
    st.none(), st.tuples(st.integers(100, 10_000), st.none() | st.integers(-500, 4_500))
)
sides: st.SearchStrategy[Side] = st.sampled_from(["drier", "believed", "damper"])
shifts = st.floats(-60, 24 * 30).map(lambda hours: hours * HOUR)
days_at_50 = st.floats(0.2, 40)


@st.composite
def airs(draw: st.DrawFn) -> RoomAir:
    """Draw up to a week of hours with gaps, beginning on 1 July, and some dials."""
    days = {}
    for day in range(draw(st.integers(0, 7))):
        values = draw(st.lists(hour_values, min_size=24, max_size=24))
        rh = [None if value is None else value[0] / 100 for value in values]
        temp = [None if value is None or value[1] is None else value[1] / 100 for value in values]
        days[JULY.date() + timedelta(days=day)] = Hours.of(rh, temp).packed
    read = draw(st.lists(st.tuples(st.floats(-48, 24 * 20), st.floats(1, 100)), max_size=4))
    dials = [DialRead(JULY + at * HOUR, rh, None) for at, rh in read]
    return room_air(days, dials, zone=ZONE)


def drying(air: RoomAir, usual: SteadyAir | None = MIDDLING) -> RoomDrying:
    return RoomDrying(air, LAW, usual, PROCESS, DAYS, DAYS.last)


def logged(*rh_pct: float, first: date = FIRST, temp_c: float = 20.0) -> RoomAir:
    days = {
        first + timedelta(days=n): Hours.of([rh] * 24, [temp_c] * 24).packed
        for n, rh in enumerate(rh_pct)
    }
    return room_air(days, zone=ZONE)


def plain_pace(room: RoomDrying, hour: int, body_mm: float) -> float:
    """Return the pace of an hour from DAYS.first on, by the law and the belief, asked apart."""
    moment = room.start + hour * HOUR
    at = room.air.hour_of(moment)
    index = int(at)
    missing_c = room.assumed.temp_c if room.assumed else 20.0
    if 0 <= at < len(room.air.rh) and room.air.rh[index] != NO_HUMIDITY:
        temp = room.air.temp[index]
        temp_c = missing_c if temp == NO_TEMPERATURE else temp / 100
        return LAW.pace(body_mm, SteadyAir(room.air.rh[index] / 100, temp_c))
    return believed_pace(room, body_mm, hour // 24)


def believed_pace(room: RoomDrying, body_mm: float, day: int) -> float:
    """Return the mean over the belief of a day: of the paces of what was read and is usual."""
    seen = []
    for at in range(DAYS.number):
        begin = room.start + at * DAY
        hours = [room.air.at(begin + n * HOUR) for n in range(24)]
        known = [h for h in hours if h is not None]
        missing_c = room.assumed.temp_c if room.assumed else 20.0
        paces = [
            LAW.pace(body_mm, SteadyAir(rh, missing_c if temp is None else temp))
            for rh, temp, _ in known
        ]
        seen.append(sum(paces) / len(paces) if paces else 0.0)
    said = LAW.pace(body_mm, room.assumed) if room.assumed else None
    return room.belief.of(seen, usual_of(room.belief, seen, said))[day]


@given(airs(), bodies, assumed, st.integers(0, 24 * 40))
def test_each_hour_is_as_measured_or_the_mean_over_what_is_believed(
    air: RoomAir, body_mm: float, usual: SteadyAir | None, hour: int
) -> None:
    room = drying(air, usual)
    begin = room.start + hour * HOUR
    worth = 24 * room.of(body_mm).between(begin, begin + HOUR)
    assert worth == pytest.approx(plain_pace(room, hour, body_mm), abs=1e-6)


@given(airs(), bodies, shifts, shifts)
def test_it_is_the_sum_hour_by_hour(
    air: RoomAir, body_mm: float, one: timedelta, two: timedelta
) -> None:
    room = drying(air)
    begin, end = JULY + min(one, two), JULY + max(one, two)
    body = room.of(body_mm)
    paces = [24 * body.between(at, at + HOUR) for at in _hours(room.start, 24 * 60)]
    first, last = (begin - room.start) / HOUR, (end - room.start) / HOUR
    total = sum(
        (min(last, hour + 1) - max(first, hour)) * paces[hour]
        for hour in range(math.floor(first), math.ceil(last))
    )
    assert body.between(begin, end) == pytest.approx(total / 24, abs=1e-9)


def _hours(start: datetime, count: int) -> list[datetime]:
    return [start + n * HOUR for n in range(count)]


@given(airs(), bodies, shifts, days_at_50, st.integers(0, 90))
def test_the_days_found_are_the_first_that_are_worth_enough(
    air: RoomAir, body_mm: float, shift: timedelta, need: float, most: int
) -> None:
    body, begin = drying(air).of(body_mm), JULY + shift
    found = body.whole_days(begin, need, most)
    if found is None:
        assert body.between(begin, begin + most * DAY) < need
        return
    assert body.between(begin, begin + found * DAY) >= need * (1 - 1e-7)
    if found:
        assert body.between(begin, begin + (found - 1) * DAY) < need * (1 + 1e-7)


@given(airs(), bodies, bodies, shifts)
def test_thicker_never_dries_more(air: RoomAir, one: float, two: float, shift: timedelta) -> None:
    begin, end = JULY - 5 * DAY, JULY + shift
    assume(begin <= end)
    thin, thick = (drying(air).of(body) for body in sorted((one, two)))
    assert thick.between(begin, end) <= thin.between(begin, end) + 1e-9


@given(airs(), bodies, shifts)
def test_the_sides_lie_about_what_is_believed(
    air: RoomAir, body_mm: float, shift: timedelta
) -> None:
    room = drying(air)
    apart: list[Side] = ["damper", "believed", "drier"]
    had = [room.of(body_mm, side).between(JULY - 6 * DAY, JULY + shift) for side in apart]
    assert had == pytest.approx(sorted(had), abs=1e-9)


def test_progress_never_falls() -> None:
    body = drying(logged(99, 99, 99)).of(12)
    assert body.between(JULY, JULY + 3 * DAY) == 0


@pytest.mark.parametrize("first", [date(2026, 3, 27), date(2026, 10, 23)])
def test_14_days_at_50_pct_are_14_days_across_a_change_of_clocks(first: date) -> None:
    days = KeptDays(first, first + timedelta(days=120))
    air = logged(*[50.0] * 30, first=first)
    body = RoomDrying(air, LAW, SteadyAir(50), PROCESS, days, days.last).of(4.5)
    assert body.whole_days(datetime.combine(first, datetime.min.time()), 14.0, 90) == 14


def test_a_gap_is_like_what_lies_around_it_and_little_like_the_assumed() -> None:
    days = {
        JULY.date() + timedelta(days=n): Hours.of([50.0] * 24, [20.0] * 24).packed for n in (0, 2)
    }
    air = room_air(days, zone=ZONE)
    in_gap = drying(air, SteadyAir(90)).of(4.5).between(JULY + DAY, JULY + 2 * DAY)
    assert 0.85 < in_gap < 1


def test_after_the_last_reading_it_returns_over_weeks_towards_the_assumed_air() -> None:
    body = drying(logged(*[65.0] * 14), SteadyAir(50)).of(4.5)
    after = [body.between(JULY + n * DAY, JULY + (n + 1) * DAY) for n in (13, 14, 17, 24, 40, 120)]
    assert after == sorted(after)
    assert after[0] == pytest.approx(0.7)
    assert after[1] < 0.75
    # A fortnight of hours says as much of what is usual as somebody without a meter.
    assert 0.8 < after[-1] < 0.95


def test_last_years_july_tells_a_little_of_this_one() -> None:
    last_year = logged(*[75.0] * 31, first=date(2025, 7, 1))
    days = KeptDays(date(2025, 7, 1), date(2026, 9, 30))
    told, untold = (
        RoomDrying(last_year, LAW, SteadyAir(50), PROCESS, days, recalled).of(4.5)
        for recalled in (days.last, days.first)
    )
    july = JULY, JULY + 31 * DAY
    assert told.between(*july) < 0.8 * untold.between(*july)


def test_a_room_of_which_nobody_said_anything_is_as_it_was_measured() -> None:
    air = room_air({}, [DialRead(JULY + n * DAY, 65.0) for n in (0, 7, 14)], zone=ZONE)
    assert drying(air, None).of(4.5).between(JULY, JULY + 60 * DAY) == pytest.approx(0.7 * 60)


def test_steady_air_takes_the_days_over_the_pace() -> None:
    steady = SteadyDrying(0.7)
    assert steady.between(JULY, JULY + 10 * DAY) == pytest.approx(7)
    assert steady.whole_days(JULY, 14, 90) == 20
    assert steady.whole_days(JULY, 14, 19) is None


@given(airs(), st.integers(0, len(RULES.bodies) - 1), sides)
def test_the_hours_of_a_day_add_up_to_what_its_dawns_are_apart(
    air: RoomAir, anchor: int, side: Side
) -> None:
    sums = drying(air).sums(anchor, side)
    for day in range(DAYS.number):
        hours = [sums.about(24 * day + hour) for hour in range(24)]
        assert [hour for hour, _, _ in hours] == [*range(24 * day, 24 * day + 24)]
        assert hours[0][1] == sums.dawns[day]
        assert all(one[2] == other[1] for one, other in pairwise(hours))
        assert hours[-1][2] == pytest.approx(sums.dawns[day + 1], abs=1e-9)


@given(airs(), bodies, sides, st.permutations([-60, 5, 26, 30, 700]))
def test_what_was_asked_before_changes_no_bit(
    air: RoomAir, body_mm: float, side: Side, hours: list[int]
) -> None:
    asked = drying(air).of(body_mm, side)
    for hour in hours:
        begin = JULY + hour * HOUR
        anew = drying(air).of(body_mm, side)
        assert asked.between(begin, begin + 9 * DAY) == anew.between(begin, begin + 9 * DAY)
        assert asked.whole_days(begin, 8.0, 60) == anew.whole_days(begin, 8.0, 60)


def test_the_last_day_that_is_asked_about_is_one_of_them() -> None:
    steady = SteadyDrying(1.0)
    assert steady.whole_days(JULY, 10.0, 10) == 10
    assert steady.whole_days(JULY, 10.0, 9) is None
