"""What each specimen would like best: sessions and kinds of boards by waiting and price.

Prices make a specimen step back from a session or a groove that others need more. They are
only advice to the search; what counts in the end is the waiting itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from scheduler.planner.bench import Bench, Menu
from scheduler.planner.market import Prices

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

MOST_KEPT = 1_500_000
"""Offers kept in memory at a time; beyond that, they are worked out anew."""

LEAST_EACH = 60
"""So many offers everyone has at least; the dearest are left off where there are many."""


class Offer(NamedTuple):
    """One session and kind of board; `waits` without, `price` with what everything costs."""

    price: float
    session: int
    off_at: int
    kind: int
    plan_days: int | None
    waits: int
    menu: Menu


class Offers:
    """Every specimen's offers, the best first, at a share of the full prices."""

    def __init__(self, bench: Bench, prices: Prices, share: float) -> None:
        import numpy as np

        self.bench = bench
        self.on = np.array(bench.on, dtype=np.float64)
        sessions = len(bench.on)
        self.minute = share * prices.minute
        self.taking_off = np.append(self.minute, 0.0) * bench.problem.take_off_min
        self.total = np.zeros((len(bench.boards_of), sessions + 1))
        np.cumsum(share * prices.mm, axis=1, out=self.total[:, 1:])
        self.rents: dict[tuple[int, int | None], tuple[Floats, Whole]] = {}
        self.kept: dict[int, list[Offer]] = {}
        self.kept_offers = 0
        self.most = max(LEAST_EACH, MOST_KEPT // max(1, len(bench.waiting)))

    def of(self, number: int) -> list[Offer]:
        """Return a specimen's offers."""
        found = self.kept.get(number)
        if found is None:
            found = self._work_out(number, self.most)
            if self.kept_offers > MOST_KEPT:
                self.kept.clear()
                self.kept_offers = 0
            self.kept[number] = found
            self.kept_offers += len(found)
        return found

    def beyond(self, number: int) -> list[Offer]:
        """Return the dearer offers that were left off."""
        kept = len(self.of(number))
        return self._work_out(number, None)[kept:] if kept == self.most else []

    def _rent(self, kind: int, plan_days: int | None) -> tuple[Floats, Whole]:
        """Return the price of a mm by session, and when it is taken off."""
        import numpy as np

        key = (kind, plan_days)
        if key not in self.rents:
            sessions = range(len(self.on))
            off = np.array([self.bench.off_at(k, plan_days) for k in sessions], dtype=np.int64)
            self.rents[key] = (self.total[kind][off] - self.total[kind][:-1], off)
        return self.rents[key]

    def _work_out(self, number: int, most: int | None) -> list[Offer]:
        import numpy as np

        w = self.bench.waiting[number]
        groups = [
            (menu, kind, plan_days)
            for menu in (self.bench.menus[number], self.bench.refused_menus[number])
            for kind, plan_days in menu.groups
        ]
        if w.first > w.last or not groups:
            return []
        open_to = slice(w.first, w.last + 1)
        fixed = w.minutes * self.minute[open_to]
        rents = [self._rent(kind, days) for _, kind, days in groups]
        waits = np.array([self._waits(number, days, open_to) for _, _, days in groups])
        off = np.array([off_at[open_to] for _, off_at in rents])
        price = waits + fixed + self.taking_off[off]
        price += w.slot_mm * np.array([rent[open_to] for rent, _ in rents])
        # Cheapest first, then the earliest session, then the tightest groove.
        session = np.broadcast_to(np.arange(w.first, w.last + 1), price.shape)
        row = np.broadcast_to(np.arange(len(groups))[:, None], price.shape)
        order = np.lexsort((row.ravel(), session.ravel(), price.ravel()))[:most]
        columns = (column.ravel()[order].tolist() for column in (price, session, off, row, waits))
        return [
            Offer(cost, k, off_at, groups[g][1], groups[g][2], int(days), groups[g][0])
            for cost, k, off_at, g, days in zip(*columns, strict=True)
        ]

    def _waits(self, number: int, plan_days: int | None, open_to: slice) -> Floats:
        """Return the weighted days by session, as `Bench.waits` does one by one."""
        import numpy as np

        bench, w = self.bench, self.bench.waiting[number]
        on = self.on[open_to]
        days = on - bench.soft_on[number]
        if w.wanted_by is not None:
            clear = np.full(len(on), float(bench.never)) if plan_days is None else on + plan_days
            days = days + 2 * np.maximum(0.0, clear - w.wanted_by.toordinal())
        found: Floats = w.priority * days
        return found
