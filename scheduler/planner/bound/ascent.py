"""Find good prices where a linear program would take too long, by climbing a softened bound.

Every specimen is spread over offers nearly as cheap as its cheapest, the more evenly the stronger
the softening. Where more is asked for than there is, the price rises; where something is left over,
it falls. Steps follow Adam (Kingma and Ba 2015; memory). The bound itself is not softened: `bound`
works it out from the prices.

Where there are too many specimens to treat them one by one, alike ones are put into heaps.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from scheduler.planner.bound.market import FAR, Market, Prices
from scheduler.planner.bound.priced import Bound, bound

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

SOFT, HARD = 2.0, 0.05
"""The softening in the first and in the last step [weighted days]."""

STEP = 1.0
STEP_OF = (1.0, 0.02, 5.0, 2.0)
"""The size of the first step, and the share of it for the price of a minute, a mm, a place and a
priority let spoil."""

LOOKS = 8
"""How often the bound is worked out on the way."""


class Soft:
    """The softened bound and its slope."""

    def __init__(self, market: Market, spoiling: int) -> None:
        import numpy as np

        self.market, self.spoiling = market, spoiling
        offers = len(market.owner)
        self.waits = market.waits(0, offers)
        self.begins = market.begins()
        self.who = market.owner[self.begins]
        sizes = np.diff(np.append(self.begins, offers))
        self.segment = np.repeat(np.arange(len(self.begins)), sizes)
        self.kinds = [np.array(kinds) for _, kinds in market.supply.variants]
        used = np.bincount(market.variant, minlength=len(self.kinds))
        slots = np.bincount(
            market.variant, weights=market.slot_mm[market.owner], minlength=len(self.kinds)
        )
        self.mean_slot = np.maximum(1.0, slots / np.maximum(1, used))
        without = np.ones(len(market.count), dtype=bool)
        without[self.who] = False
        self.sure_to_spoil = float((market.perishes * market.count)[without].sum())

    def slope(self, prices: Prices, softening: float) -> tuple[Floats, Floats, Floats, float]:
        """Return how much more is asked for than there is of minutes, mm, places and spoiling."""
        import numpy as np

        market, supply = self.market, self.market.supply
        rent, shares = self._rents(prices, softening)
        slots = market.slot_mm[market.owner, None] * rent[market.variant]
        cost = market.priced(prices, slots, 0, len(market.owner))
        left_out = market.not_placed(prices)[self.who]
        least = np.minimum(np.minimum.reduceat(cost.min(axis=1), self.begins), left_out)
        part = np.exp(-(cost - least[self.segment, None]) / softening)
        out = np.exp(-(left_out - least) / softening)
        whole = np.add.reduceat(part.sum(axis=1), self.begins) + out
        part *= (market.count[self.who] / whole)[self.segment, None]
        minute = (part * market.minutes[market.owner, None]).sum(axis=0) - supply.minutes
        width = supply.sessions
        number = (market.variant[:, None] * width + np.arange(width)).ravel()
        size = len(self.kinds) * width
        taken = np.bincount(number, weights=part.ravel(), minlength=size)
        off = np.bincount(supply.off.ravel(), weights=taken, minlength=width + 1)[:width]
        minute += self._taken_off(prices, off, softening)
        minute[~supply.open] = 0.0
        place = self._places(part, out / whole)
        part *= market.slot_mm[market.owner, None]
        asked: Any = np.bincount(number, weights=part.ravel(), minlength=size)
        by_variant: Floats = asked.reshape(-1, width)
        mm = self._on_boards(by_variant, shares) - supply.mm
        perishes = (market.perishes * market.count)[self.who]
        spoil = float((out / whole * perishes).sum()) + self.sure_to_spoil - self.spoiling
        return minute, mm, place, spoil

    def _taken_off(self, prices: Prices, off: Floats | Whole, softening: float) -> Floats:
        """Return the minutes of taking off by session.

        `off` is how many planned ones have each session as the first for taking them off.
        """
        import numpy as np

        supply, minutes = self.market.supply, np.zeros(len(off))
        each = supply.take_off_min
        for k, many in enumerate(off.tolist()):
            may = slice(k, supply.latest[k] + 1)
            cost = prices.minute[may] * each
            least = cost.min()
            part = np.exp(-(cost - least) / softening)
            left = np.exp(-(supply.left_days - least) / softening) if supply.stand[k] else 0.0
            share = many / part.sum() + supply.stand[k] / (part.sum() + left)
            minutes[may] += each * share * part
        return minutes

    def _places(self, part: Floats, left_out: Floats) -> Floats:
        """Return how many more places are asked for than there are, 0 where they cannot run out."""
        import numpy as np

        places, market = self.market.places, self.market
        if not places.binds.any():
            return np.zeros_like(places.room)
        width, moments = part.shape[1], len(places.room)
        number = places.row[market.owner, None] * width + np.arange(width)
        asked = np.bincount(number.ravel(), weights=part.ravel(), minlength=places.since.size)
        change = np.bincount(places.since.ravel(), weights=asked, minlength=moments + 1)
        change -= np.bincount(places.until.ravel(), weights=asked, minlength=moments + 1)
        kept = market.count.copy()
        kept[self.who] *= left_out
        change[0] += kept.sum()
        change -= np.bincount(places.stays, weights=kept, minlength=moments + 1)
        beyond: Floats = np.cumsum(change)[:moments] - places.room
        return np.where(places.binds, beyond, 0.0)

    def _rents(self, prices: Prices, softening: float) -> tuple[Floats, list[Floats]]:
        """Return the price of a mm by variant and session, and the share of each kind of board."""
        import numpy as np

        supply = self.market.supply
        total = np.zeros((len(supply.mm), supply.sessions + 1))
        np.cumsum(prices.mm, axis=1, out=total[:, 1:])
        rent = np.empty((len(self.kinds), supply.sessions))
        shares = []
        for v, of in enumerate(self.kinds):
            each = total[of][:, supply.off[v]] - total[of, :-1]
            rent[v] = each.min(axis=0)
            share = np.exp((rent[v] - each) * (self.mean_slot[v] / softening))
            shares.append(share / share.sum(axis=0))
        return rent, shares

    def _on_boards(self, asked: Floats, shares: list[Floats]) -> Floats:
        """Return the mm taken of every kind of board in every session."""
        import numpy as np

        supply = self.market.supply
        width = supply.sessions + 1
        change = np.zeros(len(supply.mm) * width)
        for v, of in enumerate(self.kinds):
            use = (shares[v] * asked[v]).ravel()
            row = of[:, None] * width
            change += np.bincount(
                (row + np.arange(width - 1)).ravel(), weights=use, minlength=len(change)
            )
            change -= np.bincount((row + supply.off[v]).ravel(), weights=use, minlength=len(change))
        taken: Floats = np.cumsum(change.reshape(-1, width), axis=1)[:, :-1]
        return taken


def climb(
    market: Market, full: Market, spoiling: int, steps: int, stop: Callable[[], bool]
) -> Bound:
    """Return the best bound for `full` found in `steps` steps up the slope of `market`."""
    import numpy as np

    soft = Soft(market, spoiling)
    free = market.no_prices()
    at = [free.minute, free.mm, free.place, np.zeros(1)]
    mean = [np.zeros_like(x) for x in at]
    square = [np.zeros_like(x) for x in at]
    best = bound(full, market.no_prices(), spoiling)
    look = max(1, steps // LOOKS)
    for step in range(1, steps + 1):
        done = step / steps
        softening = SOFT * (HARD / SOFT) ** done
        now = Prices(at[0], at[1], at[2], float(at[3][0]))
        minute, mm, place, spoil = soft.slope(now, softening)
        size = STEP * (1.01 - done)
        for n, slope in enumerate((minute, mm, place, np.array([spoil]))):
            mean[n] = 0.9 * mean[n] + 0.1 * slope
            square[n] = 0.99 * square[n] + 0.01 * slope**2
            way = mean[n] / (1 - 0.9**step) / (np.sqrt(square[n] / (1 - 0.99**step)) + 1e-9)
            at[n] = np.maximum(0.0, at[n] + size * STEP_OF[n] * way)
        if (steps - step) % look == 0 and done > 0.4:
            prices = Prices(at[0].copy(), at[1].copy(), at[2].copy(), float(at[3][0]))
            best = best.better(bound(full, prices, spoiling))
        if stop():
            break
    return best


def heaped(full: Market, heaps: int) -> Market:
    """Return the market with alike specimens in `heaps` heaps, each like the mean of its specimens.

    A heap has the offers of its most typical specimen.
    """
    import numpy as np

    offers = np.bincount(full.owner, minlength=len(full.count))
    who = np.flatnonzero(offers)
    if len(who) <= heaps:
        return full
    of = _split(_features(full, who), heaps)
    size = np.bincount(of).astype(np.float64)

    def mean(values: Floats) -> Floats:
        return np.bincount(of, weights=values[who]) / size

    typical = who[_typical(_features(full, who), of)]
    first_offer = np.searchsorted(full.owner, typical)
    owner = np.repeat(np.arange(len(size)), offers[typical])
    variant = np.concatenate(
        [full.variant[a : a + n] for a, n in zip(first_offer, offers[typical], strict=True)]
    )
    return replace(
        full,
        places=full.places.of(typical),
        count=size,
        slot_mm=mean(full.slot_mm),
        minutes=mean(full.minutes),
        priority=mean(full.priority),
        soft_on=mean(full.soft_on),
        found_on=mean(full.found_on),
        wanted=full.wanted[typical],
        waits_on=mean(full.waits_on),
        perishes=mean(full.perishes),
        first=np.round(mean(full.first.astype(np.float64))).astype(np.int64),
        last=np.round(mean(full.last.astype(np.float64))).astype(np.int64),
        owner=owner,
        variant=variant,
    )


def _features(full: Market, who: Whole) -> Floats:
    """Return the features that make specimens alike, scaled to about the same importance."""
    import numpy as np

    supply = full.supply
    begins = full.begins()
    clear = supply.clear[:, :1] - supply.on[:1]
    days = np.minimum.reduceat(clear[full.variant, 0], begins)
    kinds = np.array([len(kinds) for _, kinds in supply.variants], dtype=np.float64)
    fits = np.add.reduceat(kinds[full.variant], begins)
    room = np.array([sum(kinds) for _, kinds in supply.variants], dtype=np.float64)
    which = np.add.reduceat(room[full.variant], begins) / np.maximum(1.0, fits)
    features = [
        np.log(full.slot_mm[who]),
        1.5 * np.log(full.priority[who]),
        3.0 * full.soft_on[who] / max(1.0, float(np.ptp(full.soft_on[who]))),
        4.0 * (full.last - full.first)[who] / max(1, supply.sessions),
        np.log(np.maximum(1.0, days)),
        np.log(np.maximum(1.0, fits)),
        which / max(1, len(supply.mm)),
        (full.wanted[who] < FAR) * 1.0,
    ]
    return np.stack(features)


def _split(features: Floats, heaps: int) -> Whole:
    """Return each specimen's heap; the widest heap is halved along its widest side each time."""
    import heapq

    import numpy as np

    def entry(members: Whole) -> tuple[float, int, int, Whole]:
        part = features[:, members]
        spread = part.var(axis=1) * len(members)
        side = int(spread.argmax())
        return -float(spread[side]), int(members[0]), side, members

    queue = [entry(np.arange(features.shape[1]))]
    while len(queue) < heaps and queue[0][0] < 0:
        _, _, side, members = heapq.heappop(queue)
        values = features[side, members]
        low = values <= values.mean()
        heapq.heappush(queue, entry(members[low]))
        heapq.heappush(queue, entry(members[~low]))
    of = np.zeros(features.shape[1], dtype=np.int64)
    for number, (_, _, _, members) in enumerate(sorted(queue, key=lambda e: e[1])):
        of[members] = number
    return of


def _typical(features: Floats, of: Whole) -> Whole:
    """Return the member of each heap that is nearest to its mean."""
    import numpy as np

    size = np.bincount(of)
    means = np.stack([np.bincount(of, weights=row) / size for row in features])
    far = ((features - means[:, of]) ** 2).sum(axis=0)
    order = np.lexsort((np.arange(len(of)), far, of))
    starts = np.searchsorted(of[order], np.arange(len(size)))
    found: Whole = order[starts]
    return found
