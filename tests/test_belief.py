"""What is believed of the air between readings and after them, against a general library."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from air_cases import usual_of
from hypothesis import given
from hypothesis import strategies as st
from sklearn.gaussian_process import (  # type: ignore[import-untyped]
    GaussianProcessRegressor,
)
from sklearn.gaussian_process.kernels import (  # type: ignore[import-untyped]
    ConstantKernel,
    Matern,
)

from scheduler.air.belief import Belief, Process
from scheduler.air.leaning import Leaning, Recalled

PROCESS = Process(6, 7, 4, 8, 60, 8)
HAIR = 1e-9

processes = st.builds(
    Process,
    st.floats(0.5, 9),
    st.floats(1, 9),
    st.floats(0.5, 12),
    st.floats(1, 9),
    st.floats(15, 200),
    st.floats(1, 20),
)
readings = st.dictionaries(
    st.integers(0, 59),
    st.tuples(st.sampled_from([1 / 60, 1.0, 2.0, 24.0]), st.floats(20, 95)),
    max_size=25,
)


def believed(
    found: dict[int, tuple[float, float]], usual: float | None, process: Process = PROCESS
) -> list[float]:
    belief = Belief(60, {day: count for day, (count, _) in found.items()}, process)
    seen = [found[day][1] if day in found else math.nan for day in range(60)]
    return belief.of(seen, usual_of(belief, seen, usual))


@pytest.mark.parametrize("process", [PROCESS, Process(2, 5, 1, 9, 100, 4)])
def test_it_is_the_gaussian_process_of_a_general_library(process: Process) -> None:
    # Matern with nu 0.5 is the covariance of an Ornstein-Uhlenbeck process: scikit-learn.
    found = {2: (1.0, 71.0), 3: (24.0, 66.0), 9: (1.0, 80.0), 31: (2.0, 58.0), 40: (1 / 60, 45.0)}
    kernel = ConstantKernel(process.weather_pct**2) * Matern(process.weather_days, nu=0.5)
    kernel += ConstantKernel(process.season_pct**2) * Matern(process.season_days, nu=0.5)
    kernel += ConstantKernel(process.said_pct**2)
    noise = [process.swing_pct**2 / count for count, _ in found.values()]
    library = GaussianProcessRegressor(kernel, alpha=np.array(noise), optimizer=None)
    days = np.array(list(found), dtype=float)[:, None]
    library.fit(days, np.array([value for _, value in found.values()]) - 55)
    mean, spread = library.predict(np.arange(60.0)[:, None], return_std=True)
    assert believed(found, 55, process) == pytest.approx(list(mean + 55), abs=1e-6)
    belief = Belief(60, {day: count for day, (count, _) in found.items()}, process)
    assert belief.spread_pct() == pytest.approx(list(spread), abs=1e-6)
    assert belief.spread_pct(7) == belief.spread_pct()[7:]


def test_without_a_usual_figure_it_is_the_generalised_least_squares_mean() -> None:
    found = {2: (1.0, 71.0), 3: (24.0, 66.0), 9: (1.0, 80.0), 31: (2.0, 58.0)}
    days = np.array(list(found), dtype=float)
    apart = np.abs(days[:, None] - days[None, :])
    covariance = 49 * np.exp(-apart / 4) + 64 * np.exp(-apart / 60)
    covariance += np.diag([36 / count for count, _ in found.values()])
    weights = np.linalg.solve(covariance, np.ones(4))
    values = np.array([value for _, value in found.values()])
    belief = Belief(60, {day: count for day, (count, _) in found.items()}, PROCESS)
    seen = [found[day][1] if day in found else math.nan for day in range(60)]
    assert usual_of(belief, seen, None) == pytest.approx(weights @ values / weights.sum())


@given(readings, processes, st.floats(20, 95))
def test_it_is_a_mean_over_what_was_read_and_what_is_usual(
    found: dict[int, tuple[float, float]], process: Process, usual: float
) -> None:
    values = [usual, *(value for _, value in found.values())]
    for day in believed(found, usual, process):
        assert min(values) - HAIR <= day <= max(values) + HAIR


@given(readings, processes, st.floats(20, 95), st.integers(0, 59), st.floats(20, 95))
def test_a_new_reading_moves_every_day_in_its_own_direction(
    found: dict[int, tuple[float, float]], process: Process, usual: float, day: int, value: float
) -> None:
    found.pop(day, None)
    before = believed(found, usual, process)
    after = believed({**found, day: (1.0, value)}, usual, process)
    for was, now in zip(before, after, strict=True):
        assert (now - was) * math.copysign(1, value - before[day]) >= -HAIR


@given(readings.filter(bool), processes, st.none() | st.floats(20, 95), st.data())
def test_a_damper_reading_never_makes_a_day_drier(
    found: dict[int, tuple[float, float]],
    process: Process,
    usual: float | None,
    data: st.DataObject,
) -> None:
    day = data.draw(st.sampled_from(sorted(found)))
    damper = {**found, day: (found[day][0], found[day][1] + data.draw(st.floats(0, 30)))}
    for was, now in zip(
        believed(found, usual, process), believed(damper, usual, process), strict=True
    ):
        assert now >= was - HAIR


@given(readings, processes, st.integers(0, 59))
def test_a_reading_never_makes_a_day_less_certain(
    found: dict[int, tuple[float, float]], process: Process, day: int
) -> None:
    shown = {at: count for at, (count, _) in found.items() if at != day}
    before = Belief(60, shown, process).spread_pct()
    after = Belief(60, {**shown, day: 1.0}, process).spread_pct()
    assert all(now <= was + 1e-6 for was, now in zip(before, after, strict=True))


def test_after_the_last_reading_it_returns_to_the_usual_over_days_without_a_step() -> None:
    path = believed({10: (1.0, 85.0)}, 55)
    assert path[10] > 75
    after = path[10:]
    assert all(now < was for was, now in pairwise(after))
    # The weather halves in about three days; what it told of the season and of what is usual
    # stays longer.
    assert max(was - now for was, now in pairwise(after)) < 4
    assert 55 < path[59] < 70


def test_its_spread_grows_to_the_rooms_own() -> None:
    spread = Belief(400, {10: 24.0}, PROCESS).spread_pct()
    assert spread[10] < 2
    assert all(was <= now for was, now in pairwise(spread[10:]))
    # Of what is usual a day tells as much as its own spread about it allows.
    of_usual = (8**-2 + 1 / (7**2 + 8**2 + 6**2 / 24)) ** -0.5
    assert spread[399] == pytest.approx(math.hypot(7, 8, of_usual), rel=0.01)


def test_nothing_read_is_what_is_usual() -> None:
    assert believed({}, 62.0) == [62.0] * 60


def test_a_day_on_which_nothing_was_read_tells_nothing() -> None:
    read = {1: 2.0, 4: 1.0}
    with_empty = Belief(8, {**read, 3: 0.0}, PROCESS)
    assert with_empty.spread_pct() == Belief(8, read, PROCESS).spread_pct()


@given(processes, readings, st.none() | st.floats(20, 90), st.integers(0, 60))
def test_the_days_ahead_lean_on_all_before_them_as_the_whole_path_does(
    process: Process,
    found: dict[int, tuple[float, float]],
    said: float | None,
    first: int,
) -> None:
    # Day 50 shows a little of what was seen on days 20 and 35 too: a mean by shares.
    recalled = {50: Recalled(0.25, 0.375, [20, 35])}
    shown = {day: count for day, (count, _) in found.items() if day != 50}
    belief = Belief(60, {**shown, 50: 1.5}, process)
    seen = [found[day][1] if day in found else 0.0 for day in range(60)]
    mixed = seen[:]
    mixed[50] = 0.25 * seen[50] + 0.375 * (seen[20] + seen[35])
    whole = belief.of(mixed, usual_of(belief, mixed, said))
    leaning = Leaning(belief, first, recalled).of(seen, said)
    assert leaning == pytest.approx(whole[first:], abs=1e-8)
