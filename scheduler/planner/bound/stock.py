"""What a bound asks about the relaxing chamber and about the free stretches of the boards.

The chamber: its moments are those at which something may be put in. Between two of them it only
empties, so a plan that has enough places at these moments has enough at all times.

The stretches: sums of mm mislead, since a stretch of 60 mm holds one slot of 35 mm and not 1.7. So
slots are also counted in other ways: only those of some length or more, or in whole steps of some
length. For each way of counting, the most that a stretch can hold is worked out exactly, and no
plan can have more. (Such ways are known as dual feasible functions, Fekete and Schepers 2001;
memory.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

from scheduler.planner.bench import PlanBench

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]
    Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Places:
    """What the chamber holds by moment, and at which of its moments each specimen is inside.

    `room` is the number of places; where more than that are inside already, it is their number, so
    that nothing can be put in beside them. The room `binds` at a moment where more could be inside
    than there is room for. A chamber without a limit has no moments. By row and session, `since`
    (included) and `until` (excluded) are numbers of moments, equal where the chamber is not needed;
    `row` is each specimen's row. `stays` is for how many moments a specimen that is inside now
    stays if it is left out.
    """

    room: Floats
    binds: Flags
    since: Whole
    until: Whole
    row: Whole
    stays: Whole

    def rents(self, price: Floats) -> Floats:
        """Return what the places cost by row and session, at a price for each moment."""
        total = self._totals(price)
        rent: Floats = total[self.until] - total[self.since]
        return rent

    def left_out(self, price: Floats) -> Floats:
        """Return what the places cost of each specimen that is inside now, if it is left out."""
        cost: Floats = self._totals(price)[self.stays]
        return cost

    def _totals(self, price: Floats) -> Floats:
        import numpy as np

        return np.append(0.0, np.cumsum(price))

    def of(self, who: Whole) -> Places:
        """Return the places for these specimens alone."""
        return replace(self, row=self.row[who], stays=self.stays[who])


def places(bench: PlanBench, mounted: Floats) -> Places:
    """Return who needs a place when; `mounted` is how many a session can mount at most."""
    import numpy as np

    sessions = len(bench.sessions)
    rows: dict[int, int] = {}
    row = np.array([rows.setdefault(id(r), len(rows)) for r in bench.in_chamber], dtype=np.int64)
    known = {id(r): r for r in bench.in_chamber}
    moments = np.zeros(0)
    if bench.problem.chamber_places is not None:
        now = bench.problem.now.timestamp()
        begins = {spell[0] for r in known.values() for spell in r if spell is not None}
        moments = np.array(sorted({now} | {moment for moment in begins if moment > now}))
    spells = [spell or (0.0, 0.0) for key in rows for spell in known[key]]
    steps = np.searchsorted(moments, np.array(spells).reshape(-1, 2))
    since, until = steps.reshape(len(rows), sessions, 2).transpose(2, 0, 1)
    stays = np.searchsorted(moments, [0.0 if s is None else s[1] for s in bench.stay])
    kept = stays > 0
    longest = np.maximum(stays, until.max(axis=1, initial=0)[row])[kept]
    inside = _counts(np.zeros_like(longest), longest, np.ones(len(longest)), len(moments))
    room = np.maximum(float(bench.problem.chamber_places or 0), inside)
    put_in = np.bincount(row[~kept], minlength=len(rows))
    most = inside + _most_put_in(since, until, put_in, mounted, len(moments))
    return Places(room, most > room, since, until, row, stays.astype(np.int64))


def _most_put_in(
    since: Whole, until: Whole, people: Whole, mounted: Floats, moments: int
) -> Floats:
    """Return how many of those put in can be inside at most, by moment."""
    import numpy as np

    most = np.zeros(moments)
    for k, most_mounted in enumerate(mounted):
        most += np.minimum(_counts(since[:, k], until[:, k], people, moments), most_mounted)
    return most


def _counts(since: Whole, until: Whole, people: Floats | Whole, moments: int) -> Floats:
    """Return how many are inside by moment."""
    import numpy as np

    size = moments + 1
    change = np.bincount(since, weights=people, minlength=size).astype(np.float64)
    change -= np.bincount(until, weights=people, minlength=size)
    counts: Floats = np.cumsum(change)[:moments]
    return counts


LENGTHS, PAIRED = 60, 14
"""From how many lengths, at most, ways of counting are made; and from how many, pairs."""


@dataclass(frozen=True)
class Grooves:
    """Every length of slot, and what each kind of board holds in each session.

    `slots_mm` are the lengths and `slot` each specimen's place among them; `longest_mm` is the
    longest free stretch by kind of board and session. A row of `counts` is a way of counting: what
    a slot of each length counts; the first way is mm. `holds` is the most that a kind of board
    holds in a session, by way of counting, kind and session.
    """

    slots_mm: Whole
    slot: Whole
    longest_mm: Whole
    counts: Floats
    holds: Floats


def groove_counts(bench: PlanBench) -> Grooves:
    """Return what the boards can hold beside what stands on them now."""
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


def _free(bench: PlanBench, board: int, k: int) -> Iterator[int]:
    """Yield the mm of each stretch that is free of what stands on a board now, at a session."""
    at = 0
    for s in bench.standing_on[board]:
        if s.free_on is None or s.free_on.toordinal() > bench.on[k]:
            if s.from_mm > at:
                yield s.from_mm - at
            at = max(at, s.to_mm)
    if at < bench.boards[board].length_mm:
        yield bench.boards[board].length_mm - at


def _countings(slots_mm: Whole) -> Floats:
    """Return what a slot counts, by way of counting and length; the first way is mm."""
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
    """Return the most that a stretch can hold, by its length [mm] and way of counting."""
    import numpy as np

    held = np.zeros((longest + 1, len(counts)))
    for mm in range(1, longest + 1):
        held[mm] = held[mm - 1]
        short = int(np.searchsorted(slots_mm, mm, side="right"))
        if short:
            more = held[mm - slots_mm[:short]] + counts[:, :short].T
            held[mm] = np.maximum(held[mm], more.max(axis=0))
    return held
