"""A logger's file -> readings by local date, and everything that had to be left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from scheduler.air.hours import NO_HUMIDITY, NO_TEMPERATURE
from scheduler.intake.readings import Readings, values
from scheduler.intake.readings.clock import DAY_SECONDS, placed
from scheduler.intake.readings.day import DayReadings
from scheduler.intake.readings.moments import (
    NO_OFFSET,
    Bools,
    Ints,
    Order,
    OrderFault,
    Parts,
    order_of,
    parts_of,
    wall_seconds,
)
from scheduler.intake.readings.sheet import Sheet, SheetFault, Texts, read_sheet
from scheduler.words.problems import Problem

NOTHING = Readings({}, 0, None, None)
LONGEST_QUOTE = 40
_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - wall clock
_WRITE_MOMENT = "Write date and time, as in 2026-07-01 14:30"
_SENSOR = "It is left out; see whether the sensor was faulty"


@dataclass(slots=True)
class _Work:
    """The rows that hold values, while they are being read."""

    file: str
    rows: Ints
    moment: Texts
    humidity: Texts
    temperature: Texts | None
    left_out: list[Problem]
    notes: list[str]

    def keep(self, good: Bools) -> None:
        """Go on with some of the rows."""
        self.rows, self.moment = self.rows[good], self.moment[good]
        self.humidity = self.humidity[good]
        if self.temperature is not None:
            self.temperature = self.temperature[good]

    def leave_out(self, bad: Bools, texts: Texts, column: str, reason: str, remedy: str) -> None:
        """Name the bad rows, those in a row together."""
        for begin, count in _runs(bad):
            row, value = int(self.rows[begin]), str(texts[begin])
            last = int(self.rows[begin + count - 1])
            more = f", in {count} rows down to row {last}" if count > 1 else ""
            self.left_out.append(
                Problem(self.file, row, column, _short(value), reason + more, remedy)
            )


def read(
    path: Path,
    zone: ZoneInfo,
    add_rh: float,
    dates: Order | None,
    decimal: values.Decimal | None,
    offset_min: int | None,
    progress: Callable[[float], None] | None,
) -> tuple[Readings, list[Problem], list[str]]:
    """Read one file; see `read_readings`."""
    done = progress or (lambda _: None)
    try:
        sheet = read_sheet(path)
        done(0.3)
        work = _rows_with_values(sheet, path.name)
        wall, second = _moments(work, sheet, zone, dates, offset_min)
        done(0.6)
        rh, temp = _values(work, sheet, add_rh, decimal)
        done(0.8)
        readings = _by_day(work, wall, second, rh, temp)
    except SheetFault as fault:
        problem = Problem(
            path.name, fault.row, fault.column, fault.value, fault.reason, fault.remedy
        )
        return NOTHING, [problem], []
    done(1.0)
    if not readings.count:
        problem = Problem(
            path.name,
            None,
            None,
            None,
            "holds no reading that can be used",
            "See what was left out",
        )
        return readings, [problem], work.notes
    return readings, [], work.notes


def _rows_with_values(sheet: Sheet, file: str) -> _Work:
    has = values.filled(sheet.humidity)
    if sheet.temperature is not None:
        has |= values.filled(sheet.temperature)
    work = _Work(file, sheet.rows, sheet.moment, sheet.humidity, sheet.temperature, [], [])
    if not has.all():
        empty = int((~has & values.filled(sheet.moment)).sum())
        work.keep(has)
        if empty:
            work.notes.append(f"{file}: {_rows(empty)} without values, not read")
    return work


def _moments(
    work: _Work, sheet: Sheet, zone: ZoneInfo, dates: Order | None, offset_min: int | None
) -> tuple[Ints, Bools]:
    """Return wall seconds and passes of the rows; rows without a moment are left out."""
    title = " ".join(sheet.columns.title(n) for n in sheet.columns.times)
    parts = parts_of(work.moment)
    order = dates or _order(parts, work, title)
    wall, good = wall_seconds(parts, order)
    reason = "is no date and time"
    if (parts.read & parts.open_order).any():
        work.notes.append(f"{work.file}: dates are read {order.replace('-', ' ')}")
        reason += f" when dates are read {order.replace('-', ' ')}"
    work.leave_out(~good, work.moment, title, reason, _WRITE_MOMENT)
    work.keep(good)
    wall, offsets = wall[good], parts.offset_min[good]
    stated = sheet.columns.offset_min if offset_min is None else offset_min
    if stated is not None:
        offsets = np.where(offsets == NO_OFFSET, stated, offsets)
    wall, second, missing = placed(wall, offsets, zone)
    work.leave_out(
        missing,
        work.moment,
        title,
        f"does not exist in {zone.key}: the clocks go forward over it",
        "If the logger's clock stands still all year, give its --utc-offset",
    )
    work.keep(~missing)
    return wall[~missing], second[~missing]


def _order(parts: Parts, work: _Work, title: str) -> Order:
    try:
        return order_of(parts)
    except OrderFault as fault:
        raise SheetFault(
            int(work.rows[fault.at]),
            title,
            _short(str(work.moment[fault.at])),
            fault.reason,
            "Say which comes first with --dates day-first or --dates month-first",
        ) from fault


def _values(
    work: _Work, sheet: Sheet, add_rh: float, decimal: values.Decimal | None
) -> tuple[Ints, Ints]:
    """Return humidities and temperatures in hundredths; what cannot be is left out."""
    columns = sheet.columns
    rh = np.full(len(work.rows), NO_HUMIDITY, dtype=np.int64)
    temp = np.full(len(work.rows), NO_TEMPERATURE, dtype=np.int64)
    has, title = values.filled(work.humidity), columns.title(columns.humidity)
    numbers = values.numbers(work.humidity[has], decimal)
    rh[has], nothing, outside = values.humidity(numbers, add_rh)
    work.leave_out(_spread(nothing, has), work.humidity, title, "is no number", _SENSOR)
    work.leave_out(_spread(outside, has), work.humidity, title, "is outside 0 to 100 %", _SENSOR)
    if work.temperature is None or columns.temperature is None:
        return rh, temp
    has, title = values.filled(work.temperature), columns.title(columns.temperature)
    numbers = values.numbers(work.temperature[has], decimal)
    unit = values.unit_of(columns.unit, work.temperature[has], numbers)
    if unit is None:
        raise SheetFault(
            None,
            title,
            None,
            "has no unit and reads like deg F",
            'Write the unit into the header, as in "Temp (F)"',
        )
    temp[has], nothing, outside = values.temperature(numbers, unit)
    work.leave_out(_spread(nothing, has), work.temperature, title, "is no number", _SENSOR)
    reason = "is outside -40 to 80 deg C"
    work.leave_out(_spread(outside, has), work.temperature, title, reason, _SENSOR)
    return rh, temp


def _spread(some: Bools, has: Bools) -> Bools:
    """Return marks of the filled cells as marks of all rows."""
    every = np.zeros(len(has), dtype=bool)
    every[has] = some
    return every


def _by_day(work: _Work, wall: Ints, second: Bools, rh: Ints, temp: Ints) -> Readings:
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
    cuts = np.flatnonzero(np.diff(dates, prepend=-1, append=-1))
    for begin, end in pairwise(cuts):
        of_day = order[begin:end]
        inside = keys[begin:end] - 2 * DAY_SECONDS * dates[begin]
        day = (_EPOCH + timedelta(days=int(dates[begin]))).date()
        days[day] = DayReadings.of(inside.tolist(), rh[of_day].tolist(), temp[of_day].tolist())
    work.left_out.sort(key=lambda problem: problem.row or 0)
    first, last = (
        (_EPOCH + timedelta(seconds=int(wall[at])) for at in (0, -1)) if len(wall) else (None, None)
    )
    return Readings(days, len(order), first, last, tuple(work.left_out))


def _report_again(work: _Work, order: Ints, again: Bools, rh: Ints, temp: Ints) -> None:
    """Say which moments were read twice: the first counts, and only a different one is named."""
    at = np.flatnonzero(again)
    if not at.size:
        return
    starts = np.flatnonzero(~again)
    kept = order[starts[np.searchsorted(starts, at, side="right") - 1]]
    mine = order[at]
    differs = (rh[mine] != rh[kept]) | (temp[mine] != temp[kept])
    if not differs.all():
        work.notes.append(f"{work.file}: {_rows(int((~differs).sum()))} repeated, read once")
    for row, first in zip(mine[differs], kept[differs], strict=True):
        work.left_out.append(
            Problem(
                work.file,
                int(work.rows[row]),
                None,
                _short(str(work.moment[row])),
                f"another reading of this moment stands in row {int(work.rows[first])}",
                "The first counts",
            )
        )


def _runs(bad: Bools) -> Iterator[tuple[int, int]]:
    """Yield where each run of marks begins and how long it is."""
    edges = np.flatnonzero(np.diff(bad.astype(np.int8), prepend=0, append=0))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        yield int(begin), int(end - begin)


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _short(text: str) -> str:
    shown = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return shown if len(shown) <= LONGEST_QUOTE else shown[: LONGEST_QUOTE - 1] + "…"
