"""A lower bound on the weighted waiting of every plan, from prices.

It is a Lagrangian bound. Minutes of each session, mm of groove of each kind of board and places in
the relaxing chamber are sold at prices of 0 or more. Every specimen buys the session and kind of
board that are cheapest for it alone, and its taking off at the cheapest session at which that may
be. What stands buys its taking off too, or pays for being left on. Then what sessions, grooves and
chamber could sell at most is subtracted. Any prices give a bound; good ones give a tight one. Only
summed lengths count, or what stretches hold (`closer`), never positions; every plan keeps within
these sums, so no plan is better than the bound.

The first tier comes first: the bound holds for all plans that let no more priority spoil than
`spoiling`, and the best plan is among these.

A slot pays rent by its mm or, where slots are counted in several ways, by its length.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING, Protocol

from scheduler.planner.bound.market import Market, Prices
from scheduler.planner.bound.stock import Grooves

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]


class Rents(Protocol):
    """The rents of slots, each on its cheapest kind of board."""

    def slots(self, begin: int, end: int) -> Floats:
        """Return what a range of offers pays for its slots, by session."""

    def kinds(self, offers: Whole, at: Whole) -> Whole:
        """Return the cheapest kind of board of offers, each at a session."""


class ByMm:
    """Rents by mm: every mm of a kind of board has one price in a session."""

    def __init__(self, market: Market, prices: Prices) -> None:
        import numpy as np

        self.market, supply = market, market.supply
        total = np.zeros((len(supply.mm), supply.sessions + 1))
        np.cumsum(prices.mm, axis=1, out=total[:, 1:])
        self.rent = np.empty((len(supply.variants), supply.sessions))
        self.where = np.empty((len(supply.variants), supply.sessions), dtype=np.int64)
        k = np.arange(supply.sessions)
        for v, (_, kinds) in enumerate(supply.variants):
            of = np.array(kinds, dtype=np.int64)
            each = total[of][:, supply.off[v]] - total[of][:, k]
            best = each.argmin(axis=0)
            self.rent[v], self.where[v] = each[best, k], of[best]

    def slots(self, begin: int, end: int) -> Floats:
        """Return what a range of offers pays for its slots, by session."""
        market = self.market
        slot_mm = market.slot_mm[market.owner[begin:end]]
        cost: Floats = slot_mm[:, None] * self.rent[market.variant[begin:end]]
        return cost

    def kinds(self, offers: Whole, at: Whole) -> Whole:
        """Return the cheapest kind of board of offers, each at a session."""
        found: Whole = self.where[self.market.variant[offers], at]
        return found


class ByLength:
    """Rents by length of slot; no board is let to a slot longer than its free stretches.

    `counted` is what a count costs, by way of counting, kind of board and session.
    """

    def __init__(self, market: Market, grooves: Grooves, counted: Floats) -> None:
        import numpy as np

        self.market, self.grooves, supply = market, grooves, market.supply
        price = np.tensordot(counted, grooves.counts, axes=(0, 0))
        total = np.zeros((len(supply.mm), supply.sessions + 1, len(grooves.slots_mm)))
        np.cumsum(price, axis=1, out=total[:, 1:])
        let = grooves.longest_mm[:, :, None] >= grooves.slots_mm
        before = np.where(let, total[:, :-1], -np.inf)
        shape = (len(supply.variants), supply.sessions, len(grooves.slots_mm))
        self.rent, self.where = np.empty(shape), np.empty(shape, dtype=np.int64)
        for v, (_, kinds) in enumerate(supply.variants):
            of = np.array(kinds, dtype=np.int64)
            each = total[of[:, None], supply.off[v][None, :]] - before[of]
            best = each.argmin(axis=0)
            self.rent[v] = np.take_along_axis(each, best[None], axis=0)[0]
            self.where[v] = of[best]

    def slots(self, begin: int, end: int) -> Floats:
        """Return what a range of offers pays for its slots, by session."""
        slot = self.grooves.slot[self.market.owner[begin:end]]
        cost: Floats = self.rent[self.market.variant[begin:end], :, slot]
        return cost

    def kinds(self, offers: Whole, at: Whole) -> Whole:
        """Return the cheapest kind of board of offers, each at a session."""
        slot = self.grooves.slot[self.market.owner[offers]]
        found: Whole = self.where[self.market.variant[offers], at, slot]
        return found


@dataclass(frozen=True)
class Bound:
    """A bound [weighted days] that holds for every plan, and prices.

    `prices` are those of summed lengths, and alone may give a lower bound. `guided` are the prices
    for the search: where slots were counted in several ways, the price of a mm in them is what
    all counts cost, spread over the mm that can be used.
    """

    days: float
    prices: Prices
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
    return Bound(total, prices, prices)


def reckoned(market: Market, prices: Prices, rents: Rents, sold: float, spoiling: int) -> float:
    """Return the bound where all grooves sell for at most `sold`, and slots pay `rents`."""
    import numpy as np

    least = market.not_placed(prices)
    for begin, end, starts in market.chunks():
        cost = market.priced(prices, rents.slots(begin, end), begin, end)
        cheapest = np.minimum.reduceat(cost.min(axis=1), starts - begin)
        who = market.owner[starts]
        least[who] = np.minimum(least[who], cheapest)
    sold += float(prices.minute @ market.supply.minutes)
    sold += float(prices.place @ market.places.room)
    bought = float((least * market.count).sum()) + market.supply.standing_costs(prices)
    return bought - sold - prices.spoiling * spoiling


def in_whole_days(days: float) -> int:
    """Return a bound rounded up to whole weighted days, after allowing for floating-point error."""
    return ceil(days - 1e-5 - 1e-9 * abs(days))
