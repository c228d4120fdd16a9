"""Good prices, from a linear program over the most promising offers only.

The program begins with the cheapest offers of every specimen. It is given more wherever its prices
say that an offer would pay, until none does.

For problems as large as a season there is a closer bound: the same program, in which the free
stretches count as well (`Grooves`). Where its best answer puts more slots on a kind of board than
the stretches hold, counted in some way, that count becomes one more thing that is sold, and the
program is solved again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol

from scheduler.planner.bound.market import Market, Prices, Supply
from scheduler.planner.bound.priced import Bound, ByLength, ByMm, Rents, bound, reckoned
from scheduler.planner.bound.stock import Grooves

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

PER_OFFER = 3
"""How many sessions of an offer are added at a time."""

SPOILING = 2_000.0
"""The highest price of a priority let spoil: any price gives a bound, but it must be finite."""


class Grows(Protocol):
    """A program that can be given more offers."""

    market: Market
    columns: dict[tuple[int, int, int, int], Any]

    def add(self, who: int, variant: int, kind: int, k: int, saves: float) -> None:
        """Add the offer to mount a specimen on a kind of board at a session, if it is new."""


class Program:
    """The linear program, to which offers are added."""

    def __init__(self, market: Market, spoiling: int) -> None:
        from ortools.linear_solver import pywraplp  # type: ignore[import-untyped]

        self.market, supply = market, market.supply
        self.solver: Any = pywraplp.Solver.CreateSolver("GLOP")
        self.anew: Any = pywraplp.MPSolverParameters()
        self.anew.SetIntegerParam(self.anew.INCREMENTALITY, self.anew.INCREMENTALITY_OFF)
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
        self.dry = [self.row(0.0) for _ in range(supply.sessions)]
        self._take_off(supply)
        self.columns: dict[tuple[int, int, int, int], Any] = {}

    def _places(self) -> dict[int, Any]:
        """Return the chamber's rows by moment, as they are while everyone is left out."""
        import numpy as np

        places, count = self.market.places, self.market.count
        binding = np.flatnonzero(places.binds).tolist()
        kept = [float(count[places.stays > moment].sum()) for moment in binding]
        return {m: self.row(float(places.room[m]) - n) for m, n in zip(binding, kept, strict=True)}

    def _take_off(self, supply: Supply) -> None:
        """Let each minute of taking off, of planned and standing ones, go to any session in time.

        What stands may also be left on, at its price.
        """
        each = supply.take_off_min
        for k, dry in enumerate(self.dry):
            standing = self.row(-each * float(supply.stand[k]))
            if each:
                standing.SetCoefficient(self._column(-supply.left_days / each), -1.0)
            for minutes in self.minutes[k : supply.latest[k] + 1]:
                for row in (dry, standing):
                    column = self._column(0.0)
                    row.SetCoefficient(column, -1.0)
                    minutes.SetCoefficient(column, 1.0)

    def row(self, most: float) -> Any:
        """Return a new row, whose sum must not be above `most`."""
        return self.solver.Constraint(-self.inf, most)

    def _column(self, worth: float) -> Any:
        column = self.solver.NumVar(0.0, self.inf, "")
        self.goal.SetCoefficient(column, worth)
        return column

    def add(self, who: int, variant: int, kind: int, k: int, saves: float) -> None:
        """Add the offer to mount a specimen on a kind of board at a session, if it is new."""
        key = (who, variant, kind, k)
        if key in self.columns:
            return
        market = self.market
        off = int(market.supply.off[variant, k])
        column = self.columns[key] = self._column(saves)
        if off < market.supply.sessions:
            self.dry[off].SetCoefficient(column, float(market.supply.take_off_min))
        self.one_each[who].SetCoefficient(column, 1.0)
        self.minutes[k].SetCoefficient(column, float(market.minutes[who]))
        slot = float(market.slot_mm[who])
        for row in self.mm[kind][k:off]:
            row.SetCoefficient(column, slot)
        self._relax(column, who, k)
        if market.perishes[who]:
            self.spoils.SetCoefficient(column, -float(market.perishes[who]))

    def _relax(self, column: Any, who: int, k: int) -> None:
        """Let a mounting take its places in the chamber, and free those it takes if left out."""
        places = self.market.places
        row, stays = int(places.row[who]), int(places.stays[who])
        since, until = int(places.since[row, k]), int(places.until[row, k])
        for moment, held in self.places.items():
            more = (since <= moment < until) - (moment < stays)
            if more:
                held.SetCoefficient(column, float(more))

    def solve(self) -> bool:
        """Solve the program as it is now; say whether that was possible.

        The solver goes on from its last answer; where rounding errors mislead it, it starts anew.
        """
        if self.solver.Solve() == self.solver.OPTIMAL:
            return True
        return bool(self.solver.Solve(self.anew) == self.solver.OPTIMAL)

    def paid(self) -> tuple[Prices, Floats]:
        """Return the prices of the solved program, and what each specimen gains at them."""
        import numpy as np

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
    """Add the offers that would pay at these prices; return how many are new."""
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
    """Return the best bound found with the prices of a program, to which offers are added.

    It ends after solving the program `rounds` times, or where no offer pays any more.
    """
    market = program.market
    prices = market.no_prices()
    best = bound(market, prices, spoiling)
    least = market.not_placed(prices)
    for _ in range(rounds):
        if not offer_more(program, prices, ByMm(market, prices), least) or stop():
            break
        if not program.solve():
            break
        prices, gains = program.paid()
        least = market.not_placed(prices) - gains
        best = best.better(bound(market, prices, spoiling))
    return best


BEYOND = 0.01
"""A count is kept where it exceeds what the stretches hold by more than this part."""


class Counted:
    """A solved program in which slots are from now on counted in several ways."""

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
        """Add the offer to mount a specimen on a kind of board at a session, if it is new."""
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
        """Return the prices, what a count costs in every way, and what each specimen gains."""
        import numpy as np

        prices, gains = self.program.paid()
        counted = np.zeros_like(self.grooves.holds)
        counted[0] = prices.mm
        for key, row in self.kept.items():
            counted[key] += max(0.0, row.dual_value())
        return prices, counted, gains

    def keep_more(self) -> int:
        """Keep the most exceeded count of each kind and session; return how many are new."""
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


def counted_bound(
    market: Market, prices: Prices, rents: ByLength, counted: Floats, spoiling: int
) -> float:
    """Return the bound that these prices give where grooves are sold by counts and not by mm."""
    sold = float((counted * rents.grooves.holds).sum())
    return reckoned(market, prices, rents, sold, spoiling)


def closer(
    solved: Program, grooves: Grooves, spoiling: int, rounds: int, stop: Callable[[], bool]
) -> tuple[float, Prices]:
    """Return a bound [weighted days] that respects the free stretches, and the prices behind it.

    `solved` is a solved program, which goes on from there. The prices of a mm are what all counts
    cost, spread over the usable mm.
    """
    import numpy as np

    market, program = solved.market, Counted(solved, grooves)
    best, guided = -np.inf, market.no_prices()
    for _ in range(rounds):
        if not solved.solve():
            break
        prices, counted, gains = program.paid()
        rents = ByLength(market, grooves, counted)
        days = counted_bound(market, prices, rents, counted, spoiling)
        if days > best:
            best, guided = days, replace(prices, mm=_per_mm(grooves, counted))
        if stop():
            break
        least = market.not_placed(prices) - gains
        kept = program.keep_more()  # it reads the answer, so it comes before the program changes
        if not offer_more(program, prices, rents, least) + kept:
            break
    return best, guided


def _per_mm(grooves: Grooves, counted: Floats) -> Floats:
    import numpy as np

    mm: Floats = (counted * grooves.holds).sum(axis=0) / np.maximum(1.0, grooves.holds[0])
    return mm
