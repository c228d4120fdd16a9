"""How short the weighted waiting could be at best: a bound that holds whatever was searched.

The bound is a Lagrangian one: minutes of each session and mm of groove of each kind of board
are sold at prices that are never negative, every specimen buys its cheapest session and kind
on its own, and what the sessions and grooves could sell at most is taken off again. Any
prices give a bound; good ones give a tight one. Only summed lengths count, never positions,
and every plan keeps within these sums, so no plan is better.

Two things need care. The first tier comes first: with `spoiling`, the bound holds for all
plans that let no more priority spoil than that, the best one among them. And taking off
alone may exceed a session's minutes where nothing is mounted, so a session may be "closed":
its minutes are not sold, and taking off at it is free. Let `gain(i, k)` be what specimen i
gains at most where k is closed. The minutes not sold are handed out, at most `gain(i, k)` to
each i; since a specimen is taken off at one session only, closing any set of sessions saves
it no more than the largest part of a gain not paid for. The sum of these is taken off.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING

from scheduler.planner.market import Market, Prices

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

ROUNDS = 200
"""Steps of the descent."""

EXACT = 20_000
"""Up to so many gains the least losses are found by a linear program."""


@dataclass(frozen=True)
class Bound:
    """A bound (weighted days), the prices that give it, and the sessions short of minutes.

    `days` holds for every plan. `open_days` is higher and holds for every plan that gives up
    no session to taking off: wherever something planned comes off, the minutes are kept. In a
    `short` session, what is not sold when it is closed does not cover every gain.
    """

    days: float
    open_days: float
    prices: Prices
    short: tuple[int, ...]

    def better(self, other: Bound) -> Bound:
        """Return the higher bounds of two; the prices are those of the higher open one."""
        best = max(self, other, key=lambda one: one.open_days)
        return replace(best, days=max(self.days, other.days))


def bound(market: Market, prices: Prices, spoiling: int) -> Bound:
    """Return the bound that these prices give.

    It holds for every plan in which no more than `spoiling` priority spoils.
    """
    import numpy as np

    supply = market.supply
    rent, _ = market.rents(prices)
    least = market.not_placed(prices)
    found = []
    for begin, end, starts in market.chunks():
        cost, taking_off = market.priced(prices, rent, begin, end)
        cheapest = np.minimum.reduceat(cost.min(axis=1), starts - begin)
        who = market.owner[starts]
        least[who] = np.minimum(least[who], cheapest)
        found.append(_gains(market, cost, taking_off, least, begin, end))
    sold = float(prices.minute @ supply.minutes) + float((prices.mm * supply.mm).sum())
    total = float((least * market.count).sum()) - sold - prices.spoiling * spoiling
    closing, short = _closing(market, prices, found)
    return Bound(total - closing, total, prices, short)


def _gains(
    market: Market, cost: Floats, taking_off: Floats, least: Floats, begin: int, end: int
) -> tuple[Whole, Whole, Floats]:
    """Return who gains at which session, and how much, by being taken off for nothing."""
    import numpy as np

    who, variant = market.owner[begin:end], market.variant[begin:end]
    gain = least[who, None] - (cost - taking_off)
    rows, columns = np.nonzero((gain > 1e-9) & (taking_off > 0))
    width = market.supply.sessions + 1
    keys = who[rows] * width + market.supply.off[variant[rows], columns]
    keys, inverse = np.unique(keys, return_inverse=True)
    most = np.zeros(len(keys))
    np.maximum.at(most, inverse, gain[rows, columns])
    return keys // width, keys % width, most


def _closing(
    market: Market, prices: Prices, found: list[tuple[Whole, Whole, Floats]]
) -> tuple[float, tuple[int, ...]]:
    """Return what closing sessions to mounting could save at most, and the short sessions."""
    import numpy as np

    if not found:
        return 0.0, ()
    who, at, gain = (np.concatenate(part) for part in zip(*found, strict=True))
    unsold = prices.minute * market.supply.minutes
    # A heap counts as often as it has specimens.
    gain = gain * market.count[who]
    asked = np.bincount(at, weights=gain, minlength=len(unsold))
    short = asked > unsold + 1e-9
    keep = short[at]
    who, at, gain = who[keep], at[keep], gain[keep]
    if not len(who):
        return 0.0, ()
    if len(who) <= EXACT:
        losses = _least_losses(who, at, gain, unsold, len(market.count))
        closing = _uncovered(losses, who, at, gain, unsold)
    else:
        closing = _low_losses(who, at, gain, unsold, len(market.count))
    return closing, tuple(np.flatnonzero(short).tolist())


def _uncovered(losses: Floats, who: Whole, at: Whole, gain: Floats, unsold: Floats) -> float:
    """Return what closing saves at most with these losses: they, and what is still not covered.

    Any losses that are not negative give a valid figure.
    """
    import numpy as np

    rest = np.maximum(0.0, gain - losses[who])
    asked = np.bincount(at, weights=rest, minlength=len(unsold))
    return float(losses.sum()) + float(np.maximum(0.0, asked - unsold).sum())


def _low_losses(who: Whole, at: Whole, gain: Floats, unsold: Floats, people: int) -> float:
    """Return a low value of `_uncovered`, which is convex in the losses, by descent."""
    import numpy as np

    losses, mean, square = np.zeros(people), np.zeros(people), np.zeros(people)
    best = np.inf
    for step in range(1, ROUNDS + 1):
        best = min(best, _uncovered(losses, who, at, gain, unsold))
        rest = gain - losses[who]
        some = rest > 0
        asked = np.bincount(at[some], weights=rest[some], minlength=len(unsold))
        over = (asked > unsold + 1e-9)[at] & some
        slope = 1.0 - np.bincount(who[over], minlength=people)
        mean = 0.9 * mean + 0.1 * slope
        square = 0.99 * square + 0.01 * slope**2
        size = 0.3 * (1 - step / ROUNDS) / (np.sqrt(square / (1 - 0.99**step)) + 1e-9)
        losses = np.maximum(0.0, losses - size * mean / (1 - 0.9**step))
    return best


def _least_losses(who: Whole, at: Whole, gain: Floats, unsold: Floats, people: int) -> Floats:
    """Return the losses that cover every session with the least sum, by a linear program."""
    import numpy as np
    from ortools.linear_solver import pywraplp  # type: ignore[import-untyped]

    solver = pywraplp.Solver.CreateSolver("GLOP")
    goal = solver.Objective()
    goal.SetMinimization()
    inf = solver.infinity()
    losses = {i: solver.NumVar(0.0, inf, "") for i in dict.fromkeys(who.tolist())}
    for column in losses.values():
        goal.SetCoefficient(column, 1.0)
    sessions = {k: solver.Constraint(-inf, float(unsold[k])) for k in dict.fromkeys(at.tolist())}
    for i, k, most in zip(who.tolist(), at.tolist(), gain.tolist(), strict=True):
        covered = solver.NumVar(0.0, inf, "")
        sessions[k].SetCoefficient(covered, 1.0)
        row = solver.Constraint(most, inf)
        row.SetCoefficient(covered, 1.0)
        row.SetCoefficient(losses[i], 1.0)
    solver.Solve()
    found = np.zeros(people)
    for i, column in losses.items():
        found[i] = max(0.0, column.solution_value())
    return found


def whole(days: float) -> int:
    """Return a bound as whole weighted days: they come whole; what floats lose is left off."""
    return ceil(days - 1e-5 - 1e-9 * abs(days))
