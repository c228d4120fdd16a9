"""The places of the relaxing chamber, as a bound asks about them: who would take which, when.

A moment is one at which something may be put in. Between two of them the chamber only empties,
so whoever keeps to its places at these moments keeps to them always.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scheduler.planner.bench import Bench

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Whole = NDArray[np.int64]
    Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Places:
    """What the chamber holds by moment, and which of its moments each specimen takes.

    `room` are the places; where more than that may be inside already, they stay as many, and
    nothing is put in beside them. It `binds` where more could come than there is room for. A
    chamber without a limit has no moments. Rows of `since` and `until` (excluded) have numbers
    of moments by session, equal where the chamber is not needed; `row` is a specimen's, and
    `stays` the number of moments that whoever is inside now stays if left out.
    """

    room: Floats
    binds: Flags
    since: Whole
    until: Whole
    row: Whole
    stays: Whole

    def rents(self, price: Floats) -> Floats:
        """Return what the places cost by row and session, at a price per moment."""
        total = self._totals(price)
        rent: Floats = total[self.until] - total[self.since]
        return rent

    def left_out(self, price: Floats) -> Floats:
        """Return what the places of those cost that are inside now and left out."""
        cost: Floats = self._totals(price)[self.stays]
        return cost

    def _totals(self, price: Floats) -> Floats:
        import numpy as np

        return np.append(0.0, np.cumsum(price))

    def of(self, who: Whole) -> Places:
        """Return the places as these specimens take them."""
        return replace(self, row=self.row[who], stays=self.stays[who])


def places(bench: Bench, mounted: Floats) -> Places:
    """Return who takes which place when; so many are mounted in each session at most."""
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
    """Return how many that are put in can be inside at most, by moment."""
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
