"""The saturation vapour pressure against printed tables and general reference libraries."""

from __future__ import annotations

import numpy as np
import psychrolib  # type: ignore[import-untyped]
import pytest
from earthkit.meteo import thermo  # type: ignore[import-untyped]

from scheduler.air.hours import COUNTS_AT_C, counting_pct, saturation_hpa

TABLE_HPA = {
    0: 6.113,
    10: 12.281,
    15: 17.056,
    20: 23.388,
    25: 31.690,
    30: 42.455,
    35: 56.267,
    40: 73.814,
}
"""Saturation vapour pressure over water, a table of the Lide/CRC type as reproduced on the page
"Vapour pressure of water", rounded there to four or five digits."""

FAO_56_KPA = {15.0: 1.705, 24.5: 3.075}
"""FAO Irrigation and Drainage Paper 56, eq. 11; values as printed on the page
satvpr_temp_fao56 of ncl.ucar.edu."""

MAGNUS_RUNS_LOW = 0.005
"""Magnus with three constants runs up to 0.3 % below the full equations between 0 and 40 C: half
a percent leaves room for that and for the last printed digit, and for nothing else. In humidity
it is far less than any sensor can tell, and it cancels where two pressures are divided."""

GRID_C = [quarter / 4 for quarter in range(161)]


@pytest.mark.parametrize(("temp_c", "table"), TABLE_HPA.items())
def test_it_agrees_with_the_printed_table_from_0_to_40_c(temp_c: float, table: float) -> None:
    assert saturation_hpa(temp_c) == pytest.approx(table, rel=MAGNUS_RUNS_LOW)


@pytest.mark.parametrize(("temp_c", "kpa"), FAO_56_KPA.items())
def test_it_agrees_with_the_spot_values_of_fao_56(temp_c: float, kpa: float) -> None:
    assert saturation_hpa(temp_c) == pytest.approx(10 * kpa, rel=MAGNUS_RUNS_LOW)


def test_the_half_percent_is_small_enough_to_find_another_formula() -> None:
    """The constants for ice (22.46 and 272.62; memory) are told apart from 2 C on."""
    ice = 6.112 * np.exp(22.46 * 2.0 / (272.62 + 2.0))
    assert saturation_hpa(2.0) != pytest.approx(ice, rel=MAGNUS_RUNS_LOW)


def test_it_agrees_with_a_psychrometric_library_over_a_grid() -> None:
    """PsychroLib, by its own reference ASHRAE Handbook Fundamentals (2017), ch. 1, eqn 5 and 6."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    # Over ice at 0.00 C and below, so the grid begins a quarter of a degree higher.
    library = [psychrolib.GetSatVapPres(temp_c) / 100 for temp_c in GRID_C[1:]]
    ours = [saturation_hpa(temp_c) for temp_c in GRID_C[1:]]
    assert ours == pytest.approx(library, rel=MAGNUS_RUNS_LOW)


def test_it_agrees_with_a_meteorological_library_over_a_grid() -> None:
    """earthkit-meteo, saturation over water as the IFS of ECMWF has it."""
    kelvin = np.array(GRID_C) + 273.15
    library = thermo.saturation_vapour_pressure(kelvin, phase="water") / 100
    ours = [saturation_hpa(temp_c) for temp_c in GRID_C]
    assert ours == pytest.approx(list(library), rel=MAGNUS_RUNS_LOW)


@pytest.mark.parametrize("temp_c", [1.0, 5.0, 10.0, 15.0, 18.0, 20.0])
@pytest.mark.parametrize("rh_pct", [20.0, 50.0, 65.0, 80.0, 100.0])
def test_the_humidity_that_counts_has_the_same_deficit_at_20_c(
    temp_c: float, rh_pct: float
) -> None:
    """With the library's own pressures; 0.3 points: what half a percent makes of a deficit."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    deficit = psychrolib.GetSatVapPres(temp_c) * (1 - rh_pct / 100)
    at_20 = psychrolib.GetSatVapPres(COUNTS_AT_C)
    assert counting_pct(rh_pct, temp_c) == pytest.approx(100 * (1 - deficit / at_20), abs=0.3)
