"""Ruin and recreate: take a few specimens out of the plan and put them back better.

Those taken out are near each other, on a board or in neighbouring sessions, with a few more that
could do better. They go back one after the other, each to the best of its offers that has room;
now and then an offer is passed over, so that the result is not always the same. A worse plan is
accepted more often at first than later (simulated annealing: Kirkpatrick, Gelatt and Vecchi 1983,
Science 220; memory). Every choice is drawn from one seeded generator, and the length is counted in
rounds, so the same problem gives the same plan. The rounds themselves are in `rounds`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.market import Prices
from scheduler.planner.search import rounds
from scheduler.planner.search.draft import best_spots, draft, facts
from scheduler.planner.search.machine import is_fast
from scheduler.planner.search.offers import offers
from scheduler.planner.search.rounds import Heat, Homes, Out
from scheduler.planner.state import Spot

SPOILS = 100_000
"""How many weighted days each priority let spoil counts in the search."""

SHARES = (0.4, 0.6, 0.8, 1.0)
"""The shares of the prices at which offers are ranked; each round draws one of them."""

MANY, SHARES_OF_MANY = 20_000, (0.7, 1.0)
"""With more specimens than this there are fewer shares, to save memory."""

WARM, COLD = 0.3, 0.003
"""How much worse a plan may be at first and at last, in mean costs of a specimen."""

LONG = 1_000
"""With so many rounds for each specimen the search begins at its warmest; with fewer, cooler."""

AT_A_TIME = 2_000
"""How many rounds pass between two questions whether to break off."""

SLOWER = 80
"""How many times fewer rounds are done without machine code, to take about the same time."""


class Search:
    """A plan that is being improved; `fixed` specimens stay where they are.

    `start` is a plan in the form of `best`. A specimen with a `home` costs its entry in `moving`,
    in weighted days, where it is elsewhere or left out.
    """

    def __init__(
        self,
        bench: PlanBench,
        start: tuple[Sequence[Spot | None], Sequence[int]],
        prices: Prices,
        fixed: frozenset[int] = frozenset(),
        home: Mapping[int, Spot] | None = None,
        moving: Mapping[int, int] | None = None,
        seed: int = 1,
    ) -> None:
        self.bench, home, moving = bench, home or {}, moving or {}
        left_out = [
            bench.waits_on(n)
            + (SPOILS * w.priority if bench.would_spoil[n] else 0)
            + moving.get(n, 0)
            for n, w in enumerate(bench.waiting)
        ]
        self.facts = facts(bench, left_out)
        shares = SHARES if len(bench.waiting) <= MANY else SHARES_OF_MANY
        self.offers = offers(bench, prices, shares, left_out)
        spots, offs = start
        self.draft = draft(bench, self.facts, offs, seed)
        self.homes = _homes(bench, home, moving)
        self.free = np.ones(len(bench.waiting), dtype=np.bool_)
        self.free[sorted(fixed)] = False
        self.movable = np.flatnonzero(self.free)
        places = []
        for n, spot in enumerate(spots):
            if spot is not None:
                cost = bench.waits(n, spot.session, spot.choice)
                cost += moving.get(n, 0) if home.get(n) != spot else 0
                due = bench.off_at(spot.session, spot.choice.plan_days)
                where = (spot.session, spot.choice.board, spot.from_mm, due, spot.off_at)
                places.append((n, *where, cost))
        begun = np.array(places, dtype=np.int64).reshape(-1, 7)
        rounds.begin_with(self.facts, self.draft, begun)

    @property
    def tiers(self) -> tuple[int, int]:
        """Return the priority let spoil and the weighted waiting of the best plan so far."""
        out = self.draft.best_session < 0
        spoiled = sum(
            w.priority
            for n, w in enumerate(self.bench.waiting)
            if self.bench.would_spoil[n] and out[n]
        )
        return spoiled, int(self.draft.sums[1]) - SPOILS * spoiled

    @property
    def best(self) -> tuple[list[Spot | None], list[int]]:
        """Return the best plan so far: each specimen's spot, and when standing ones come off."""
        return best_spots(self.bench, self.draft), self.draft.best_stand_off.tolist()

    def fill(self, order: Iterable[int]) -> None:
        """Place those that are not planned, in this order, and make that the best plan so far."""
        given = [n for n in order if self.draft.session[n] < 0]
        if given:
            out = _out(len(given))
            out.who[:] = given
            self._improve(out, len(given), Heat(1.0, 1.0, 1), 0, 1)

    def by_profit(self, numbers: Sequence[int]) -> list[int]:
        """Return these specimens by what they save for each mm of groove, the most first."""
        saves = self.facts.left_out - self.offers.best[-1]
        rank = -saves / self.facts.slot_mm
        return sorted(numbers, key=lambda n: (rank[n], n))

    def run(
        self,
        many: int,
        progress: Callable[[int], None] | None = None,
        stop: Callable[[], bool] | None = None,
    ) -> int:
        """Improve the plan for `many` rounds; return how many of these were reached.

        Without machine code only one in `SLOWER` of them is really done. Now and then `stop` is
        asked, and `progress` is told how many were reached.
        """
        slower = 1 if is_fast() else SLOWER
        if not len(self.movable) or not self.offers.code.shape[1]:
            return 0
        heat = self._heat(max(1, many // slower))
        out = _out(rounds.MOST_OUT)
        for begin in range(0, many, AT_A_TIME):
            if stop is not None and stop():
                return begin
            if progress is not None:
                progress(begin)
            end = min(many, begin + AT_A_TIME)
            self._improve(out, 0, heat, begin // slower, end // slower)
        return many

    def _improve(self, out: Out, given: int, heat: Heat, begin: int, end: int) -> None:
        plan = (self.facts, self.offers, self.draft, self.homes)
        rounds.improve(*plan, self.movable, self.free, out, given, heat, begin, end)

    def _heat(self, many: int) -> Heat:
        cost = self.draft.cost[self.movable]
        mean = max(1.0, float(cost[cost < SPOILS].sum()) / len(self.movable))
        part = min(1.0, many / (LONG * len(self.movable)))
        return Heat(mean * max(2 * COLD, WARM * part), mean * COLD, many)


def _out(most: int) -> Out:
    def zeros(many: int = most) -> NDArray[np.int64]:
        return np.zeros(many, dtype=np.int64)

    where = (zeros(), zeros(), zeros(), zeros(), zeros(), zeros())
    shifted = (zeros(rounds.MOST_SHIFTED), zeros(rounds.MOST_SHIFTED), zeros(rounds.MOST_SHIFTED))
    return Out(zeros(), np.zeros(most), *where, *shifted)


def _homes(bench: PlanBench, home: Mapping[int, Spot], moving: Mapping[int, int]) -> Homes:
    people = len(bench.waiting)
    found = Homes(
        session=np.full(people, -1, dtype=np.int16),
        board=np.zeros(people, dtype=np.int32),
        from_mm=np.zeros(people, dtype=np.int16),
        due=np.zeros(people, dtype=np.int16),
        off=np.zeros(people, dtype=np.int16),
        waits=np.zeros(people, dtype=np.int64),
        moving=np.zeros(people, dtype=np.int64),
    )
    for n, spot in home.items():
        found.session[n], found.board[n] = spot.session, spot.choice.board
        found.from_mm[n], found.off[n] = spot.from_mm, spot.off_at
        found.due[n] = bench.off_at(spot.session, spot.choice.plan_days)
        found.waits[n] = bench.waits(n, spot.session, spot.choice)
        found.moving[n] = moving.get(n, 0)
    return found
