"""Heaps of alike specimens, where there are too many to reckon with one by one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scheduler.planner.market import FAR, Market

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]


def heaped(full: Market, heaps: int) -> Market:
    """Return the market with alike specimens in heaps, each like the mean of its heap.

    A heap offers what its most typical specimen does.
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
        wanted=full.wanted[typical],
        waits_on=mean(full.waits_on),
        perishes=mean(full.perishes),
        first=np.round(mean(full.first.astype(np.float64))).astype(np.int64),
        last=np.round(mean(full.last.astype(np.float64))).astype(np.int64),
        owner=owner,
        variant=variant,
    )


def _features(full: Market, who: Whole) -> Floats:
    """Return what makes specimens alike, each scaled to about the same importance."""
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
    """Return a heap per specimen, halving the widest heap along its widest side each time."""
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
