"""The invented summer is one that could have been."""

from __future__ import annotations

from datetime import date
from itertools import pairwise
from statistics import mean

import pytest
from summer import SEED, Indoors, Outdoors, Spell, Walls, indoors, outdoors

from scheduler.air.hours import saturation_hpa

FIRST = date(2026, 6, 1)
DAYS = 91
WEATHER = outdoors(SEED, FIRST, DAYS)


def vapour_hpa(room: list[Indoors]) -> list[float]:
    return [r.rh_pct / 100 * saturation_hpa(r.temp_c) for r in room]


@pytest.mark.parametrize("seed", range(20))
def test_the_dew_point_is_never_above_the_temperature(seed: int) -> None:
    weather = outdoors(seed, FIRST, 40, Spell(12, 26))
    assert all(now.dew_c <= now.temp_c for now in weather)
    for room in (indoors(weather, Walls()), indoors(weather, Walls(warmer_c=-4))):
        assert all(0 < r.rh_pct <= 100.0001 for r in room)


def test_the_same_seed_is_the_same_summer_and_another_is_another() -> None:
    assert outdoors(SEED, FIRST, DAYS) == WEATHER
    assert outdoors(SEED + 1, FIRST, DAYS) != WEATHER


def test_afternoons_are_warmer_than_nights() -> None:
    by_hour = {h: mean(w.temp_c for w in WEATHER if w.at.hour == h) for h in (3, 15)}
    assert by_hour[15] - by_hour[3] > 5


def test_fronts_pass_every_four_to_eight_days() -> None:
    """A front takes more than the day's swing leaves: the daily mean drops by over 1.5 C."""
    days = [mean(w.temp_c for w in WEATHER[d * 144 : d * 144 + 144]) for d in range(DAYS)]
    drops = sum(after < before - 1.5 for before, after in pairwise(days))
    assert DAYS / 10 <= drops <= DAYS / 4


def test_indoors_the_vapour_of_the_outside_is_conserved() -> None:
    room = indoors(WEATHER, Walls(source_hpa=0))
    outside = mean(saturation_hpa(now.dew_c) for now in WEATHER)
    assert mean(vapour_hpa(room)) == pytest.approx(outside, rel=0.01)


def test_a_warmer_room_is_drier_with_the_same_vapour() -> None:
    warm, cool = (indoors(WEATHER, Walls(warmer_c=w)) for w in (6, 2))
    assert vapour_hpa(warm) == pytest.approx(vapour_hpa(cool), rel=1e-9)
    assert all(a.rh_pct < b.rh_pct for a, b in zip(warm, cool, strict=True))


def test_walls_smooth_the_day() -> None:
    def swing(rows: list[Outdoors] | list[Indoors]) -> float:
        return max(r.temp_c for r in rows[1440:1584]) - min(r.temp_c for r in rows[1440:1584])

    assert swing(indoors(WEATHER, Walls())) < swing(WEATHER) / 2


def test_a_damp_spell_is_damp_indoors() -> None:
    damp = indoors(outdoors(SEED, FIRST, DAYS, Spell(38, 52)), Walls())
    plain = indoors(WEATHER, Walls())
    inside = slice(40 * 144, 51 * 144)
    assert mean(r.rh_pct for r in damp[inside]) > mean(r.rh_pct for r in plain[inside]) + 10
    assert damp[: 38 * 144] == plain[: 38 * 144]
