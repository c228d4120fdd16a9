"""Good prices, from a linear program over the most promising offers only.

The program begins with everyone's cheapest offers and is given more wherever its prices say
that one would pay, until none does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

from scheduler.planner.bound import Bound, bound
from scheduler.planner.market import Market, Prices
from scheduler.planner.rents import ByMm, Rents

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

PER_OFFER = 3
"""How many sessions of an offer enter at a time."""

SPOILING = 2_000.0
"""The highest price of a priority let spoil: any price gives a bound, none may be endless."""


class Grows(Protocol):
    """A program that can be given more offers."""

    market: Market
    columns: dict[tuple[int, int, int, int], Any]

    def add(self, who: int, variant: int, kind: int, k: int, saves: float) -> None:
        """Let someone be mounted on a kind of board at a session."""


class Program:
    """The linear program, growing by offers."""

    def __init__(self, market: Market, spoiling: int) -> None:
        from ortools.linear_solver import pywraplp  # type: ignore[import-untyped]

        self.market, supply = market, market.supply
        self.solver: Any = pywraplp.Solver.CreateSolver("GLOP")
        self.inf = self.solver.infinity()
        self.goal = self.solver.Objective()
        self.goal.SetMaximization()
        self.one_each = [self.row(n) for n in market.count.tolist()]
        self.minutes = [self.row(m) for m in supply.minutes.tolist()]
        self.mm = [[self.row(x) for x in row] for row in supply.mm.tolist()]
        self.spoils = self.row(spoiling - float((market.perishes * market.count).sum()))
        self.places = self._places()
        spare = self._column(-SPOILING)
        self.spoils.SetCoefficient(spare, -1.0)
        self.columns: dict[tuple[int, int, int, int], Any] = {}

    def _places(self) -> dict[int, Any]:
        """Return the rows of the chamber by moment, as if everyone were left out."""
        import numpy as np

        places, count = self.market.places, self.market.count
        binding = np.flatnonzero(places.binds).tolist()
        kept = [float(count[places.stays > moment].sum()) for moment in binding]
        return {m: self.row(float(places.room[m]) - n) for m, n in zip(binding, kept, strict=True)}

    def row(self, most: float) -> Any:
        """Return a new row: what it counts is `most` at most."""
        return self.solver.Constraint(-self.inf, most)

    def _column(self, worth: float) -> Any:
        column = self.solver.NumVar(0.0, self.inf, "")
        self.goal.SetCoefficient(column, worth)
        return column

    def add(self, who: int, variant: int, kind: int, k: int, saves: float) -> None:
        """Let someone be mounted on a kind of board at a session."""
        key = (who, variant, kind, k)
        if key in self.columns:
            return
        market = self.market
        off = int(market.supply.off[variant, k])
        column = self.columns[key] = self._column(saves)
        if off < market.supply.sessions:
            self.minutes[off].SetCoefficient(column, float(market.supply.take_off_min))
        self.one_each[who].SetCoefficient(column, 1.0)
        self.minutes[k].SetCoefficient(column, float(market.minutes[who]))
        slot = float(market.slot_mm[who])
        for row in self.mm[kind][k:off]:
            row.SetCoefficient(column, slot)
        self._relax(column, who, k)
        if market.perishes[who]:
            self.spoils.SetCoefficient(column, -float(market.perishes[who]))

    def _relax(self, column: Any, who: int, k: int) -> None:
        """Let a mounting take its places in the chamber instead of those of being left out."""
        places = self.market.places
        row, stays = int(places.row[who]), int(places.stays[who])
        since, until = int(places.since[row, k]), int(places.until[row, k])
        for moment, held in self.places.items():
            more = (since <= moment < until) - (moment < stays)
            if more:
                held.SetCoefficient(column, float(more))

    def solve(self) -> tuple[Prices, Floats]:
        """Return the prices, and what everyone gains by them."""
        import numpy as np

        self.solver.Solve()
        supply = self.market.supply
        minute = np.array([max(0.0, row.dual_value()) for row in self.minutes])
        minute[~supply.open] = 0.0
        mm = np.array([[max(0.0, row.dual_value()) for row in rows] for rows in self.mm])
        gains = np.array([max(0.0, row.dual_value()) for row in self.one_each])
        place = np.zeros_like(self.market.places.room)
        for moment, held in self.places.items():
            place[moment] = max(0.0, held.dual_value())
        spoiling = max(0.0, self.spoils.dual_value())
        prices = Prices(minute, mm.reshape(supply.mm.shape), place, spoiling)
        return prices, gains


def offer_more(program: Grows, prices: Prices, rents: Rents, least: Floats) -> int:
    """Add the offers that would pay at these prices; return how many."""
    import numpy as np

    market, before = program.market, len(program.columns)
    for begin, end, _ in market.chunks():
        cost = market.priced(prices, rents.slots(begin, end), begin, end)
        near = np.argsort(cost, axis=1, kind="stable")[:, :PER_OFFER]
        rows, at = np.repeat(np.arange(end - begin), near.shape[1]), near.ravel()
        pays = cost[rows, at] < least[market.owner[begin + rows]] - 1e-6
        rows, at = rows[pays], at[pays]
        who, variant = market.owner[begin + rows], market.variant[begin + rows]
        saves = market.waits_on[who] - market.waits(begin, end)[rows, at]
        offers = (who, variant, rents.kinds(begin + rows, at), at, saves)
        for offer in zip(*(column.tolist() for column in offers), strict=True):
            program.add(*offer)
    return len(program.columns) - before


def best_prices(program: Program, spoiling: int, rounds: int, stop: Callable[[], bool]) -> Bound:
    """Return the best bound found with the prices of a program, which grows meanwhile.

    Stops after `rounds` (whole numbers of program solved), or where no offer pays any more.
    """
    market = program.market
    prices = market.no_prices()
    best = bound(market, prices, spoiling)
    least = market.not_placed(prices)
    for _ in range(rounds):
        if not offer_more(program, prices, ByMm(market, prices), least) or stop():
            break
        prices, gains = program.solve()
        least = market.not_placed(prices) - gains
        best = best.better(bound(market, prices, spoiling))
    return best
