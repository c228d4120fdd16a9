"""From rows with moments and values to readings by local date, each moment once."""

from __future__ import annotations

from array import array
from datetime import date, datetime, timedelta
from itertools import pairwise

import numpy as np

from scheduler.air.hours import NO_HUMIDITY, NO_TEMPERATURE
from scheduler.intake.readings import Readings
from scheduler.intake.readings.arrays import Bools, Floats, Ints
from scheduler.intake.readings.day import DAY_SECONDS, DayReadings
from scheduler.intake.readings.gates import Values
from scheduler.intake.readings.work import Work, said_rows, short
from scheduler.words.problems import Problem

GAP_STEPS = 3
"""A time without readings is a gap when it is longer than so many usual steps and an hour."""

GAP_KEYS = 2 * 3_600
_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - wall clock


def rounded(found: Values, no_humidity: Bools, no_temperature: Bools) -> Values:
    """Return the values rounded to hundredths, NaN where marked; humidity within 0 to 100 %."""
    rh = np.where(no_humidity, np.nan, np.clip(found.humidity, 0, 100))
    temp = found.temperature
    if temp is not None:
        temp = np.rint(np.where(no_temperature, np.nan, temp) * 100) / 100
    return found._replace(humidity=np.rint(rh * 100) / 100, temperature=temp)


def by_day(work: Work, wall: Ints, second: Ints, found: Values) -> Readings:
    """Return the readings of a file; if several have one moment, the first counts."""
    rh = _stored(found.humidity, NO_HUMIDITY)
    temp = np.full(len(rh), NO_TEMPERATURE, dtype=np.int64)
    if found.temperature is not None:
        temp = _stored(found.temperature, NO_TEMPERATURE)
    moment = wall * 2 + second
    order = np.argsort(moment, kind="stable")
    again = np.zeros(len(order), dtype=bool)
    again[1:] = np.diff(moment[order]) == 0
    _report_again(work, order, again, rh, temp)
    order = order[~again]
    order = order[(rh[order] != NO_HUMIDITY) | (temp[order] != NO_TEMPERATURE)]
    keys, wall = moment[order], wall[order]
    dates = wall // DAY_SECONDS
    days: dict[date, DayReadings] = {}
    rows: dict[date, array[int]] = {}
    cuts = np.flatnonzero(np.diff(dates, prepend=-1, append=-1))
    for begin, end in pairwise(cuts):
        of_day = order[begin:end]
        inside = keys[begin:end] - 2 * DAY_SECONDS * dates[begin]
        day = (_EPOCH + timedelta(days=int(dates[begin]))).date()
        days[day] = DayReadings.of(inside.tolist(), rh[of_day].tolist(), temp[of_day].tolist())
        rows[day] = array("I", work.rows[of_day].astype(np.uint32).tobytes())
    work.left_out.sort(key=lambda problem: problem.row or 0)
    first, last = (
        (_EPOCH + timedelta(seconds=int(wall[at])) for at in (0, -1)) if len(wall) else (None, None)
    )
    left_out = tuple(work.left_out)
    return Readings(days, len(order), first, last, left_out, rows, _stretches(keys))


def _stored(values: Floats, missing: int) -> Ints:
    known = np.isfinite(values)
    return np.where(known, np.rint(np.where(known, values, 0) * 100), missing).astype(np.int64)


def _stretches(keys: Ints) -> tuple[tuple[int, int], ...]:
    if not keys.size:
        return ()
    steps = np.diff(keys)
    longest = max(GAP_KEYS, GAP_STEPS * float(np.median(steps))) if steps.size else GAP_KEYS
    ends = np.flatnonzero(steps > longest)
    begins = [0, *(ends + 1)]
    return tuple(
        (int(keys[a]), int(keys[b])) for a, b in zip(begins, [*ends, len(keys) - 1], strict=True)
    )


def _report_again(work: Work, order: Ints, again: Bools, rh: Ints, temp: Ints) -> None:
    """Report moments that were read twice: the first counts, and only differing ones are named."""
    at = np.flatnonzero(again)
    if not at.size:
        return
    starts = np.flatnonzero(~again)
    kept = order[starts[np.searchsorted(starts, at, side="right") - 1]]
    mine = order[at]
    differs = (rh[mine] != rh[kept]) | (temp[mine] != temp[kept])
    if not differs.all():
        work.notes.append(f"{work.file}: {said_rows(int((~differs).sum()))} repeated, read once")
    if not differs.any():
        return
    row, first = (int(work.rows[rows[differs][0]]) for rows in (mine, kept))
    count = int(differs.sum())
    more = f", and so in {count} rows in all" if count > 1 else ""
    work.count_left_out(work.rows[mine[differs]])
    work.left_out.append(
        Problem(
            work.file,
            row,
            None,
            short(str(work.moment[mine[differs][0]])),
            f"another reading of this moment stands in row {first}{more}",
            "The first counts",
        )
    )
