"""How short the weighted waiting could be at best: a bound that holds whatever was searched.

The bound is a Lagrangian one: minutes of each session, mm of groove of each kind of board and
places in the relaxing chamber are sold at prices that are never negative, every specimen buys
its cheapest session and kind on its own, and what sessions, grooves and chamber could sell at
most is taken off again. Any prices give a bound; good ones give a tight one. Only summed
lengths count, or what stretches hold (`closer`), never positions, and every plan keeps within
these sums, so no plan is better.

The first tier comes first: with `spoiling`, the bound holds for all plans that let no more
priority spoil than that, the best one among them.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from scheduler.planner.market import Market, Prices
from scheduler.planner.rents import ByMm, Rents


@dataclass(frozen=True)
class Bound:
    """A bound (weighted days) that holds for every plan, and prices.

    The `prices` alone give `by_prices`, which may be less. Those to be `guided` by say best who
    should step back from what: where slots were counted in several ways, their `mm` are what
    all of that costs, spread over the mm that can be used.
    """

    days: float
    prices: Prices
    by_prices: float
    guided: Prices

    def better(self, other: Bound) -> Bound:
        """Return the higher bound of two."""
        return max(self, other, key=lambda one: one.days)


def bound(market: Market, prices: Prices, spoiling: int) -> Bound:
    """Return the bound that these prices give.

    It holds for every plan in which no more than `spoiling` priority spoils.
    """
    sold = float((prices.mm * market.supply.mm).sum())
    total = reckoned(market, prices, ByMm(market, prices), sold, spoiling)
    return Bound(total, prices, total, prices)


def reckoned(market: Market, prices: Prices, rents: Rents, sold: float, spoiling: int) -> float:
    """Return the bound if the grooves sell for `sold` at most, and slots cost `rents`."""
    import numpy as np

    least = market.not_placed(prices)
    for begin, end, starts in market.chunks():
        cost = market.priced(prices, rents.slots(begin, end), begin, end)
        cheapest = np.minimum.reduceat(cost.min(axis=1), starts - begin)
        who = market.owner[starts]
        least[who] = np.minimum(least[who], cheapest)
    sold += float(prices.minute @ market.supply.minutes)
    sold += float(prices.place @ market.places.room)
    return float((least * market.count).sum()) - sold - prices.spoiling * spoiling


def whole(days: float) -> int:
    """Return a bound as whole weighted days: they come whole; what floats lose is left off."""
    return ceil(days - 1e-5 - 1e-9 * abs(days))
