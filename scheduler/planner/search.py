"""Ruin and recreate: take a few specimens out of the plan and put them back better.

What is taken out lies together, on a board or in neighbouring sessions, with a few that wait
and would rather not. They go back one after the other, each to the best of its offers that
has room; now and then one is passed over, so that not always the same comes out. A worse plan
is accepted at first more often than later (simulated annealing: Kirkpatrick, Gelatt and
Vecchi 1983, Science 220; memory). Every choice is drawn from one seeded generator, and the
length is counted in rounds: same problem, same plan.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from random import Random

from scheduler.planner.bench import Bench
from scheduler.planner.market import Prices
from scheduler.planner.occupancy import Spot, State, lowest, starts
from scheduler.planner.offers import Offer, Offers

SHARES = (0.4, 0.6, 0.8, 1.0)
"""At which shares of the prices offers are ranked, in turns by lot."""

MANY = 20_000
"""Beyond so many specimens offers are ranked at the full prices only, to save memory."""

BLINK = 0.03
"""How often an offer is passed over."""

HOMING = 0.7
"""How often one that has a home is put there if it can be."""

WARM, COLD = 0.35, 0.005
"""How much worse a plan may be at first and at last, in mean waits of a specimen."""

LONG = 75
"""Rounds per specimen from which the search may begin at its warmest."""

SPOILS = 100_000
"""Weighted days that one priority let spoil counts for while searching."""


class Search:
    """A plan being improved; `fixed` stay where they are.

    With `home`, every specimen that has one and is elsewhere costs `moving` weighted days.
    """

    def __init__(
        self,
        state: State,
        prices: Prices,
        fixed: frozenset[int] = frozenset(),
        home: Mapping[int, Spot] | None = None,
        moving: int = 0,
        seed: int = 1,
    ) -> None:
        self.home, self.moving = home or {}, moving
        self.state, self.bench, self.fixed = state, state.bench, fixed
        self.rng = Random(seed)
        bench: Bench = state.bench
        self.slot_mm = [w.slot_mm for w in bench.waiting]
        self.minutes = [w.minutes for w in bench.waiting]
        self.left_out = [
            bench.waits_on(n)
            + (SPOILS * w.priority if bench.would_spoil[n] else 0)
            + (moving if n in self.home else 0)
            for n, w in enumerate(bench.waiting)
        ]
        shares = SHARES if len(bench.waiting) <= MANY else SHARES[-1:]
        self.shares = [Offers(bench, prices, share) for share in shares]
        self.offers = self.shares[-1]
        self.movable = [n for n in range(len(bench.waiting)) if n not in fixed]
        self.cost = self.left_out[:]
        self.on_board: list[set[int]] = [set() for _ in bench.boards]
        self.in_session: list[set[int]] = [set() for _ in bench.sessions]
        for n, spot in enumerate(state.spots):
            if spot is not None:
                self._note(n, spot, self._cost(n, spot))
        self.total = sum(self.cost)
        self.best, self.best_spots = self.total, state.spots[:]

    @property
    def tiers(self) -> tuple[int, int]:
        """Return priority let spoil and weighted waiting of the best plan so far."""
        spoiled = sum(
            w.priority
            for n, w in enumerate(self.bench.waiting)
            if self.bench.would_spoil[n] and self.best_spots[n] is None
        )
        return spoiled, self.best - SPOILS * spoiled

    def _cost(self, n: int, spot: Spot) -> int:
        moved = n in self.home and self.home[n] != spot
        return self.bench.waits(n, spot.session, spot.choice.plan_days) + moved * self.moving

    def _note(self, n: int, spot: Spot, cost: int) -> None:
        self.on_board[spot.choice.board].add(n)
        self.in_session[spot.session].add(n)
        self.cost[n] = cost

    def put(self, n: int, spot: Spot) -> None:
        """Plan a specimen here; the caller knows that there is room."""
        cost = self._cost(n, spot)
        self.total += cost - self.cost[n]
        self.state.insert(n, spot.session, spot.choice, spot.from_mm)
        self._note(n, spot, cost)

    def take_out(self, n: int) -> None:
        """Take a planned specimen out."""
        spot = self.state.spots[n]
        if spot is None:
            return
        self.state.remove(n)
        self.on_board[spot.choice.board].discard(n)
        self.in_session[spot.session].discard(n)
        self.total += self.left_out[n] - self.cost[n]
        self.cost[n] = self.left_out[n]

    def place(self, n: int, blink: float = 0.0) -> bool:
        """Put a specimen where the best of its offers has room, or home again by lot."""
        home = self.home.get(n)
        if (
            home is not None
            and self.rng.random() < HOMING
            and self.state.allows(n, home.session, home.choice, home.from_mm)
        ):
            self.put(n, home)
            return True
        return self._place_in(n, self.offers.of(n), blink)

    def _place_in(self, n: int, offers: list[Offer], blink: float) -> bool:
        """Put a specimen where the first of some offers has room."""
        state, slot_mm, minutes = self.state, self.slot_mm[n], self.minutes[n]
        left, runs, width = state.left_min, state.kind_runs, len(state.left_min) + 1
        for offer in offers:
            k, off_at, kind = offer.session, offer.off_at, offer.kind
            if left[k] < minutes:
                continue
            if runs[kind].get(k * width + off_at, slot_mm) < slot_mm:
                continue
            if not state.may_take_off(off_at) or not state.has_run(kind, k, off_at, slot_mm):
                continue
            if blink and self.rng.random() < blink:
                continue
            if state.chamber_full_at(n, k) is None:
                self._place_on(n, offer, blink)
                return True
        return False

    def _place_on(self, n: int, offer: Offer, blink: float) -> None:
        """Put it on the board of the kind that it leaves the least free beside it."""
        state, slot_mm = self.state, self.slot_mm[n]
        k, off_at = offer.session, offer.off_at
        best, board = 1 << 30, -1
        for one in self.bench.boards_of[offer.kind]:
            run = state.run(one, k, off_at)
            if slot_mm <= run < best and (board < 0 or not blink or self.rng.random() >= blink):
                best, board = run, one
        bits = starts(state.free(board, k, off_at), slot_mm)
        last = blink and self.rng.random() < 0.5
        from_mm = bits.bit_length() - 1 if last else lowest(bits)
        self.put(n, Spot(k, offer.menu.on(board), from_mm, off_at))

    def fill(self, order: Iterable[int]) -> None:
        """Place each in turn that is not planned."""
        for n in order:
            if self.state.spots[n] is None and not self.place(n):
                self._place_in(n, self.offers.beyond(n), 0.0)

    def by_profit(self, n: int) -> tuple[float, int]:
        """Rank by what a mm of groove saves at these prices, the most first."""
        offers = self.offers.of(n)
        best = offers[0].price if offers else math.inf
        return -(self.left_out[n] - best) / self.slot_mm[n], n

    def begin(self) -> None:
        """Take the plan as it is now for the best so far."""
        self.best, self.best_spots = self.total, self.state.spots[:]

    def run(
        self,
        rounds: int,
        progress: Callable[[int], None] | None = None,
        stop: Callable[[], bool] | None = None,
    ) -> int:
        """Improve the plan for so many rounds; return how many were done.

        `stop` is asked, and `progress` told, every 200 rounds.
        """
        if not self.movable:
            return 0
        waits = sum(self.cost[n] for n in self.movable if self.cost[n] < SPOILS)
        mean = max(1.0, waits / len(self.movable))
        warm = mean * max(8 * COLD, WARM * min(1.0, rounds / (LONG * len(self.movable))) ** 2)
        for turn in range(rounds):
            if turn % 200 == 0:
                if stop is not None and stop():
                    return turn
                if progress is not None:
                    progress(turn)
            self._round(warm * (COLD * mean / warm) ** (turn / rounds))
        return rounds

    def _round(self, heat: float) -> None:
        """Take some out, put them back, and keep the new plan or go back."""
        self.offers = self.shares[self.rng.randrange(len(self.shares))]
        gone = self._ruin()
        before, old = self.total, [(n, self.state.spots[n]) for n in gone]
        for n in gone:
            self.take_out(n)
        self._shuffle(gone)
        for n in gone:
            self.place(n, BLINK)
        if self.total >= before - heat * math.log(1.0 - self.rng.random()):
            for n in gone:
                self.take_out(n)
            for n, spot in old:
                if spot is not None:
                    self.put(n, spot)
        elif self.total < self.best:
            self.best, self.best_spots = self.total, self.state.spots[:]

    def _shuffle(self, gone: list[int]) -> None:
        lot = self.rng.random()
        if lot < 0.35:
            self.rng.shuffle(gone)
        elif lot < 0.5:
            gone.sort(key=lambda n: (-self.slot_mm[n], n))
        elif lot < 0.8:
            gone.sort(key=self.by_profit)
        else:
            gone.sort(key=lambda n: (-self.bench.waiting[n].priority, n))

    def _regret(self, n: int) -> float:
        offers = self.offers.of(n)
        return self.cost[n] - offers[0].price if offers else -math.inf

    def _ruin(self) -> list[int]:
        """Choose who is taken out: one that could be better off, and what is in its way."""
        rng = self.rng
        drawn = [rng.choice(self.movable) for _ in range(3)]
        first = max(drawn, key=lambda n: (self._regret(n), -n))
        gone = {first: None}
        offers = self.offers.of(first)
        if offers:
            at = int(-math.log(1 - rng.random()) * 4)
            offer = offers[min(rng.randrange(at + 1), len(offers) - 1)]
            near = self._on_boards if rng.random() < 0.5 else self._in_sessions
            gone |= dict.fromkeys(near(first, offer))
            gone |= dict.fromkeys(self._would_rather())
        return [n for n in gone if n not in self.fixed]

    def _on_boards(self, first: int, offer: Offer) -> list[int]:
        """Return what lies on one or two boards in the way, and one or two of the session."""
        rng, found = self.rng, []
        boards = self.bench.boards_of[offer.kind]
        width = rng.randrange(self.slot_mm[first], 3 * self.slot_mm[first] + 1)
        for board in rng.sample(boards, min(1 if rng.random() < 0.6 else 2, len(boards))):
            at = rng.randrange(-self.slot_mm[first], self.bench.boards[board].length_mm)
            for n in sorted(self.on_board[board]):
                spot = self.state.spots[n]
                if (
                    spot is not None
                    and spot.session < offer.off_at
                    and offer.session < spot.off_at
                    and spot.from_mm < at + width
                    and at < spot.from_mm + self.slot_mm[n]
                ):
                    found.append(n)
        if rng.random() < 0.7:
            found += self._some(offer.session, 1, 2)
        return found

    def _in_sessions(self, _first: int, offer: Offer) -> list[int]:
        """Return a few of the session and a few of one near it."""
        near = offer.session + self.rng.randrange(-3, 4)
        near = min(len(self.in_session) - 1, max(0, near))
        return self._some(offer.session, 1, 4) + self._some(near, 0, 3)

    def _some(self, session: int, least: int, most: int) -> list[int]:
        mounted = sorted(self.in_session[session])
        return self.rng.sample(mounted, min(len(mounted), self.rng.randint(least, most)))

    def _would_rather(self) -> list[int]:
        """Return a few that are not mounted, or could be 3 weighted days better off."""
        found = []
        for _ in range(6):
            n = self.rng.choice(self.movable)
            offers = self.offers.of(n)
            if offers and self.cost[n] > offers[0].waits + (3 if self.state.spots[n] else 0):
                found.append(n)
        return found
