"""Everything a bound asks about a problem, as arrays: who may be mounted when, at what price.

There is a row for each offer and a column for each session. An offer is a specimen with one of its
times on the board: on several boards it may need the same days. Alike specimens can be put into
heaps (`ascent.heaped`): then a row stands for the mean of a heap.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.stock import Places, places
from scheduler.planner.problem import Weights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]
    Flags = NDArray[np.bool_]

CHUNK = 2_000_000
"""How many numbers are worked on at a time, to save memory."""

FAR = 1e7
"""The ordinal of a day later than any."""


@dataclass(frozen=True)
class Prices:
    """What things cost, in weighted days; no price is below 0.

    `minute` is by session, `mm` by kind of board and session, `place` by moment of the relaxing
    chamber, `spoiling` for each priority let spoil.
    """

    minute: Floats
    mm: Floats
    place: Floats
    spoiling: float = 0.0


def cheapest_off(minute: Floats, latest: Sequence[int]) -> Floats:
    """Return the least price of a minute for taking off, by the first session it may be at."""
    import numpy as np

    return np.array([*(minute[k : latest[k] + 1].min() for k in range(len(minute))), 0.0])


@dataclass(frozen=True)
class Supply:
    """What there is: minutes of each session, mm of each kind of board in each session.

    A session without minutes is not `open`. Where a session is `full`, what may come off at it
    first never can: no session in time has the minutes. A variant is a time on the board with the
    kinds of boards that ask for it. By variant and session of mounting, `off` is the first session
    for taking off, and `clear` the date from which the slot counts as free; `extra` is what a
    variant's grooves cost besides [weighted days]. `latest` is the last session for taking off, by
    the first. `stand` is how many that stand now may come off at each session first; one left on
    too long costs `left_days`. Every slot counts only until its first session for taking off,
    which is less than it really takes, so that no bound is too high.
    """

    minutes: Floats
    mm: Floats
    open: Flags
    full: Flags
    on: Floats
    variants: tuple[tuple[int | None, tuple[int, ...]], ...]
    extra: Floats
    off: Whole
    clear: Floats
    latest: tuple[int, ...]
    stand: Floats
    left_days: int
    take_off_min: int

    def off_prices(self, minute: Floats) -> Floats:
        """Return what taking one off costs, by the first session for it, at these minute prices."""
        return cheapest_off(minute, self.latest) * self.take_off_min

    def standing_costs(self, prices: Prices) -> float:
        """Return what it costs to take off what stands, or to leave it on, whichever is less."""
        import numpy as np

        each = np.minimum(self.off_prices(prices.minute)[:-1], self.left_days)
        return float(each @ self.stand)

    @property
    def sessions(self) -> int:
        """Return how many sessions there are."""
        return len(self.minutes)


@dataclass(frozen=True)
class Market:
    """Who waits (arrays by specimen or heap) and their offers (`owner`, `variant`)."""

    supply: Supply
    places: Places
    count: Floats
    slot_mm: Floats
    minutes: Floats
    priority: Floats
    soft_on: Floats
    found_on: Floats
    wanted: Floats
    waits_on: Floats
    perishes: Floats
    first: Whole
    last: Whole
    weights: Weights
    owner: Whole
    variant: Whole

    def begins(self) -> Whole:
        """Return the first offer of every specimen that has any."""
        import numpy as np

        found: Whole = np.flatnonzero(np.diff(self.owner, prepend=-1))
        return found

    def chunks(self) -> Iterator[tuple[int, int, Whole]]:
        """Yield ranges of offers, and where each specimen's begin; none of these is split."""
        begins = self.begins()
        step = max(1, CHUNK // max(1, self.supply.sessions))
        start = 0
        while start < len(begins):
            begin = int(begins[start])
            past = int(begins.searchsorted(begin + step))
            past = max(past, start + 1)
            end = int(begins[past]) if past < len(begins) else len(self.owner)
            yield begin, end, begins[start:past]
            start = past

    def waits(self, begin: int, end: int) -> Floats:
        """Return the weighted days of a range of offers by session, infinite where not possible."""
        import numpy as np

        who, supply = self.owner[begin:end], self.supply
        late = np.maximum(0.0, supply.clear[self.variant[begin:end]] - self.wanted[who, None])
        found = self.found_on[who, None]
        days: Floats = self._aged(supply.on[None, :] - found)
        days -= self._aged(self.soft_on[who, None] - found)
        days += self.weights.late_days * late
        days *= self.priority[who, None]
        days += supply.extra[self.variant[begin:end], None]
        k = np.arange(supply.sessions)[None, :]
        shut = (k < self.first[who, None]) | (k > self.last[who, None]) | ~supply.open[None, :]
        off = supply.off[self.variant[begin:end]]
        shut |= np.append(supply.full, False)[off]
        days[shut] = np.inf
        return days

    def _aged(self, days: Floats) -> Floats:
        """Return what the days since specimens were found count for, as `bench.aged` does."""
        import numpy as np

        if not self.weights.age_doubles_days:
            return days.copy()
        older: Floats = days + np.floor(days * days / (2 * self.weights.age_doubles_days))
        return older

    def priced(self, prices: Prices, slots: Floats, begin: int, end: int) -> Floats:
        """Return what a range of offers costs in all by session; `slots` is paid for its slots."""
        who, variant = self.owner[begin:end], self.variant[begin:end]
        off_price = self.supply.off_prices(prices.minute)
        cost = self.waits(begin, end)
        cost += slots
        cost += self.minutes[who, None] * prices.minute[None, :]
        cost += off_price[self.supply.off[variant]]
        if prices.place.any():
            cost += self.places.rents(prices.place)[self.places.row[who]]
        return cost

    def not_placed(self, prices: Prices) -> Floats:
        """Return what it costs to leave each specimen out."""
        stays = self.places.left_out(prices.place)
        return self.waits_on + prices.spoiling * self.perishes + stays

    def no_prices(self) -> Prices:
        """Return prices at which everything is free."""
        import numpy as np

        supply = self.supply
        free = (np.zeros(supply.sessions), np.zeros_like(supply.mm))
        return Prices(*free, np.zeros_like(self.places.room))


def market(bench: PlanBench) -> Market:
    """Return the market of a problem."""
    import numpy as np

    waiting, everyone = bench.waiting, range(len(bench.waiting))

    def floats(of: list[float] | list[int]) -> Floats:
        return np.array(of, dtype=np.float64)

    variants, owner, variant = _offers(bench)
    supply = _supply(bench, variants)
    least = max(1, min((w.minutes for w in waiting), default=1))
    return Market(
        supply=supply,
        places=places(bench, supply.minutes // least),
        count=np.ones(len(waiting)),
        slot_mm=floats([w.slot_mm for w in waiting]),
        minutes=floats([w.minutes for w in waiting]),
        priority=floats([w.priority for w in waiting]),
        soft_on=floats(bench.soft_on),
        found_on=floats(bench.found_on),
        wanted=floats([w.wanted_by.toordinal() if w.wanted_by else FAR for w in waiting]),
        waits_on=floats([bench.waits_on(n) for n in everyone]),
        perishes=floats([bench.would_spoil[n] * waiting[n].priority for n in everyone]),
        first=np.array([w.first for w in waiting], dtype=np.int64),
        last=np.array([w.last for w in waiting], dtype=np.int64),
        weights=bench.problem.weights,
        owner=np.array(owner, dtype=np.int64),
        variant=np.array(variant, dtype=np.int64),
    )


_Variants = dict[tuple[int | None, tuple[int, ...], int], int]
"""Numbers by days on the board, kinds of boards, and what their grooves cost besides."""


def _offers(bench: PlanBench) -> tuple[_Variants, list[int], list[int]]:
    """Return the variants, and the owner and variant of every offer, by owner."""
    variants: _Variants = {}
    per_menu: dict[tuple[int, int], list[int]] = {}
    owner: list[int] = []
    variant: list[int] = []
    for n, w in enumerate(bench.waiting):
        menu, refused = bench.menus[n], bench.refused_menus[n]
        key = (id(menu), id(refused))
        if key not in per_menu:
            alike: dict[tuple[int | None, int], list[int]] = {}
            for group in menu.groups + refused.groups:
                alike.setdefault((group.plan_days, group.extra), []).append(group.kind)
            per_menu[key] = [
                variants.setdefault((days, tuple(sorted(kinds)), extra), len(variants))
                for (days, extra), kinds in alike.items()
            ]
        if w.first <= w.last:
            owner += [n] * len(per_menu[key])
            variant += per_menu[key]
    return variants, owner, variant


def _supply(bench: PlanBench, variants: _Variants) -> Supply:
    import numpy as np

    sessions = len(bench.sessions)
    minutes = np.array([s.minutes for s in bench.sessions], dtype=np.float64)
    stand = np.zeros(sessions)
    mm = np.zeros((len(bench.boards_of), sessions))
    for board, kind in zip(bench.boards, bench.kind_of, strict=True):
        mm[kind] += board.length_mm
    for s, on, first in zip(bench.stands, bench.stand_board, bench.stand_first, strict=True):
        if first < sessions:
            stand[first] += 1
        mm[bench.kind_of[on], :first] -= s.to_mm - s.from_mm
    off_at = [[bench.off_at(k, days) for k in range(sessions)] for days, _, _ in variants]
    never = bench.never
    clear = [[never if days is None else on + days for on in bench.on] for days, _, _ in variants]
    taken_off: Whole = np.array(off_at, dtype=np.int64).reshape(len(variants), sessions)
    return Supply(
        minutes=_usable(bench, minutes, {*taken_off.ravel().tolist(), *bench.stand_first}),
        mm=mm,
        open=minutes > 0,
        full=np.array([_is_full(bench, first) for first in range(sessions)], dtype=bool),
        on=np.array(bench.on, dtype=np.float64),
        variants=tuple((days, kinds) for days, kinds, _ in variants),
        extra=np.array([extra for _, _, extra in variants], dtype=np.float64),
        off=taken_off,
        clear=np.array(clear, dtype=np.float64).reshape(len(variants), sessions),
        latest=tuple(bench.latest),
        stand=stand,
        left_days=bench.problem.weights.left_days,
        take_off_min=bench.problem.take_off_min,
    )


def _is_full(bench: PlanBench, first: int) -> bool:
    """Say whether no session has the minutes to take off what may come off from `first` on."""
    may = bench.sessions[first : bench.latest[first] + 1]
    return all(s.minutes < bench.problem.take_off_min for s in may)


def _usable(bench: PlanBench, minutes: Floats, dry: set[int]) -> Floats:
    """Return the most minutes of each session that mountings and taking off can add up to.

    `dry` are the first sessions for taking off; whoever stands may come off at any later one.
    """
    import numpy as np

    stands = min(bench.stand_first, default=len(minutes))
    taken_off = {k for first in dry for k in range(first, bench.latest[first] + 1)}
    taken_off |= set(range(stands, len(minutes)))
    usable = np.zeros(len(minutes))
    for k, left in enumerate(minutes.tolist()):
        if left > 0:
            steps = {w.minutes for w in bench.waiting if w.first <= k <= w.last}
            steps |= {bench.problem.take_off_min} if k in taken_off else set()
            usable[k] = _largest_sum(steps - {0}, int(left))
    return usable


def _largest_sum(steps: set[int], most: int) -> int:
    """Return the largest sum not above `most` of the steps, each used any number of times."""
    sums, whole = 1, (1 << (most + 1)) - 1
    for step in sorted(steps):
        shift = step
        while shift <= most:
            sums |= (sums << shift) & whole
            shift *= 2
    return sums.bit_length() - 1
