"""Whether the numbers of a file can be a room's air: others are left out or asked about.

The bounds are common practice, no source: what the air in a house is, and what a sensor makes of it
when it fails. No bound refuses a file by itself; a person who knows better says so.
"""

from __future__ import annotations

from typing import NamedTuple, cast

import numpy as np

from scheduler.air.sensors import LEAST_PCT
from scheduler.intake.asking import Asking, Option
from scheduler.intake.readings.arrays import Bools, Floats, Ints
from scheduler.intake.readings.header import Columns
from scheduler.intake.readings.kinds import Unit
from scheduler.intake.readings.values import Numbers
from scheduler.words.records import Regime

HUMIDITY_SLACK = 1.0
"""A sensor at its end may exceed 0 to 100 % by so many points; more is an error code."""

TEMPERATURES_C = (-20.0, 60.0)

USUAL_C: dict[Regime, tuple[float, float]] = {
    "room": (1.0, 36.0),
    "desiccant": (1.0, 36.0),
    "warm": (15.0, 55.0),
}
"""The median temperature of a room lies between these; otherwise the unit is asked."""

UNITS: tuple[Unit, ...] = ("C", "F")
TO_C: dict[Unit, str] = {"C": "deg C", "F": "deg F"}

LARGEST_STEP_PCT = 15.0
"""The median step between readings [points] is smaller than this in any room's air."""

LEAP = 25.0
"""Degrees from one row to the next; a change from deg C to deg F is at least 32 in any room."""

NO_CODE = (-60.0, 160.0)
SPIKE_PCT, SPIKE_C = 25.0, 9.0
SWAP_STEP = 6.0
_STUCK_ROWS, _STUCK_S = 60, 28 * 86_400
"""A humidity that never changes over so many rows and seconds is asked about.

Only a tight box may keep it the same for so long; no source.
"""
_RESTLESS_ROWS = 8


class Values(NamedTuple):
    """Humidities in % and temperatures in deg C, NaN for none; how they were understood.

    `unit` is that of the file, None where each cell has its own or there are none.
    """

    humidity: Floats
    temperature: Floats | None
    unit: Unit | None
    fractions: bool


def understood_of(
    humidity: Numbers,
    temperature: Numbers | None,
    columns: Columns,
    regime: Regime,
    rows: Ints,
    asking: Asking,
) -> Values:
    """Return the values in % and deg C; a unit that the file does not tell is asked for."""
    _check_units_behind(humidity, temperature, columns, rows, asking)
    if temperature is not None:
        _check_swap(humidity.values, temperature.values, rows, asking)
        if temperature.behind is None:
            _check_leap(temperature.values, columns, rows, asking)
    fractions = _fractions(humidity, columns, asking)
    percent = humidity.values * 100 if fractions else humidity.values
    if temperature is None:
        return Values(percent, None, None, fractions)
    celsius, unit = _celsius(temperature, columns, regime, rows, asking)
    return Values(percent, celsius, unit, fractions)


def _check_units_behind(
    humidity: Numbers, temperature: Numbers | None, columns: Columns, rows: Ints, asking: Asking
) -> None:
    wrong = humidity.with_unit("C") | humidity.with_unit("F")
    if wrong.any():
        asking.ask(
            "units",
            f'"{columns.title(columns.humidity)}" holds degrees, not a humidity',
            [Option("as-read", "they are humidities all the same")],
            int(rows[np.flatnonzero(wrong)[0]]),
        )
    if temperature is not None and temperature.with_unit("%").any():
        at = np.flatnonzero(temperature.with_unit("%"))[0]
        asking.ask(
            "units",
            "The temperatures have a % behind them",
            [Option("as-read", "they are temperatures all the same")],
            int(rows[at]),
        )


def _fractions(humidity: Numbers, columns: Columns, asking: Asking) -> bool:
    known = humidity.values[np.isfinite(humidity.values)]
    percent = columns.percent or humidity.with_unit("%").any()
    small = known[(known >= 0) & (known <= 1.05)]
    if not known.size or 2 * small.size < known.size or not small.any():
        return False
    if not percent and small.size == known.size and np.median(known) >= 0.1:
        return True
    answer = asking.ask(
        "humidity",
        f"The humidity reads like a fraction: its median is {np.median(known):.3g}, no room's %",
        [
            Option("fraction", f"{np.median(known):.3g} is {100 * np.median(known):.3g} %"),
            Option("percent", "it is in %, as read"),
        ],
    )
    return answer == "fraction"


def _celsius(
    temperature: Numbers, columns: Columns, regime: Regime, rows: Ints, asking: Asking
) -> tuple[Floats, Unit | None]:
    """Return degrees C and the unit of the file, None where each cell has its own."""
    values = temperature.values
    known = values[np.isfinite(values)]
    told = columns.unit
    seen = {unit for unit in UNITS if temperature.with_unit(unit).any()}
    if len(seen) == 2 or (told is not None and seen - {told}):
        return _by_cell(temperature, columns, rows, asking)
    if seen:
        told = "F" if "F" in seen else "C"
    if not known.size:
        return values, told
    median = float(np.median(known))
    unit: Unit = told or "C"
    low, high = USUAL_C[regime]
    if not low <= _in_c(median, unit) <= high:
        other: Unit = "C" if unit == "F" else "F"
        likely = [other, unit] if low <= _in_c(median, other) <= high else [unit, other]
        named = f'"{columns.title(columns.temperature or 0)}"'
        answer = asking.ask(
            "unit",
            f"{named} has the median {median:.3g}, which is {_in_c(median, unit):.3g} °C"
            if told
            else f"{named} has no unit and the median {median:.3g}",
            [Option(u, f"the unit is {TO_C[u]}: {_in_c(median, u):.3g} °C") for u in likely],
        )
        unit = cast(Unit, answer)
    return _in_c(values, unit), unit


def _by_cell(
    temperature: Numbers, columns: Columns, rows: Ints, asking: Asking
) -> tuple[Floats, Unit | None]:
    f, c = temperature.with_unit("F"), temperature.with_unit("C")
    told = columns.unit or ("F" if f.sum() > c.sum() else "C")
    other = np.flatnonzero(c if told == "F" else f)
    said = f'the header "{columns.title(columns.temperature or 0)}"' if columns.unit else "others"
    answer = asking.ask(
        "unit",
        f"The unit of the temperature changes: here it is not that of {said}",
        [
            Option("cell", "each cell has the unit that stands behind it"),
            Option("C", "all are deg C"),
            Option("F", "all are deg F"),
        ],
        int(rows[other[0]]),
    )
    values = temperature.values
    if answer == "cell":
        in_f = f | (~c & (told == "F"))
        return np.where(in_f, _in_c(values, "F"), values), None
    return _in_c(values, "F" if answer == "F" else "C"), "F" if answer == "F" else "C"


def _in_c(values: Floats | float, unit: Unit) -> Floats:
    return np.asarray((values - 32) / 1.8 if unit == "F" else values)


def _check_leap(temperature: Floats, columns: Columns, rows: Ints, asking: Asking) -> None:
    """Ask about the first row from which the temperature may have another unit."""
    at = np.flatnonzero((temperature > NO_CODE[0]) & (temperature < NO_CODE[1]))
    found = np.flatnonzero(np.abs(np.diff(temperature[at])) >= LEAP)
    if found.size:
        before, after = (temperature[at[n]] for n in (found[0], found[0] + 1))
        asking.ask(
            "leap",
            f'"{columns.title(columns.temperature or 0)}" leaps from {before:g} to {after:g}: the'
            " unit or the sensor may have changed",
            [Option("as-read", "the logger was carried to another place")],
            int(rows[at[found[0] + 1]]),
        )


def _check_swap(humidity: Floats, temperature: Floats, rows: Ints, asking: Asking) -> None:
    """Ask about the first row from which the two columns have changed places."""
    at = np.flatnonzero(np.isfinite(humidity) & np.isfinite(temperature))
    if at.size < 3:
        return
    rh, temp = humidity[at], temperature[at]
    step = np.abs(np.diff(rh)) + np.abs(np.diff(temp))
    crossed = np.abs(rh[1:] - temp[:-1]) + np.abs(temp[1:] - rh[:-1])
    usual = float(np.median(step))
    found = np.flatnonzero((step > max(SWAP_STEP, 5 * usual)) & (crossed < 0.6 * step))
    if found.size:
        asking.ask(
            "swapped",
            "Humidity and temperature change places: from here on one looks like the other",
            [Option("as-read", "no, the air changed like that")],
            int(rows[at[found[0] + 1]]),
        )


def check_air(values: Values, wall: Ints, regime: Regime, rows: Ints, asking: Asking) -> Bools:
    """Ask about humidities that no room has; return which are left out because of that.

    They are too low, never change, jump from row to row, or jump once and back. Only those that are
    too low can be left out. wall: seconds, in the order of the file.
    """
    low = _too_low(values.humidity, regime, rows, asking)
    rh = values.humidity[np.isfinite(values.humidity) & ~low]
    rh = rh[(rh >= -HUMIDITY_SLACK) & (rh <= 100 + HUMIDITY_SLACK)]
    if rh.size >= _STUCK_ROWS and np.ptp(rh) == 0 and np.ptp(wall) >= _STUCK_S:
        asking.ask(
            "stuck",
            f"The humidity is {rh[0]:g} % all the time, for {np.ptp(wall) / 86_400:.0f} days",
            [Option("keep", "the sensor works; it is a tight box")],
        )
    _check_spikes(values, rows, asking)
    if rh.size >= _RESTLESS_ROWS:
        step = float(np.median(np.abs(np.diff(rh))))
        if step > LARGEST_STEP_PCT:
            asking.ask(
                "restless",
                f"The humidity jumps by {step:.0f} points from row to row",
                [Option("keep", "it is right")],
            )
    return low


def _check_spikes(values: Values, rows: Ints, asking: Asking) -> None:
    """Ask about a single value far from both its neighbours, as a lost digit gives."""
    for column, far in ((values.humidity, SPIKE_PCT), (values.temperature, SPIKE_C)):
        at = np.flatnonzero(np.isfinite(column)) if column is not None else np.zeros(0, np.int64)
        if column is None or at.size < 3:
            continue
        known = column[at]
        up, down = known[1:-1] - known[:-2], known[1:-1] - known[2:]
        alone = (np.minimum(np.abs(up), np.abs(down)) >= far) & (np.abs(up - down) < far / 3)
        if alone.any():
            before, n, after = at[int(np.flatnonzero(alone)[0]) :][:3]
            asking.ask(
                "spike",
                f"{column[n]:g} stands between {column[before]:g} and {column[after]:g}: a digit"
                " may be lost",
                [Option("keep", "the air was like that for a moment")],
                int(rows[n]),
            )


def _too_low(humidity: Floats, regime: Regime, rows: Ints, asking: Asking) -> Bools:
    low = (humidity < LEAST_PCT[regime]) & (humidity >= -HUMIDITY_SLACK)
    if not low.any() or not LEAST_PCT[regime]:
        return np.zeros(len(humidity), dtype=bool)
    at = int(np.flatnonzero(low)[0])
    answer = asking.ask(
        "low",
        f"{_count(int(low.sum()))} under {LEAST_PCT[regime]:g} %, the first {humidity[at]:.3g} %:"
        " no ordinary room is so dry",
        [
            Option("leave-out", "the sensor failed; leave them out"),
            Option("keep", "they are right"),
        ],
        int(rows[at]),
    )
    return low if answer == "leave-out" else np.zeros(len(humidity), dtype=bool)


def impossible(values: Values) -> tuple[Bools, Bools]:
    """Return which humidities and which temperatures no sensor in a room can read."""
    rh, temp = values.humidity, values.temperature
    wet = (rh < -HUMIDITY_SLACK) | (rh > 100 + HUMIDITY_SLACK)
    if temp is None:
        return wet, np.zeros(len(rh), dtype=bool)
    return wet, (temp < TEMPERATURES_C[0]) | (temp > TEMPERATURES_C[1])


def _count(rows: int) -> str:
    return "1 row is" if rows == 1 else f"{rows} rows are"
