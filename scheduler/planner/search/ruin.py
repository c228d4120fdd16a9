"""Choose who is taken out in a round, compiled: one that could do better, and what hinders it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from scheduler.planner.search.draft import FROM, OFF, ON, TO, Draft, Facts
from scheduler.planner.search.machine import inlined, lot, pick
from scheduler.planner.search.offers import ROW_BITS, ROWS, Offers, waited_days


@inlined
def _add(gone: NDArray[np.int64], count: int, n: int, free: NDArray[np.bool_]) -> int:
    """Add one to those taken out, if it may move and is new there; return how many there are."""
    if not free[n] or count == len(gone):
        return count
    for at in range(count):
        if gone[at] == n:
            return count
    gone[count] = n
    return count + 1


@inlined
def _some(
    d: Draft,
    k: int,
    least: int,
    most: int,
    gone: NDArray[np.int64],
    count: int,
    free: NDArray[np.bool_],
) -> int:
    """Add a few that are mounted at session `k`; return how many there are."""
    members = d.members_count[k]
    for _ in range(min(members, least + pick(d.seed, most - least + 1))):
        n = d.members[d.members_start[k] + pick(d.seed, members)]
        count = _add(gone, count, n, free)
    return count


@inlined
def _on_boards(
    f: Facts,
    d: Draft,
    first: int,
    k: int,
    off: int,
    kind: int,
    gone: NDArray[np.int64],
    count: int,
    free: NDArray[np.bool_],
) -> int:
    """Add what lies in the way on one or two boards, and perhaps a few of the session.

    Returns how many there are.
    """
    slot_mm = f.slot_mm[first]
    boards = f.kind_start[kind + 1] - f.kind_start[kind]
    width = slot_mm + pick(d.seed, 2 * slot_mm + 1)
    for _ in range(1 if lot(d.seed) < 0.6 else 2):
        board = f.kind_boards[f.kind_start[kind] + pick(d.seed, boards)]
        at = pick(d.seed, f.length_mm[board] + slot_mm) - slot_mm
        slots, who = d.slots[board], d.who[board]
        for m in range(d.lying[board]):
            meets = slots[m, ON] < off and k < slots[m, OFF]
            near = slots[m, FROM] < at + width and at < slots[m, TO]
            if meets and near and who[m] >= 0:
                count = _add(gone, count, who[m], free)
    if lot(d.seed) < 0.7:
        count = _some(d, k, 1, 2, gone, count, free)
    return count


@inlined
def ruin(
    f: Facts,
    o: Offers,
    d: Draft,
    share: int,
    movable: NDArray[np.int64],
    free: NDArray[np.bool_],
    gone: NDArray[np.int64],
) -> int:
    """Put into `gone` one that could do better, what hinders it, and a few; return how many."""
    first, most = -1, -math.inf
    for _ in range(3):
        n = movable[pick(d.seed, len(movable))]
        regret = d.cost[n] - o.best[share, n]
        if first < 0 or regret > most or (regret == most and n < first):
            first, most = n, regret
    count = _add(gone, 0, first, free)
    offers = o.start[first + 1] - o.start[first]
    if offers == 0:
        return count
    at = int(-math.log(1.0 - lot(d.seed)) * 4.0)
    at = o.start[first] + min(pick(d.seed, at + 1), offers - 1)
    code = o.code[share][at]
    k, row = code >> ROW_BITS, o.menu_start[o.menu[first]] + (code & ROWS)
    off, kind = o.off[o.days[row], k], o.kind[row]
    d.aim[0], d.aim[1] = k, min(len(d.members_count) - 1, max(0, k + pick(d.seed, 7) - 3))
    if lot(d.seed) < 0.5:
        count = _on_boards(f, d, first, k, off, kind, gone, count, free)
    else:
        count = _some(d, k, 1, 4, gone, count, free)
        count = _some(d, d.aim[1], 0, 3, gone, count, free)
    for _ in range(6):
        n = movable[pick(d.seed, len(movable))]
        if o.start[n + 1] > o.start[n]:
            code = o.code[share][o.start[n]]
            of = o.days[o.menu_start[o.menu[n]] + (code & ROWS)]
            best = waited_days(o, n, code >> ROW_BITS, of)
            if d.cost[n] > best + (3 if d.session[n] >= 0 else 0):
                count = _add(gone, count, n, free)
    return count
