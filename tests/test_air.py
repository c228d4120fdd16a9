"""The humidity that counts, the hours of a day, and what is known of a room's air."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.air.hours import DialRead, Hours, counting_pct, saturation_hpa
from scheduler.air.room_air import RoomAir, room_air

ZONE = ZoneInfo("Europe/Berlin")
JULY = date(2026, 7, 1)

humidities = st.floats(0, 100)
temperatures = st.floats(-40, 80)
hundredths_pct = st.integers(0, 10_000).map(lambda h: h / 100)
hundredths_c = st.integers(-4_000, 8_000).map(lambda h: h / 100)
days_of = st.tuples(
    st.lists(st.none() | hundredths_pct, min_size=24, max_size=24),
    st.lists(st.none() | hundredths_c, min_size=24, max_size=24),
)


def steady(rh_pct: float | None, temp_c: float | None = 20.0) -> Hours:
    return Hours.of([rh_pct] * 24, [temp_c] * 24)


def known(days: Mapping[date, Hours], *dials: DialRead, zone: ZoneInfo = ZONE) -> RoomAir:
    return room_air({day: held.packed for day, held in days.items()}, dials, zone=zone)


def days_from(first: date, *rh_pct: float | None) -> dict[date, Hours]:
    return {first + timedelta(days=n): steady(rh) for n, rh in enumerate(rh_pct) if rh is not None}


def at(day: date, hour: int = 0, minute: int = 0) -> datetime:
    return datetime(day.year, day.month, day.day, hour, minute)  # noqa: DTZ001 - local wall clock


# The humidity that counts


@given(humidities, st.floats(20, 80))
def test_at_20_c_and_warmer_the_measured_humidity_counts(rh_pct: float, temp_c: float) -> None:
    assert counting_pct(rh_pct, temp_c) == rh_pct


@given(humidities)
def test_without_a_temperature_the_measured_humidity_counts(rh_pct: float) -> None:
    assert counting_pct(rh_pct, None) == rh_pct


@given(humidities, st.floats(-40, 19.99))
def test_in_the_cold_a_humidity_counts_that_has_the_same_deficit_at_20_c(
    rh_pct: float, temp_c: float
) -> None:
    counts = counting_pct(rh_pct, temp_c)
    deficit = saturation_hpa(temp_c) * (1 - rh_pct / 100)
    assert saturation_hpa(20) * (1 - counts / 100) == pytest.approx(deficit, abs=1e-9)
    assert rh_pct <= counts <= 100


@given(humidities, humidities, temperatures)
def test_damper_never_counts_as_drier(one: float, two: float, temp_c: float) -> None:
    dry, damp = sorted((one, two))
    assert counting_pct(dry, temp_c) <= counting_pct(damp, temp_c) + 1e-9


@given(humidities, temperatures, temperatures)
def test_colder_never_counts_as_drier(rh_pct: float, one: float, two: float) -> None:
    cold, warm = sorted((one, two))
    assert counting_pct(rh_pct, warm) <= counting_pct(rh_pct, cold) + 1e-9


def test_a_cellar_at_10_c_and_50_pct_counts_as_74_pct() -> None:
    """By hand: 12.26 / 23.33 of the deficit is left (TRADE's Magnus column), 100 - 50 x 0.5256."""
    assert counting_pct(50, 10) == pytest.approx(73.7, abs=0.05)


# The hours of a day as they are stored


@given(days_of)
def test_a_stored_day_gives_back_its_means_exactly(
    day: tuple[list[float | None], list[float | None]],
) -> None:
    stored = Hours(Hours.of(*day).packed)
    assert (list(stored.rh_pct), list(stored.temp_c)) == day
    assert Hours.of(stored.rh_pct, stored.temp_c) == stored


def test_a_stored_day_takes_144_bytes() -> None:
    assert len(steady(50).packed) == 144


def test_bytes_that_are_no_day_are_refused() -> None:
    with pytest.raises(ValueError, match="143 bytes"):
        assert Hours(bytes(143)).parts


@pytest.mark.parametrize("rh_pct", [-0.01, 100.01])
def test_a_mean_outside_0_to_100_pct_is_refused(rh_pct: float) -> None:
    with pytest.raises(ValueError, match="outside 0 to 100"):
        steady(rh_pct)


# What is known of a room


def test_a_room_without_evidence_ends_as_it_begins() -> None:
    air = known({})
    assert air.end == air.start
    assert air.at(at(JULY, 9)) is None
    assert air.recent(at(JULY), 72) is None


def test_a_logged_hour_is_as_logged_and_a_gap_is_a_gap() -> None:
    air = known({JULY: Hours.of([61.5, None, *[58.0] * 22], [18.0, None, *[21.0] * 22])})
    first = air.at(at(JULY, 0, 59))
    assert first is not None
    assert first == (61.5, 18.0, "logger")
    assert air.at(at(JULY, 1, 30)) is None
    assert air.at(at(JULY, 2)) == (58.0, 21.0, "logger")
    assert air.covered(at(JULY), at(JULY, 4)) == {"logger": 3, "dial": 0}


def test_what_is_known_ends_with_the_last_known_hour() -> None:
    air = known({JULY: Hours.of([50.0] * 11 + [None] * 13, [20.0] * 24)})
    assert air.end == at(JULY, 11)


def test_a_dial_value_is_that_of_the_hour_it_was_read_in() -> None:
    air = known({}, DialRead(at(JULY, 18, 20), 68, 19))
    assert air.at(at(JULY, 17, 59)) is None
    assert air.at(at(JULY, 18, 5)) == (68.0, 19.0, "dial")
    assert air.at(at(JULY, 19)) is None
    assert air.end == at(JULY, 19)


def test_the_unlogged_hours_of_a_day_on_which_a_dial_was_read_are_near_it() -> None:
    logged = Hours.of([50.0] * 12 + [None] * 12, [None] * 24)
    air = known(
        {JULY: logged}, DialRead(at(JULY, 20), 70), DialRead(at(JULY + timedelta(days=2), 8), 60)
    )
    assert air.covered(at(JULY, 6), at(JULY + timedelta(days=2), 12)) == {"logger": 6, "dial": 24}


def test_of_two_dial_values_in_an_hour_the_later_counts() -> None:
    air = known({}, DialRead(at(JULY, 8, 50), 61), DialRead(at(JULY, 8, 10), 70))
    assert air.rh[8] == 6100


def test_the_logger_goes_before_the_dial() -> None:
    air = known({JULY: Hours.of([50.0] * 12 + [None] * 12, [None] * 24)}, DialRead(at(JULY, 6), 70))
    assert [air.rh[h] for h in (5, 6, 11)] == [5000, 5000, 5000]


SPRING = date(2026, 3, 29)


def test_the_hour_skipped_in_spring_is_like_the_one_before() -> None:
    rh: list[float | None] = [40.0 + hour for hour in range(24)]
    rh[2] = None
    air = known({SPRING: Hours.of(rh, [20.0] * 24)})
    assert air.at(at(SPRING, 2, 30)) == (41.0, 20.0, "logger")


def test_the_midnight_skipped_in_spring_is_like_the_hour_before_it() -> None:
    """The zone's clocks go forward from 24:00 on a Saturday."""
    zone, sunday = ZoneInfo("America/Santiago"), date(2026, 9, 6)
    rh: list[float | None] = [None, *[55.0] * 23]
    days = {sunday - timedelta(days=1): steady(44), sunday: Hours.of(rh, [20.0] * 24)}
    air = known(days, zone=zone)
    assert air.at(at(sunday, 0, 30)) == (44.0, 20.0, "logger")


def test_another_unread_hour_on_that_day_stays_a_gap() -> None:
    rh: list[float | None] = [40.0] * 24
    rh[2] = rh[3] = None
    air = known({SPRING: Hours.of(rh, [20.0] * 24)})
    assert air.at(at(SPRING, 2)) is not None
    assert air.at(at(SPRING, 3)) is None


def test_a_gap_before_the_skipped_hour_goes_on_through_it() -> None:
    rh: list[float | None] = [None, None, None, *[40.0] * 21]
    air = known({SPRING: Hours.of(rh, [20.0] * 24)})
    assert air.at(at(SPRING, 2)) is None


# Means


def test_recent_is_the_mean_of_the_known_hours_before_now() -> None:
    air = known(days_from(JULY, 50, 60, None, 80, 90))
    mean = air.recent(at(JULY + timedelta(days=4)), 72)
    assert mean is not None
    assert (mean.rh_pct, mean.hours) == (70.0, 48)
    assert mean.last == at(JULY + timedelta(days=4))


def test_recent_tells_how_old_the_last_known_hour_is() -> None:
    mean = known(days_from(JULY, 50)).recent(at(JULY + timedelta(days=2, hours=0), 6), 72)
    assert mean is not None
    assert mean.last == at(JULY + timedelta(days=1))


def test_a_dial_read_just_now_is_recent() -> None:
    mean = known({}, DialRead(at(JULY, 18, 20), 66)).recent(at(JULY, 18, 21), 72)
    assert mean is not None
    assert (mean.rh_pct, mean.hours) == (66.0, 1)


def test_a_quick_answer_about_air_needs_neither_numpy_nor_pandas() -> None:
    code = (
        "import sys, scheduler.air.hours, scheduler.air.room_air, scheduler.drying.sums\n"
        "import scheduler.intake.readings\n"
        "sys.exit(sum(name in sys.modules for name in ('numpy', 'pandas', 'openpyxl')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
