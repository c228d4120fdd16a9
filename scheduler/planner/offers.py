"""What each specimen would like best: sessions and kinds of boards by waiting and price.

Prices make a specimen step back from a session or a groove that others need more. They are
only advice to the search; what counts in the end is the waiting itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.planner.bench import Bench, Menu
from scheduler.planner.compiled import compiled
from scheduler.planner.market import FAR, Prices

Floats = NDArray[np.float64]
Small = NDArray[np.int16]
Whole = NDArray[np.int32]
Large = NDArray[np.int64]

MOST_KEPT = 1_000_000
"""About so many offers are kept at each share of the prices."""

LEAST_EACH = 40
"""So many offers everyone has at least; the dearest are left off where there are many."""


class Offers(NamedTuple):
    """Every specimen's offers, the best first, at several shares of the full prices.

    Specimen n's are from `start[n]` to `start[n + 1]` (excluded) of each row: session to
    mount at, session to take off at, kind of board, and weighted days of waiting. `best` is
    what the best one costs by share and specimen, infinite where there is none; `least` the
    weighted days that a specimen waits at least, those of not being planned where it must.
    """

    start: Large
    session: Small
    off: Small
    kind: Small
    waits: Whole
    best: Floats
    least: Large


class _Menus(NamedTuple):
    """Which offers each menu makes: kind of board, and row of `off` and `rent`."""

    start: Large
    kind: Small
    days: Whole
    off: Small
    clear: Floats
    rent: Floats


def offers(
    bench: Bench, prices: Prices, shares: tuple[float, ...], left_out: Sequence[int]
) -> Offers:
    """Return everyone's offers at shares of the prices."""
    menu_of, menus, kinds = _menus(bench)
    total = np.zeros((len(bench.boards_of), len(bench.sessions) + 1))
    np.cumsum(prices.mm, axis=1, out=total[:, 1:])
    listed = _listed(bench, menus, kinds, total)
    first = np.array([w.first for w in bench.waiting], dtype=np.int64)
    last = np.array([w.last for w in bench.waiting], dtype=np.int64)
    each = np.diff(listed.start)[menu_of] * np.maximum(0, last - first + 1)
    most = max(LEAST_EACH, MOST_KEPT // max(1, len(bench.waiting)))
    start = np.zeros(len(bench.waiting) + 1, dtype=np.int64)
    np.cumsum(np.minimum(each, most), out=start[1:])
    size = (len(shares), int(start[-1]))
    made = Offers(
        start=start,
        session=np.empty(size, dtype=np.int16),
        off=np.empty(size, dtype=np.int16),
        kind=np.empty(size, dtype=np.int16),
        waits=np.empty(size, dtype=np.int32),
        best=np.full((len(shares), len(bench.waiting)), np.inf),
        least=np.array(left_out, dtype=np.int64),
    )
    _rank(
        made,
        listed,
        np.array(shares),
        menu_of,
        first,
        np.array(bench.on, dtype=np.float64),
        np.append(prices.minute, 0.0),
        np.array([w.priority for w in bench.waiting], dtype=np.float64),
        np.array(bench.soft_on, dtype=np.float64),
        np.array([w.wanted_by.toordinal() if w.wanted_by else FAR for w in bench.waiting]),
        np.array([w.slot_mm for w in bench.waiting], dtype=np.float64),
        np.array([w.minutes for w in bench.waiting], dtype=np.float64),
        float(bench.problem.take_off_min),
        last,
    )
    return made


def _menus(
    bench: Bench,
) -> tuple[Large, list[tuple[Menu, Menu]], dict[tuple[int, int | None], int]]:
    """Return the number of each specimen's menu, the menus, and the rows of kinds and days."""
    numbers: dict[tuple[int, int], int] = {}
    menus: list[tuple[Menu, Menu]] = []
    kinds: dict[tuple[int, int | None], int] = {}
    found = []
    for menu, refused in zip(bench.menus, bench.refused_menus, strict=True):
        key = (id(menu), id(refused))
        if key not in numbers:
            numbers[key] = len(menus)
            menus.append((menu, refused))
            for group in menu.groups + refused.groups:
                kinds.setdefault((group.kind, group.plan_days), len(kinds))
        found.append(numbers[key])
    return np.array(found, dtype=np.int64), menus, kinds


def _listed(
    bench: Bench,
    menus: list[tuple[Menu, Menu]],
    kinds: dict[tuple[int, int | None], int],
    total: Floats,
) -> _Menus:
    sessions = len(bench.sessions)
    start, kind, days = [0], [], []
    for menu, refused in menus:
        for group in menu.groups + refused.groups:
            kind.append(group.kind)
            days.append(kinds[group.kind, group.plan_days])
        start.append(len(kind))
    off = np.zeros((len(kinds), sessions), dtype=np.int16)
    clear = np.zeros((len(kinds), sessions))
    rent = np.zeros((len(kinds), sessions))
    for (of, plan_days), row in kinds.items():
        off[row] = [bench.off_at(k, plan_days) for k in range(sessions)]
        clear[row] = [bench.never if plan_days is None else on + plan_days for on in bench.on]
        rent[row] = total[of][off[row]] - total[of][:-1]
    return _Menus(
        start=np.array(start, dtype=np.int64),
        kind=np.array(kind, dtype=np.int16),
        days=np.array(days, dtype=np.int32),
        off=off,
        clear=clear,
        rent=rent,
    )


@compiled
def _rank(
    made: Offers,
    menus: _Menus,
    shares: Floats,
    menu_of: Large,
    first: Large,
    on: Floats,
    minute: Floats,
    priority: Floats,
    soft_on: Floats,
    wanted: Floats,
    slot_mm: Floats,
    minutes: Floats,
    take_off_min: float,
    last: Large,
) -> None:
    """Fill in everyone's cheapest offers; of equal ones the earliest, then the tightest."""
    most_rows = 1 + int((menus.start[1:] - menus.start[:-1]).max())
    price = np.empty(most_rows * len(on) + 1)
    which = np.empty(most_rows * len(on) + 1, dtype=np.int64)
    for n in range(len(menu_of)):
        begin, first_row = made.start[n], menus.start[menu_of[n]]
        most = made.start[n + 1] - begin
        for s in range(len(shares)):
            count = 0
            for k in range(first[n], last[n] + 1):
                for row in range(first_row, menus.start[menu_of[n] + 1]):
                    of = menus.days[row]
                    late = max(0.0, menus.clear[of, k] - wanted[n])
                    paid = minutes[n] * minute[k] + slot_mm[n] * menus.rent[of, k]
                    paid += take_off_min * minute[menus.off[of, k]]
                    waits = priority[n] * (on[k] - soft_on[n] + 2.0 * late)
                    made.least[n] = min(made.least[n], int(waits))
                    cost = waits + shares[s] * paid
                    if count == most and (count == 0 or cost >= price[count - 1]):
                        continue
                    at = count if count < most else count - 1
                    while at > 0 and cost < price[at - 1]:
                        price[at], which[at] = price[at - 1], which[at - 1]
                        at -= 1
                    price[at], which[at] = cost, k * most_rows + row - first_row
                    count = min(most, count + 1)
            for at in range(count):
                k, row = which[at] // most_rows, first_row + which[at] % most_rows
                of = menus.days[row]
                late = max(0.0, menus.clear[of, k] - wanted[n])
                made.session[s, begin + at] = k
                made.off[s, begin + at] = menus.off[of, k]
                made.kind[s, begin + at] = menus.kind[row]
                made.waits[s, begin + at] = int(priority[n] * (on[k] - soft_on[n] + 2.0 * late))
            if count:
                made.best[s, n] = price[0]
