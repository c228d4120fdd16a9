"""One law for every room: deficit, what holds it back, what is assumed where nobody measured."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.air.hours import NO_HUMIDITY, NO_TEMPERATURE
from scheduler.drying.law import AskedOfTable, Law, SteadyAir, assumed_air, time_in_air
from scheduler.rulebook import BoardTime, Rulebook, load_rulebook
from scheduler.words.problems import BadInput
from scheduler.words.records import Room

RULES = load_rulebook()
LAW = Law(RULES)

bodies = st.one_of(st.floats(0.3, 25), st.sampled_from(RULES.bodies))
humidities = st.floats(0, 100)
temperatures = st.floats(-45, 60)


def days(body_mm: float, rh_pct: float, temp_c: float = 20.0) -> BoardTime:
    return time_in_air(RULES, AskedOfTable(None, body_mm, "fresh"), SteadyAir(rh_pct, temp_c))


@pytest.mark.parametrize(("temp_c", "shown"), [(20, 27), (18, 30), (17, 32), (16, 34), (10, 50)])
def test_a_cool_room_dries_slower_but_it_dries(temp_c: float, shown: int) -> None:
    # 21 days for 12 mm; deficits by the Magnus form of WMO-No. 8, reckoned apart.
    assert days(12, 60, temp_c).min_days == shown


@pytest.mark.parametrize(
    ("rh_pct", "temp_c", "deficit_days"), [(50, 30, 7.7), (30, 35, 4.2), (20, 40, 2.8)]
)
def test_heat_is_never_faster_than_the_deficit(
    rh_pct: float, temp_c: float, deficit_days: float
) -> None:
    # 14 days for 8 mm by the vapour-pressure deficit alone; dry air is held back besides.
    found = days(8, rh_pct, temp_c).min_days_exact
    assert found is not None
    assert deficit_days - 0.05 <= found <= 1.4 * deficit_days


def test_heat_beyond_a_cabinets_gains_nothing() -> None:
    assert days(8, 20, 60) == days(8, 20, 40)


@given(bodies, bodies, humidities, humidities, temperatures, temperatures)
def test_thicker_damper_cooler_never_faster(
    one: float, two: float, rh: float, other_rh: float, temp: float, other_temp: float
) -> None:
    fast = LAW.pace(min(one, two), SteadyAir(min(rh, other_rh), max(temp, other_temp)))
    slow = LAW.pace(max(one, two), SteadyAir(max(rh, other_rh), min(temp, other_temp)))
    assert 0 <= slow <= fast + 1e-12


def test_at_20_degrees_and_50_percent_the_pace_is_1() -> None:
    assert {LAW.pace(body, SteadyAir(50)) for body in (0.5, 1.5, 3, 7, 12, 20)} == {1.0}


@given(bodies, st.integers(0, 10_000), st.integers(-4_500, 6_000))
def test_hours_are_reckoned_as_steady_air(body: float, rh: int, temp: int) -> None:
    thin, thick, share = LAW.anchors(body)
    warmths = LAW.warmths([temp], 20.0)
    (low,), (high,) = (LAW.paces(anchor, [rh], warmths) for anchor in (thin, thick))
    plain = LAW.pace(body, SteadyAir(rh / 100, temp / 100))
    assert low + share * (high - low) == pytest.approx(plain, abs=1e-12)


def test_an_hour_without_humidity_has_no_pace_and_one_without_temperature_the_assumed() -> None:
    warmths = LAW.warmths([NO_TEMPERATURE, 2_000], 10.0)
    assert [*LAW.paces(2, [5_000, NO_HUMIDITY], warmths)] == [LAW.warmth(10.0), 0.0]


def test_more_than_90_days_are_no_days() -> None:
    assert days(12, 68).min_days == 59
    nothing = days(12, 70)
    assert (nothing.min_days, nothing.plan_days) == (None, None)
    assert "does not dry such a body within 90 days" in nothing.note
    assert "open and empty the body" in nothing.note
    assert "limit-longest" in nothing.rule_ids


@pytest.mark.parametrize(
    ("room", "air"),
    [
        (Room("attic"), None),
        (Room("attic", "room", 55), SteadyAir(55, 20)),
        (Room("attic", "room", 55, 15), SteadyAir(55, 15)),
        (Room("box", "desiccant"), SteadyAir(50, 20)),
        (Room("box", "desiccant", None, 15), SteadyAir(50, 15)),
        (Room("box", "desiccant", 30), SteadyAir(30, 20)),
        (Room("cabinet", "warm"), SteadyAir(28, 30)),
        (Room("cabinet", "warm", 15, 36), SteadyAir(15, 36)),
    ],
    ids=str,
)
def test_a_regime_says_only_which_air_is_assumed(room: Room, air: SteadyAir | None) -> None:
    assert assumed_air(room, RULES) == air


def test_air_that_nobody_knows_gives_no_days() -> None:
    time = time_in_air(RULES, AskedOfTable(None, 4.5, "fresh"), None)
    assert (time.min_days, time.min_days_exact) == (None, None)
    assert "read a hygrometer" in time.note


def test_a_rule_by_which_damper_air_dries_faster_is_refused_by_name() -> None:
    rows = [
        row._replace(rate=1.5) if (row.body_mm, row.rh_pct) == (4.5, 65) else row
        for row in RULES.tables.humidity
    ]
    rules = Rulebook(RULES.tables._replace(humidity=tuple(rows)))
    with pytest.raises(BadInput, match=r"4.5 mm dries faster in damper air. .* rules check"):
        Law(rules).table(1)
