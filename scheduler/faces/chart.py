"""A small chart for a terminal: a room's air day by day, and how dry one specimen became in it.

Pure. Meaning is carried by shapes and words, never by colour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from scheduler.air.hours import counting_pct
from scheduler.drying.law import assumed_air
from scheduler.drying.on_board import OnBoard
from scheduler.words import wording
from scheduler.words.records import Placement, Room
from scheduler.words.tuples import NamedTuple

DAY_COLUMNS = 72
"""The days take at most so many columns; the scale stands to their left."""

AIR_ROWS, DRY_ROWS = 5, 4
_EIGHTHS = " ▁▂▃▄▅▆▇█"
_DOT, _LIMIT, _NOW, _DUE = "·", "-", "▲", "△"
_DAY = timedelta(days=1)

PLAIN = str.maketrans({**dict.fromkeys("▁▂▃", "_"), **dict.fromkeys("▄▅▆▇█", "#"),
                       _DOT: ".", _NOW: "^", _DUE: "v", "│": "|", "└": "+", "─": "-"})  # fmt: skip
"""For a terminal without block characters: the same chart, coarser."""


class Day(NamedTuple):
    """One local day: the mean humidity that counts [%], whether measured, how dry at its end."""

    day: date
    counts_pct: float | None
    measured: bool
    dry_pct: float


def chart(one: OnBoard, now: datetime) -> list[str]:
    """Return the lines of a chart from the mounting to today or due, whichever is later.

    There are none when no day's air is known.
    """
    placement, today, due = one.placement, now.date(), one.told(now.date()).due
    days = _days(one, max(today, due or today, placement.mounted_on))
    if not any(day.counts_pct is not None for day in days):
        return []
    wide = max(1, min(3, DAY_COLUMNS // len(days)))
    each = max(1, math.ceil(len(days) / DAY_COLUMNS))
    columns = [c for n in range(0, len(days), each) for c in [_merged(days[n : n + each])] * wide]
    limit = one.rules.limit("take_off_rh_pct")
    rooms = wording.listed(dict.fromkeys(s.room.room for s in one.air))
    title = (
        f"Air of {rooms}, daily mean that counts, and how dry {placement.specimen} is at the end"
        " of each day"
    )
    air = [(c.counts_pct, c.measured) for c in columns]
    low, high = _scale([v for v, _ in air if v is not None], limit)
    past = [(min(c.dry_pct, 100.0), c.day <= today) for c in columns]
    marks = _marks(columns, wide, today, due)
    return [
        *wording.wrapped(title),
        *_bars(air, low, high, AIR_ROWS, limit),
        *_bars(past, 0.0, 100.0, DRY_ROWS, None),
        "      └" + "─" * len(columns),
        f"       {marks}".rstrip(),
        *wording.wrapped(_legend(placement, today, due, limit, wide, each), "  ", "  "),
    ]


def _days(one: OnBoard, last: date) -> list[Day]:
    stretches = one.air
    found = []
    day = one.placement.mounted_on
    while day <= last and stretches:
        begin = datetime.combine(day, time())
        end = begin + _DAY
        here = next((s for s in stretches if s.end is None or s.end > begin), stretches[-1])
        value, measured = _air(one, here.room, begin, end)
        dry = one.progress(end.replace(tzinfo=one.zone))
        found.append(Day(day, value, measured, 100 * dry))
        day += _DAY
    return found


def _air(one: OnBoard, room: Room, begin: datetime, end: datetime) -> tuple[float | None, bool]:
    """Return a day's counting humidity [%], measured or believed, and whether it was measured."""
    measured = one.paces.of(room)
    if measured is None:
        steady = assumed_air(room, one.rules)
    elif mean := measured.air.mean(begin, end):
        return mean.counting_pct, True
    else:
        steady = measured.air_on(begin.date())
    return (counting_pct(*steady) if steady else None), False


def _merged(days: Sequence[Day]) -> Day:
    """Return the days that share a column as one."""
    known = [d.counts_pct for d in days if d.counts_pct is not None]
    mean = sum(known) / len(known) if known else None
    return Day(days[0].day, mean, any(d.measured for d in days), days[-1].dry_pct)


def _scale(values: Sequence[float], limit: float) -> tuple[float, float]:
    low = 10 * math.floor(min(*values, limit - 10) / 10)
    high = 10 * math.ceil(max(*values, limit + 10) / 10)
    return float(low), float(min(high, 100))


def _bars(
    values: Sequence[tuple[float | None, bool]],
    low: float,
    high: float,
    rows: int,
    limit: float | None,
) -> list[str]:
    """Return bars from the top row down; a value that is not sure is a dot at its height."""
    step = (high - low) / rows
    lines = []
    for row in reversed(range(rows)):
        floor = low + row * step
        blank = _LIMIT if limit is not None and floor <= limit < floor + step else " "
        cells = "".join(_cell(value, sure, floor, step, blank) for value, sure in values)
        label = high if row == rows - 1 else low if row == 0 else None
        lines.append(f"{'' if label is None else f'{label:.0f} %':>6}│{cells}".rstrip())
    return lines


def _cell(value: float | None, sure: bool, floor: float, step: float, blank: str) -> str:
    if value is None:
        return blank
    share = (value - floor) / step
    if not sure:
        here = 0 <= share < 1 or (share == 1 and floor + step >= 100)
        return _DOT if here else blank
    return _EIGHTHS[max(0, min(8, round(8 * share)))].replace(" ", blank)


def _marks(columns: Sequence[Day], wide: int, today: date, due: date | None) -> str:
    """Return the marks below the days; where due and today share a place, due is shown."""
    cells = [" "] * len(columns)
    for day, mark in ((today, _NOW), (due, _DUE)):
        at = max((n for n, c in enumerate(columns) if day and c.day <= day), default=None)
        if at is not None and day is not None:
            cells[at - (wide - 1)] = mark
    return "".join(cells)


def _legend(
    placement: Placement, today: date, due: date | None, limit: float, wide: int, each: int
) -> str:
    when = f"{_DUE} due {wording.day(due, today)}" if due else "no date yet in this air"
    per = f"{each} days a column" if each > 1 else f"a day is {wording.counted(wide, 'column')}"
    return (
        f"From {wording.day(placement.mounted_on, today)}, {per}: █ measured or past, {_DOT}"
        f" assumed or believed; above the line at {limit:g} % nothing comes off. {_NOW} today,"
        f" {wording.day(today, today)}; {when}."
    )
