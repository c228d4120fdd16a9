"""Day, month and year of a whole file: the file tells their order, else a person is asked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import cast

import numpy as np

from scheduler.intake.asking import Asking, Option
from scheduler.intake.readings.arrays import Bools, Ints
from scheduler.intake.readings.day import DAY_SECONDS
from scheduler.intake.readings.moments import NAMED, OPEN, SHORT, Order, Parts

OLDEST_DAYS = 3_653
"""Ten years: no logger's battery and memory last longer; older dates are asked about."""

JUMP_DAYS = 20
"""Swapped day and month make dates jump by about a month; smaller steps have other causes."""

SILENT_DAYS = 60
"""A longer gap is asked about: the logger's clock may have been reset; no source."""

HALF_DAY_S = 13 * 3_600

_MEANS: dict[Order, str] = {
    "day-first": "the day comes first",
    "month-first": "the month comes first",
    "year-first": "the year comes first",
}
_EPOCH = datetime(1970, 1, 1)  # noqa: DTZ001 - wall clock


@dataclass(frozen=True, slots=True)
class Dated:
    """Moments of the wall clock in seconds since 1970, and which rows are moments at all.

    `order` is None where every order reads the file alike.
    """

    wall: Ints
    good: Bools
    order: Order | None


def dated(parts: Parts, rows: Ints, now: datetime | None, asking: Asking) -> Dated:
    """Return the moments of a file; what the file does not tell is asked.

    rows: their numbers in the file. now: local wall clock; dates after it, or more than ten years
    before it, are asked about.
    """
    told = parts.read & (parts.shape != 0)
    ways = {order: _seconds(parts, order) for order in _orders(parts, told)}
    order = _order(parts, ways, rows, now, asking) if told.any() else None
    wall, good = ways[order] if order else _seconds(parts, "day-first")
    result = Dated(wall, good, order if _matters(ways) else None)
    _check_span(result, rows, now, asking)
    _check_jumps(result, rows, asking)
    _check_halves(parts, result, rows, asking)
    return result


def _orders(parts: Parts, told: Bools) -> list[Order]:
    shapes = set(np.unique(parts.shape[told]).tolist())
    orders: list[Order] = ["day-first", "month-first"] if shapes - {NAMED} else ["day-first"]
    named_short = (parts.shape == NAMED) & (parts.c < 100) & told
    return [*orders, "year-first"] if SHORT in shapes or named_short.any() else orders


def _seconds(parts: Parts, order: Order) -> tuple[Ints, Bools]:
    """Return the wall clock under one order, and which rows are moments under it."""
    a, b, c = parts.a, parts.b, parts.c
    loose = (parts.shape == OPEN) | (parts.shape == SHORT)
    named = parts.shape == NAMED
    year, month, day = a.copy(), b.copy(), c.copy()
    if order == "year-first":
        # A year of four digits at the end leaves no choice: then the day comes first.
        last = (parts.shape == OPEN) | (named & (c >= 100))
        year, day = np.where(last, c, a), np.where(last, a, c)
    else:
        first = order == "month-first"
        year = np.where(loose | named, c, a)
        month = np.where(loose, a if first else b, b)
        day = np.where(loose, b if first else a, np.where(named, a, c))
    year = np.where(year < 100, year + 2000, year)
    good = parts.read & (month >= 1) & (month <= 12) & (year >= 1970) & (year < 2200)
    days, fits = _days(np.where(good, year, 1970), np.where(good, month, 1), day)
    return days * DAY_SECONDS + parts.second_of_day, good & fits


def _days(year: Ints, month: Ints, day: Ints) -> tuple[Ints, Bools]:
    """Return days since 1970, and which of them are in the calendar."""
    months = (year - 1970) * 12 + month - 1
    begin, end = (m.astype("datetime64[M]").astype("datetime64[D]") for m in (months, months + 1))
    begin, end = begin.astype(np.int64), end.astype(np.int64)
    return begin + day - 1, (day >= 1) & (day <= end - begin)


Ways = dict[Order, tuple[Ints, Bools]]


def _matters(ways: Ways) -> bool:
    """Say whether the orders read the file in different ways."""
    if not ways:
        return False
    first, *rest = ways.values()
    return any((first[1] != good).any() or (first[0] != wall)[good].any() for wall, good in rest)


def _order(parts: Parts, ways: Ways, rows: Ints, now: datetime | None, asking: Asking) -> Order:
    given = asking.given("dates")
    if given in ways:
        return given
    left = _all_rows(ways)
    if not left:
        return _mixed(ways, rows, asking)
    left = _recent(ways, left, now)
    if _matters(_only(ways, left)):
        left = _steady(parts, ways, left)
    if not _matters(_only(ways, left)):
        return left[0]
    (wall, good), (other, _) = (ways[order] for order in left[:2])
    answer = asking.ask(
        "dates",
        "Day and month cannot be told apart in this file",
        [Option(order, f"{_MEANS[order]}: {_span(*ways[order])}") for order in left],
        int(rows[np.flatnonzero(good & (other != wall))[0]]),
    )
    return cast(Order, answer)


def _only(ways: Ways, orders: list[Order]) -> Ways:
    return {order: ways[order] for order in orders}


def _all_rows(ways: Ways) -> list[Order]:
    """Return the orders that read every row that any of them reads."""
    any_good = np.logical_or.reduce([good for _, good in ways.values()])
    return [order for order, (_, good) in ways.items() if (good == any_good).all()]


def _mixed(ways: Ways, rows: Ints, asking: Asking) -> Order:
    most = max(ways, key=lambda order: int(ways[order][1].sum()))
    any_good = np.logical_or.reduce([good for _, good in ways.values()])
    at = int(np.flatnonzero(any_good & ~ways[most][1])[0])
    answer = asking.ask(
        "dates",
        "Some dates have the day where other rows have the month",
        [Option(most, f"{_MEANS[most]}; the rows that are no date then are left out")],
        int(rows[at]),
    )
    return cast(Order, answer)


def _recent(ways: Ways, orders: list[Order], now: datetime | None) -> list[Order]:
    """Return the orders whose dates all lie within the last ten years; if none, all orders."""
    low, high = _window(now)
    found = [
        order
        for order in orders
        if (wall := ways[order][0][ways[order][1]]).size and low <= wall.min() <= wall.max() <= high
    ]
    return found or orders


def _window(now: datetime | None) -> tuple[int, int]:
    if now is None:
        return -(2**62), 2**62
    today = int((now - _EPOCH) / timedelta(seconds=1))
    # A logger's clock may be ahead by as much as its zone.
    return today - OLDEST_DAYS * DAY_SECONDS, today + DAY_SECONDS


def _steady(parts: Parts, ways: Ways, orders: list[Order]) -> list[Order]:
    """Return the orders under which the dates follow one another best; if unclear, all orders.

    It is clear when every other order makes more than twice as many jumps of weeks.
    """
    jumps = {}
    for order in orders:
        wall, good = ways[order]
        jumps[order] = int((np.abs(np.diff(wall[good])) >= JUMP_DAYS * DAY_SECONDS).sum())
    fewest = min(jumps.values())
    found = [order for order in orders if jumps[order] == fewest]
    others = [jumps[order] for order in orders if order not in found]
    clear = all(jump > 2 * fewest for jump in others)
    return found if clear and parts.read.sum() > 1 else orders


def _span(wall: Ints, good: Bools) -> str:
    if not good.any():
        return "no date at all"
    first, last = (_day(int(w)) for w in (wall[good].min(), wall[good].max()))
    return first if first == last else f"{first} to {last}"


def _day(seconds: int) -> str:
    return f"{_EPOCH + timedelta(seconds=seconds):%Y-%m-%d}"


def _check_span(dated: Dated, rows: Ints, now: datetime | None, asking: Asking) -> None:
    wall = dated.wall[dated.good]
    if not wall.size:
        return
    low, high = _window(now)
    outside = dated.good & ((dated.wall < low) | (dated.wall > high))
    if outside.any():
        at = int(np.flatnonzero(outside)[0])
        where = "ahead of now" if dated.wall[at] > high else "more than ten years back"
        asking.ask(
            "span",
            f"The dates run from {_span(dated.wall, dated.good)}; {_day(int(dated.wall[at]))} is"
            f" {where}. Was the logger's clock right?",
            [Option("as-read", "yes, they are as read")],
            int(rows[at]),
        )


def _check_jumps(dated: Dated, rows: Ints, asking: Asking) -> None:
    """Ask about a jump that a swapped day and month explains, and about a jump of months."""
    at = np.flatnonzero(dated.good)
    days = dated.wall[at] // DAY_SECONDS
    big = np.flatnonzero(np.abs(np.diff(days)) >= JUMP_DAYS)
    if not big.size or big.size > 200_000:
        return
    swapped, can = _swapped(days)
    before, after = big, big + 1
    here = can[after] & (np.abs(swapped[after] - days[before]) <= 1)
    there = can[before] & (np.abs(swapped[before] - days[after]) <= 1)
    both = can[before] & can[after] & (np.abs(swapped[before] - swapped[after]) <= 1)
    long = np.abs(days[after] - days[before]) >= SILENT_DAYS
    found = np.flatnonzero(here | there | both | long)
    if found.size:
        row = int(rows[at[after[found[0]]]])
        swap = (here | there | both)[found[0]]
        why = "; with day and month swapped they would not" if swap else ""
        jump = (_day(int(days[n[found[0]]]) * DAY_SECONDS) for n in (before, after))
        asking.ask(
            "jump",
            f"The dates jump from {' to '.join(jump)}{why}",
            [Option("as-read", "the dates are right, the logger was silent between them")],
            row,
        )


def _swapped(days: Ints) -> tuple[Ints, Bools]:
    """Return dates with day and month swapped, and which of them can be swapped."""
    dates = days.astype("datetime64[D]")
    months = dates.astype("datetime64[M]")
    year, month = months.astype(np.int64) // 12 + 1970, months.astype(np.int64) % 12 + 1
    day = (dates - months.astype("datetime64[D]")).astype(np.int64) + 1
    can = (day <= 12) & (day != month)
    swapped, fits = _days(year, np.where(can, day, 1), month)
    return swapped, can & fits


def _check_halves(parts: Parts, dated: Dated, rows: Ints, asking: Asking) -> None:
    """Ask about a clock without a morning or an afternoon: it never shows 0 or 13 to 23 hours."""
    plain = dated.good & ~parts.halves
    hours = parts.second_of_day[plain] // 3_600
    wall = dated.wall[plain]
    if hours.size < 12 or wall.max() - wall.min() < HALF_DAY_S:
        return
    if hours.min() >= 1 and hours.max() <= 12 and len(np.unique(hours)) >= 11:
        asking.ask(
            "clock",
            "No time is before 01:00 or after 12:59: morning and afternoon look the same",
            [Option("as-read", "the logger ran in the mornings alone")],
            int(rows[np.flatnonzero(plain)[0]]),
        )
