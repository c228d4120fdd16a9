"""A closer bound for problems of a season: slots counted in whatever way binds.

The linear program of `columns` in which also the free stretches count (`grooves`). Where its
best answer would have more slots on a kind of board than its stretches hold, counted in some
way, that count is kept and sold too, and the program solved again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from scheduler.planner.bound import reckoned
from scheduler.planner.columns import Program, offer_more
from scheduler.planner.grooves import Grooves
from scheduler.planner.market import Market, Prices
from scheduler.planner.rents import ByLength

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

BEYOND = 0.01
"""A count is kept where it is beyond what there is by more than this part."""


class Counted:
    """A solved program, from now on with slots counted in several ways."""

    def __init__(self, program: Program, grooves: Grooves) -> None:
        self.program, self.market, self.grooves = program, program.market, grooves
        self.columns = program.columns
        self.kept: dict[tuple[int, int, int], Any] = {}
        self.there: dict[tuple[int, int], list[tuple[Any, int]]] = {}
        self.ways: dict[tuple[int, int], list[tuple[int, Any]]] = {}
        for rows, held in zip(program.mm, grooves.holds[0].tolist(), strict=True):
            for row, mm in zip(rows, held, strict=True):
                row.SetUb(mm)
        for who, variant, kind, k in program.columns:
            if grooves.longest_mm[kind, k] < grooves.slots_mm[grooves.slot[who]]:
                program.columns[who, variant, kind, k].SetUb(0.0)
            else:
                self._count(who, variant, kind, k)

    def add(self, who: int, variant: int, kind: int, k: int, saves: float) -> None:
        """Let someone be mounted on a kind of board at a session."""
        known = len(self.columns)
        self.program.add(who, variant, kind, k, saves)
        if len(self.columns) > known:
            self._count(who, variant, kind, k)

    def _count(self, who: int, variant: int, kind: int, k: int) -> None:
        column, slot = self.columns[who, variant, kind, k], int(self.grooves.slot[who])
        for session in range(k, int(self.market.supply.off[variant, k])):
            self.there.setdefault((kind, session), []).append((column, slot))
            for way, row in self.ways.get((kind, session), ()):
                row.SetCoefficient(column, float(self.grooves.counts[way, slot]))

    def paid(self) -> tuple[Prices, Floats, Floats]:
        """Return the prices, what a count costs in every way, and what everyone gains."""
        import numpy as np

        prices, gains = self.program.solve()
        counted = np.zeros_like(self.grooves.holds)
        counted[0] = prices.mm
        for key, row in self.kept.items():
            counted[key] += max(0.0, row.dual_value())
        return prices, counted, gains

    def keep_more(self) -> int:
        """Keep the count that is furthest beyond, by kind and session; return how many are new."""
        import numpy as np

        asked = np.zeros((*self.grooves.longest_mm.shape, len(self.grooves.slots_mm)))
        for place, columns in self.there.items():
            for column, slot in columns:
                asked[(*place, slot)] += column.solution_value()
        counts = np.tensordot(self.grooves.counts, asked, axes=(1, 2))
        beyond = counts - self.grooves.holds
        beyond /= np.maximum(1.0, self.grooves.holds)
        furthest, before = beyond.argmax(axis=0), len(self.kept)
        for kind, k in np.argwhere(beyond.max(axis=0) > BEYOND).tolist():
            self._keep(int(furthest[kind, k]), kind, k)
        return len(self.kept) - before

    def _keep(self, way: int, kind: int, k: int) -> None:
        if (way, kind, k) in self.kept:
            return
        row = self.program.row(float(self.grooves.holds[way, kind, k]))
        self.kept[way, kind, k] = row
        self.ways.setdefault((kind, k), []).append((way, row))
        for column, slot in self.there.get((kind, k), ()):
            row.SetCoefficient(column, float(self.grooves.counts[way, slot]))


def closer_bound(
    market: Market, grooves: Grooves, prices: Prices, counted: Floats, spoiling: int
) -> float:
    """Return the bound that these prices give, grooves sold by counts and not by mm."""
    return _bound(market, prices, ByLength(market, grooves, counted), counted, spoiling)


def _bound(
    market: Market, prices: Prices, rents: ByLength, counted: Floats, spoiling: int
) -> float:
    sold = float((counted * rents.grooves.holds).sum())
    return reckoned(market, prices, rents, sold, spoiling)


def closer(
    solved: Program, grooves: Grooves, spoiling: int, rounds: int, stop: Callable[[], bool]
) -> tuple[float, Prices]:
    """Return a bound (weighted days) that knows the free stretches; a solved program goes on.

    And the prices behind it: those of mm are what all counts cost, spread over the usable mm.
    """
    import numpy as np

    market, program = solved.market, Counted(solved, grooves)
    best, guided = -np.inf, market.no_prices()
    for _ in range(rounds):
        prices, counted, gains = program.paid()
        rents = ByLength(market, grooves, counted)
        days = _bound(market, prices, rents, counted, spoiling)
        if days > best:
            best, guided = days, replace(prices, mm=_per_mm(grooves, counted))
        if stop():
            break
        least = market.not_placed(prices) - gains
        kept = program.keep_more()  # before the program changes: it asks for the answer
        if not offer_more(program, prices, rents, least) + kept:
            break
    return best, guided


def _per_mm(grooves: Grooves, counted: Floats) -> Floats:
    import numpy as np

    mm: Floats = (counted * grooves.holds).sum(axis=0) / np.maximum(1.0, grooves.holds[0])
    return mm
