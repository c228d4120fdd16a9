"""Each specimen's offers: sessions and kinds of boards, ranked by waiting and price.

Prices keep a specimen away from a session or a groove that others need more. They only guide the
search; in the end the waiting itself counts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.planner.bench import Group, PlanBench, aged
from scheduler.planner.bound.market import FAR, Prices, cheapest_off
from scheduler.planner.search.draft import Large, Whole
from scheduler.planner.search.machine import compiled, inlined, is_fast
from scheduler.planner.spread import FOR_TAKING_OFF, spread

Reals = NDArray[np.float64]

MOST_KEPT = 1_000_000
"""How many offers, about, are kept in all for each share of the prices."""

LEAST_EACH = 600
"""How many offers a specimen keeps at least, the cheapest, where there are too many to keep all."""

ROW_BITS = 16
ROWS = (1 << ROW_BITS) - 1
"""An offer's code is its session, with its row of the menu in the lowest bits."""


class Offers(NamedTuple):
    """Every specimen's offers, the best first, at several shares of the full prices.

    A row of `code` is for one share; the offers of specimen n are in it from `start[n]` to
    `start[n + 1]` (excluded), each a session with a row of menu `menu[n]` in the lowest bits. The
    rows of a menu begin at `menu_start`. Each has a `kind` of board, and in `days` its row of the
    following: `off` and `clear`, by session of mounting, the first session for taking off and the
    date from which the slot counts as free; `cheap_off`, the session at which taking off costs
    least by the prices; `extra`, what the groove costs besides. `on` are the sessions' dates. A
    day past the date `wanted` counts `late`; the days since `found_on` count days + days^2 / `ages`
    (`ages` 0: just days), minus `before`, which is what they counted when the specimen was soft.
    `best` is the cost of the best offer by share and specimen, infinite where there is none;
    `least` is the least weighted waiting of a specimen.
    """

    start: Large
    code: Whole
    menu: Whole
    menu_start: Whole
    kind: Whole
    days: Whole
    off: Whole
    cheap_off: Whole
    clear: Reals
    on: Reals
    extra: Reals
    found_on: Reals
    before: Reals
    wanted: Reals
    priority: Reals
    best: Reals
    least: Large
    late: float
    ages: float


class _Paid(NamedTuple):
    """The prices of a minute and, by row of `off`, of a mm, and how much of both is needed.

    `off_minute` is the price of a minute for taking off, by the first session for it.
    """

    minute: Reals
    off_minute: Reals
    rent: Reals
    slot_mm: Reals
    minutes: Reals
    first: Whole
    last: Whole
    take_off_min: float


@inlined
def waited_days(o: Offers, n: int, k: int, of: int) -> float:
    """Return the weighted days that an offer waits, and stays too long, as `PlanBench.waits`."""
    late = max(0.0, o.clear[of, k] - o.wanted[n])
    days = o.on[k] - o.found_on[n]
    if o.ages > 0.0:
        days += math.floor(days * days / o.ages)
    waited = days - o.before[n] + o.late * late
    return float(o.priority[n] * waited + o.extra[of])


def offers(
    bench: PlanBench, prices: Prices, shares: tuple[float, ...], left_out: Sequence[int]
) -> Offers:
    """Return every specimen's offers at these shares of the prices."""
    menu_of, menus = _menus(bench)
    groups, sizes = [group for menu in menus for group in menu], [len(menu) for menu in menus]
    kinds = {group: row for row, group in enumerate(dict.fromkeys(groups))}
    off = [[bench.off_at(k, g.plan_days) for k in range(len(bench.on))] for g in kinds]
    clear = [[on + g.plan_days if g.plan_days else bench.never for on in bench.on] for g in kinds]
    people, weights = bench.waiting, bench.problem.weights
    paid = _paid(bench, prices, [(g.kind, row) for g, row in zip(kinds, off, strict=True)])
    start = _starts(np.array(sizes)[menu_of] * np.maximum(0, paid.last - paid.first + 1))
    made = Offers(
        start=start,
        code=np.empty((len(shares), int(start[-1])), dtype=np.int32),
        menu=menu_of,
        menu_start=np.cumsum([0, *sizes]).astype(np.int32),
        kind=np.array([group.kind for group in groups], dtype=np.int32),
        days=np.array([kinds[group] for group in groups], dtype=np.int32),
        off=np.array(off, dtype=np.int32).reshape(-1, len(bench.on)),
        cheap_off=_cheap_off(bench, prices, [g.kind for g in kinds], off),
        clear=np.array(clear, dtype=np.float64).reshape(-1, len(bench.on)),
        on=np.array(bench.on, dtype=np.float64),
        extra=np.array([group.extra for group in kinds], dtype=np.float64),
        found_on=np.array(bench.found_on, dtype=np.float64),
        before=np.array(_before(bench), dtype=np.float64),
        wanted=np.array([w.wanted_by.toordinal() if w.wanted_by else FAR for w in people]),
        priority=np.array([w.priority for w in people], dtype=np.float64),
        best=np.full((len(shares), len(people)), np.inf),
        least=np.array(left_out, dtype=np.int64),
        late=float(weights.late_days),
        ages=2.0 * weights.age_doubles_days,
    )
    if is_fast():
        most = max(sizes, default=0) * len(bench.on)
        _rank(made, paid, np.array(shares), np.empty(most), np.empty(most, np.int32))
    else:
        _rank_plainly(made, paid, shares)
    return made


def cheap_offs(bench: PlanBench, prices: Prices, kind: int, slot_mm: float) -> list[int]:
    """Return the session at which a slot comes off at the least cost, by the first one for it."""
    sessions, found = len(bench.on), []
    minute = prices.minute * bench.problem.take_off_min
    for first in range(sessions):
        may = slice(first, bench.latest[first] + 1)
        rent = np.cumsum(prices.mm[kind, may]) - prices.mm[kind, may]
        found.append(first + int(np.argmin(minute[may] + slot_mm * rent)))
    return [*found, sessions]


def _cheap_off(
    bench: PlanBench, prices: Prices, kinds: Sequence[int], off: Sequence[Sequence[int]]
) -> Whole:
    mean = sum(w.slot_mm for w in bench.waiting) / max(1, len(bench.waiting))
    cheap = [cheap_offs(bench, prices, kind, mean) for kind in range(len(bench.boards_of))]
    found = [[cheap[kind][due] for due in row] for kind, row in zip(kinds, off, strict=True)]
    return np.array(found, dtype=np.int32).reshape(-1, len(bench.on))


def offs_by_price(bench: PlanBench, prices: Prices) -> list[int]:
    """Return the session at which each standing one comes off if the prices decide."""
    wanted = [-1] * len(bench.stands)
    for kind in range(len(bench.boards_of)):
        mine = [s for s, board in enumerate(bench.stand_board) if bench.kind_of[board] == kind]
        if mine:
            mean = sum(bench.stands[s].to_mm - bench.stands[s].from_mm for s in mine) / len(mine)
            cheap = cheap_offs(bench, prices, kind, mean)
            for s in mine:
                wanted[s] = cheap[bench.stand_first[s]]
    return spread(bench, wanted, FOR_TAKING_OFF)


def _starts(offers_of: Whole) -> Large:
    """Return where each specimen's offers begin, and where those of the last one end."""
    most = max(LEAST_EACH, MOST_KEPT // max(1, len(offers_of)))
    start = np.zeros(len(offers_of) + 1, dtype=np.int64)
    np.cumsum(np.minimum(offers_of, most), out=start[1:])
    return start


def _before(bench: PlanBench) -> list[int]:
    """Return what each specimen's age counts when it is soft, which no plan can change."""
    weights = bench.problem.weights
    return [
        aged(soft - found, weights)
        for soft, found in zip(bench.soft_on, bench.found_on, strict=True)
    ]


def _paid(bench: PlanBench, prices: Prices, offs: Sequence[tuple[int, list[int]]]) -> _Paid:
    """Return the prices; `offs` are the kind and the first sessions for taking off by row."""
    total = np.zeros((len(bench.boards_of), len(bench.on) + 1))
    np.cumsum(prices.mm, axis=1, out=total[:, 1:])
    rent = [total[kind][row] - total[kind][: len(bench.on)] for kind, row in offs]
    people = bench.waiting
    return _Paid(
        minute=np.append(prices.minute, 0.0),
        off_minute=cheapest_off(prices.minute, bench.latest),
        rent=np.array(rent, dtype=np.float64).reshape(-1, len(bench.on)),
        slot_mm=np.array([w.slot_mm for w in people], dtype=np.float64),
        minutes=np.array([w.minutes for w in people], dtype=np.float64),
        first=np.array([w.first for w in people], dtype=np.int32),
        last=np.array([w.last for w in people], dtype=np.int32),
        take_off_min=float(bench.problem.take_off_min),
    )


def _menus(bench: PlanBench) -> tuple[Whole, list[tuple[Group, ...]]]:
    """Return each specimen's menu number, and the menus; boards without a time come last."""
    numbers: dict[tuple[int, int], int] = {}
    menus: list[tuple[Group, ...]] = []
    found = []
    for menu, refused in zip(bench.menus, bench.refused_menus, strict=True):
        key = (id(menu), id(refused))
        if key not in numbers:
            numbers[key] = len(menus)
            menus.append(menu.groups + refused.groups)
        found.append(numbers[key])
    return np.array(found, dtype=np.int32), menus


@inlined
def _sort(price: Reals, code: Whole, count: int) -> None:
    """Sort by price and then by code, by ever smaller steps (Shell's sort)."""
    step = 1
    while step < count // 3:
        step = 3 * step + 1
    while step > 0:
        for first in range(step, count):
            cost, which, at = price[first], code[first], first
            while at >= step and (
                cost < price[at - step] or (cost == price[at - step] and which < code[at - step])
            ):
                price[at], code[at] = price[at - step], code[at - step]
                at -= step
            price[at], code[at] = cost, which
        step //= 3


@compiled
def _rank(o: Offers, paid: _Paid, shares: Reals, price: Reals, code: Whole) -> None:
    """Fill in every specimen's cheapest offers; of equal ones the earliest, then the tightest."""
    for n in range(len(o.menu)):
        first_row = o.menu_start[o.menu[n]]
        rows = o.menu_start[o.menu[n] + 1] - first_row
        most = o.start[n + 1] - o.start[n]
        for s in range(len(shares)):
            count = 0
            for k in range(paid.first[n], paid.last[n] + 1):
                for row in range(rows):
                    of = o.days[first_row + row]
                    waits = waited_days(o, n, k, of)
                    o.least[n] = min(o.least[n], int(waits))
                    cost = paid.minutes[n] * paid.minute[k] + paid.slot_mm[n] * paid.rent[of, k]
                    cost += paid.take_off_min * paid.off_minute[o.off[of, k]]
                    price[count] = waits + shares[s] * cost
                    code[count] = (k << ROW_BITS) + row
                    count += 1
            if count == 0:
                continue
            _sort(price, code, count)
            for at in range(most):
                o.code[s, o.start[n] + at] = code[at]
            o.best[s, n] = price[0]


def _rank_plainly(o: Offers, paid: _Paid, shares: tuple[float, ...]) -> None:
    """Do what `_rank` does with numpy, one specimen at a time: quicker without machine code."""
    for n, menu in enumerate(o.menu.tolist()):
        rows = slice(o.menu_start[menu], o.menu_start[menu + 1])
        of, first, last = o.days[rows], int(paid.first[n]), int(paid.last[n]) + 1
        if first >= last or not len(of):
            continue
        late = np.maximum(0.0, o.clear[of, first:last] - o.wanted[n])
        days = o.on[first:last] - o.found_on[n]
        if o.ages > 0.0:
            days = days + np.floor(days * days / o.ages)
        waits = o.priority[n] * (days - o.before[n] + o.late * late) + o.extra[of][:, None]
        o.least[n] = min(o.least[n], int(waits.min()))
        cost = (
            paid.minutes[n] * paid.minute[first:last] + paid.slot_mm[n] * paid.rent[of, first:last]
        )
        cost += paid.take_off_min * paid.off_minute[o.off[of, first:last]]
        codes = (np.arange(first, last, dtype=np.int32) << ROW_BITS) + np.arange(len(of))[:, None]
        for s, share in enumerate(shares):
            price = (waits + share * cost).T.ravel()  # by session and then by row, as codes go
            best = np.argsort(price, kind="stable")
            o.code[s, o.start[n] : o.start[n + 1]] = codes.T.ravel()[best][
                : o.start[n + 1] - o.start[n]
            ]
            o.best[s, n] = price[best[0]]
