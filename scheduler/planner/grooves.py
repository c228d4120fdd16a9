"""What the free stretches of the boards can hold at most, slots counted in several ways.

Summed mm lie: a stretch of 60 mm holds one slot of 35 and not 1.7 of them. So slots are also
counted in other ways: only those of a length or more, or in whole steps of a length. However
slots are counted, what a stretch holds of them is found exactly, and that is what no plan can
have more of. (Such countings are known as dual feasible functions, Fekete and Schepers 2001;
memory.)
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from scheduler.planner.bench import Bench

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]

LENGTHS, PAIRED = 60, 14
"""From so many lengths slots are counted, and from so many in pairs, at most."""


@dataclass(frozen=True)
class Grooves:
    """Every length of slot, and what kinds of boards hold in every session.

    `slot` is the row of `slots_mm` by specimen; `longest_mm` the longest free stretch by kind
    of board and session. A row of `counts` says what a slot of each length counts, the first
    one in mm; `holds` is how much of that a kind holds in a session (counting, kind, session).
    """

    slots_mm: Whole
    slot: Whole
    longest_mm: Whole
    counts: Floats
    holds: Floats


def grooves(bench: Bench) -> Grooves:
    """Return what the boards can hold, beside what stands on them now."""
    import numpy as np

    each_mm = np.array([w.slot_mm for w in bench.waiting], dtype=np.int64)
    slots_mm, slot = np.unique(each_mm, return_inverse=True)
    longest = max((board.length_mm for board in bench.boards), default=0)
    stretches = np.zeros((len(bench.boards_of), len(bench.sessions), longest + 1))
    for board, kind in enumerate(bench.kind_of):
        for k in range(len(bench.sessions)):
            for mm in _free(bench, board, k):
                stretches[kind, k, mm] += 1
    counts = _countings(slots_mm)
    holds = stretches @ _held(slots_mm, counts, longest)
    longest_mm = (np.arange(longest + 1) * (stretches > 0)).max(axis=2, initial=0)
    return Grooves(slots_mm, slot, longest_mm, counts, np.moveaxis(holds, 2, 0).copy())


def _free(bench: Bench, board: int, k: int) -> Iterator[int]:
    """Yield the mm of each stretch that is free of what stands on a board now, at a session."""
    at = 0
    for s in bench.standing_on[board]:
        if s.free_on is None or bisect_left(bench.on, s.free_on.toordinal()) > k:
            if s.from_mm > at:
                yield s.from_mm - at
            at = max(at, s.to_mm)
    if at < bench.boards[board].length_mm:
        yield bench.boards[board].length_mm - at


def _countings(slots_mm: Whole) -> Floats:
    """Return ways of counting slots, by counting and length: the first is mm."""
    import numpy as np

    def some(most: int) -> list[int]:
        step = 1 + len(slots_mm) // most
        return [int(mm) for mm in slots_mm[::step]]

    found = [slots_mm]
    for mm in some(LENGTHS):
        long_enough = slots_mm >= mm
        found += [1 * long_enough, slots_mm * long_enough, slots_mm // mm, 2 * slots_mm // mm]
    for one, other in combinations(some(PAIRED), 2):
        found.append((slots_mm >= one) + 1 * (slots_mm >= other))
    return np.array(list(dict.fromkeys(tuple(row.tolist()) for row in found)), dtype=np.float64)


def _held(slots_mm: Whole, counts: Floats, longest: int) -> Floats:
    """Return the most that a stretch holds, by mm of it and way of counting."""
    import numpy as np

    held = np.zeros((longest + 1, len(counts)))
    for mm in range(1, longest + 1):
        held[mm] = held[mm - 1]
        short = int(np.searchsorted(slots_mm, mm, side="right"))
        if short:
            more = held[mm - slots_mm[:short]] + counts[:, :short].T
            held[mm] = np.maximum(held[mm], more.max(axis=0))
    return held
