"""What a slot costs: by its mm, or, where slots are counted in several ways, by its length."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from scheduler.planner.grooves import Grooves
from scheduler.planner.market import Market, Prices

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]


class Rents(Protocol):
    """The prices of slots on the cheapest kind of board."""

    def slots(self, begin: int, end: int) -> Floats:
        """Return what a range of offers pays for its slots, by session."""

    def kinds(self, offers: Whole, at: Whole) -> Whole:
        """Return the cheapest kind of board of offers, each at a session."""


class ByMm:
    """Every mm of a kind of board has one price in a session."""

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
    """Every length of slot has its price; no board is let to a slot longer than its stretches.

    `counted` is what a count costs, by counting, kind of board and session.
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
