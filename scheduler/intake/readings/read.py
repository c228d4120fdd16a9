"""From a logger's file to readings by local date, a preview, and all that is left out or asked."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.intake.asking import Asking, Option
from scheduler.intake.readings import LoggerFile, LoggerManner, Readings, gates, values
from scheduler.intake.readings.arrays import Bools, Ints, Texts
from scheduler.intake.readings.by_day import by_day, rounded
from scheduler.intake.readings.clock import placed
from scheduler.intake.readings.dates import Dated, dated
from scheduler.intake.readings.moments import NO_OFFSET, parts_of
from scheduler.intake.readings.sheet import LoggerSheet, read_cells
from scheduler.intake.readings.shown import Understood, preview_of, samples_of
from scheduler.intake.readings.work import Work
from scheduler.table import TableFault
from scheduler.words.problems import Problem

NOTHING = Readings({}, 0, None, None)
FEW_LEFT_OUT, MOST_LEFT_OUT = 3, 0.05
"""More rows left out than this number, and than this share of the file, are asked about."""

_BEHIND = re.compile(r"^[+-]?[0-9]+|[0-9]")
_WRITE_MOMENT = "Write date and time, as in 2026-07-01 14:30"
_SENSOR = "It is left out; see whether the sensor was faulty"


def read(
    path: Path,
    zone: ZoneInfo,
    now: datetime | None,
    manner: LoggerManner,
    progress: Callable[[float], None] | None,
) -> LoggerFile:
    """Read one file; see `read_readings`."""
    done = progress or (lambda _: None)
    asking = Asking(manner.answers)
    try:
        sheet = read_cells(path, asking)
    except TableFault as fault:
        problem = Problem(path.name, fault.row, None, None, fault.reason, fault.remedy)
        return LoggerFile(NOTHING, problems=(problem,))
    done(0.3)
    work = Work(path.name, sheet)
    work.keep_filled()
    cut = sheet.cut[work.rows - sheet.rows[0]]
    work.leave_out(cut, None, "has fewer cells than the others", "It is left out")
    work.leave_out(_cut_end(work), None, "ends in the middle of a number", "It is left out")
    moments, wall, second = _moments(work, zone, now, manner, asking)
    done(0.6)
    understood, signs = _values(work, wall, manner, asking)
    readings = replace(by_day(work, wall, second, understood), file=path.name, digest=sheet.digest)
    _check_left_out(work, readings, sheet, asking)
    done(0.9)
    clock = _clock_said(sheet, zone, manner.offset_min)
    shown = Understood(sheet, signs, moments.order, clock, understood, readings)
    preview = preview_of(shown, samples_of(sheet, work.rows, wall, understood), asking.questions)
    done(1.0)
    problems: tuple[Problem, ...] = ()
    if not readings.count and not asking.questions:
        reason = "holds no reading that can be used"
        problems = (Problem(path.name, None, None, None, reason, "See what was left out"),)
    return LoggerFile(readings, preview, problems, tuple(work.notes))


def _cut_end(work: Work) -> Bools:
    """Mark the last row where the file ends inside it: its numbers have fewer digits."""
    cut = np.zeros(len(work.rows), dtype=bool)
    if work.sheet.open_end and len(cut) > 2 and work.rows[-1] == work.sheet.rows[-1]:
        for texts in (work.humidity, work.temperature):
            if texts is not None:
                last, before, earlier = (_BEHIND.sub("0", str(t)) for t in texts[:-4:-1])
                cut[-1] |= last != before == earlier
    return cut


def _moments(
    work: Work, zone: ZoneInfo, now: datetime | None, manner: LoggerManner, asking: Asking
) -> tuple[Dated, Ints, Ints]:
    """Return the moments as understood, wall seconds and passes; rows without one are left out."""
    columns = work.sheet.columns
    title = " ".join(columns.title(n) for n in columns.times)
    parts = parts_of(work.moment)
    here = None if now is None else now.astimezone(zone).replace(tzinfo=None)
    found = dated(parts, work.rows, here, asking)
    reason = "is no date and time"
    if found.order is not None:
        reason += f" when dates are read {found.order.replace('-', ' ')}"
    wall, offsets = found.wall, parts.offset_min
    work.carry(wall=wall, offsets=offsets)
    work.leave_out(~found.good, title, reason, _WRITE_MOMENT)
    stated = columns.offset_min if manner.offset_min is None else manner.offset_min
    offsets = work.carried("offsets")
    if stated is not None:
        offsets = np.where(offsets == NO_OFFSET, stated, offsets)
    wall, second, missing = placed(work.carried("wall"), offsets, zone)
    work.carry(wall=wall, second=second.astype(np.int64))
    work.leave_out(
        missing,
        title,
        f"does not exist in {zone.key}: the clocks go forward over it",
        "If the logger's clock stands still all year, give its --utc-offset",
    )
    return found, work.carried("wall"), work.carried("second")


def _values(
    work: Work, wall: Ints, manner: LoggerManner, asking: Asking
) -> tuple[gates.Values, frozenset[str]]:
    """Return the values in % and deg C; what cannot be right is NaN, and named."""
    columns = work.sheet.columns
    decimal = _decimal(asking)
    rh_title = columns.title(columns.humidity)
    humidity = values.numbers(work.humidity, decimal)
    work.name(_nothing(work.humidity, humidity), work.humidity, rh_title, "is no number", _SENSOR)
    signs, temperature, temp_title = humidity.signs, None, ""
    if work.temperature is not None and columns.temperature is not None:
        temp_title = columns.title(columns.temperature)
        temperature = values.numbers(work.temperature, decimal)
        signs |= temperature.signs
        nothing = _nothing(work.temperature, temperature)
        work.name(nothing, work.temperature, temp_title, "is no number", _SENSOR)
    understood = gates.understood_of(
        humidity, temperature, columns, manner.regime, work.rows, asking
    )
    wet, hot = gates.impossible(understood)
    work.name(wet, work.humidity, rh_title, "is outside 0 to 100 %", _SENSOR)
    if work.temperature is not None:
        low, high = gates.TEMPERATURES_C
        reason = f"is outside {low:g} to {high:g} deg C"
        work.name(hot, work.temperature, temp_title, reason, _SENSOR)
    understood = rounded(understood, wet, hot)
    dry = gates.check_air(understood, wall, manner.regime, work.rows, asking)
    work.name(dry, work.humidity, rh_title, "is drier than any room", _SENSOR)
    return rounded(understood, dry, np.zeros(len(dry), dtype=bool)), signs


def _nothing(texts: Texts, found: values.Numbers) -> Bools:
    return values.filled(texts) & np.isnan(found.values)


def _decimal(asking: Asking) -> values.Decimal | None:
    given = asking.given("decimal")
    return {"comma": ",", "point": "."}.get(given or "")  # type: ignore[return-value]


def _check_left_out(work: Work, readings: Readings, sheet: LoggerSheet, asking: Asking) -> None:
    left = work.rows_left_out
    if left > max(FEW_LEFT_OUT, MOST_LEFT_OUT * len(sheet.rows)) and readings.count:
        asking.ask(
            "left-out",
            f"{left} of {len(sheet.rows)} rows cannot be used: {work.left_out[0]}",
            [Option("accept", "leave them out and take the rest")],
        )


def _clock_said(sheet: LoggerSheet, zone: ZoneInfo, offset_min: int | None) -> str:
    offset = sheet.columns.offset_min if offset_min is None else offset_min
    if offset is None:
        return f"local time of {zone.key}"
    sign = "-" if offset < 0 else "+"
    return f"UTC{sign}{abs(offset) // 60:02}:{abs(offset) % 60:02} all year"
