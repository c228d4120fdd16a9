"""The rounds of the search, compiled: take a few out, put them back, keep what is better.

Everything here works on the arrays of `draft` and `offers`, with the moves of `moves`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.planner.search.draft import OFF, Draft, Facts
from scheduler.planner.search.machine import compiled, inlined, lot, pick
from scheduler.planner.search.moves import (
    chamber_has_place,
    crowds_the_chamber,
    first_off,
    has_minutes,
    is_free,
    keep,
    may_come_off,
    put,
    set_off,
    take_out,
    tightest,
)
from scheduler.planner.search.offers import ROW_BITS, ROWS, Offers, waited_days
from scheduler.planner.search.ruin import ruin

BLINK = 0.03
"""How often an offer is passed over (a probability)."""

HOMING = 0.7
"""How often a specimen that has a home is put there, if it can be (a probability)."""

SHIFTING, LEAVING = 0.5, 0.1
"""How often others come off at another session in a round; and how often, of these rounds, what
stayed to the end comes off before, or what came off stays to the end."""

BOARDS_LOOKED_AT, MOST_SHIFTED = 8, 4
"""How many boards are searched for what may come off at another session; how many do at most."""

MOST_OUT = 64
"""The most specimens that are taken out in a round."""


class Homes(NamedTuple):
    """Where specimens should stay (`session` -1: anywhere), and what it costs to move each."""

    session: NDArray[np.int16]
    board: NDArray[np.int32]
    from_mm: NDArray[np.int16]
    due: NDArray[np.int16]
    off: NDArray[np.int16]
    waits: NDArray[np.int64]
    moving: NDArray[np.int64]


class Out(NamedTuple):
    """Who is taken out in a round, the rank by which they are sorted, and where they were.

    `shifted`, numbered as `who` of a draft, are others that come off at another session in the
    round; they are on board `shifted_on` and came off at `shifted_from` before.
    """

    who: NDArray[np.int64]
    rank: NDArray[np.float64]
    session: NDArray[np.int64]
    board: NDArray[np.int64]
    from_mm: NDArray[np.int64]
    due: NDArray[np.int64]
    off: NDArray[np.int64]
    cost: NDArray[np.int64]
    shifted: NDArray[np.int64]
    shifted_on: NDArray[np.int64]
    shifted_from: NDArray[np.int64]


class Heat(NamedTuple):
    """How much worse a plan may be [weighted days] in the first and in the last of `rounds`."""

    warm: float
    cold: float
    rounds: int


@compiled
def begin_with(f: Facts, d: Draft, places: NDArray[np.int64]) -> None:
    """Plan the specimens in `places`, and make that the best plan.

    The columns are specimen, session, board, mm, first and chosen session of taking off, cost.
    """
    for row in range(len(places)):
        n, k, board, from_mm, due, off, cost = places[row]
        put(f, d, n, k, board, from_mm, due, off, cost)
    keep(d)


@inlined
def _elsewhere(h: Homes, n: int, k: int, board: int, from_mm: int) -> int:
    """Return what a place costs because it is not the specimen's home."""
    if h.session[n] < 0:
        return 0
    at_home = h.session[n] == k and h.board[n] == board and h.from_mm[n] == from_mm
    return 0 if at_home else h.moving[n]


@inlined
def _may_go_home(f: Facts, d: Draft, h: Homes, n: int) -> bool:
    """Say whether chance puts a specimen back in its home, and it can be there."""
    k, board, from_mm, off = h.session[n], h.board[n], h.from_mm[n], h.off[n]
    if k < 0 or lot(d.seed) >= HOMING or not has_minutes(f, d, n, k, off):
        return False
    free = is_free(f, d, board, k, off, from_mm, from_mm + f.slot_mm[n])
    return free and chamber_has_place(f, d, n, k)


@inlined
def place(
    f: Facts, o: Offers, d: Draft, h: Homes, share: int, n: int, blink: float, most: float
) -> None:
    """Put a specimen where the best of its offers has room, or by chance in its home.

    Offers that wait `most` weighted days or longer are not tried.
    """
    k, board, from_mm, due, off = h.session[n], h.board[n], h.from_mm[n], h.due[n], h.off[n]
    cost, found = h.waits[n], _may_go_home(f, d, h, n)
    first_row, slot_mm = o.menu_start[o.menu[n]], f.slot_mm[n]
    codes, left_min, minutes = o.code[share], d.left_min, f.minutes[n]
    at, end = o.start[n], o.start[n + 1]
    while not found and at < end:
        code = codes[at]
        at += 1
        k = code >> ROW_BITS
        if left_min[k] < minutes:
            continue
        row = first_row + (code & ROWS)
        due = o.off[o.days[row], k]
        off = o.cheap_off[o.days[row], k]
        if off < len(left_min) and left_min[off] < f.take_off_min:
            off = first_off(f, d, due)
        waits = waited_days(o, n, k, o.days[row])
        if waits >= most or off < 0 or not chamber_has_place(f, d, n, k):
            continue
        board, from_mm = tightest(f, d, o.kind[row], k, off, slot_mm, blink)
        if board >= 0 and (blink == 0.0 or lot(d.seed) >= blink):
            cost, found = int(waits) + _elsewhere(h, n, k, board, from_mm), True
    if found:
        put(f, d, n, k, board, from_mm, due, off, cost)


@inlined
def _sort(gone: NDArray[np.int64], count: int, rank: NDArray[np.float64]) -> None:
    """Sort the first `count` of `gone` by rank, the lowest first, then by number."""
    for a in range(1, count):
        n, r = gone[a], rank[a]
        at = a
        while at > 0 and (rank[at - 1] > r or (rank[at - 1] == r and gone[at - 1] > n)):
            gone[at], rank[at] = gone[at - 1], rank[at - 1]
            at -= 1
        gone[at], rank[at] = n, r


@inlined
def _shuffle(
    f: Facts,
    o: Offers,
    d: Draft,
    share: int,
    gone: NDArray[np.int64],
    count: int,
    rank: NDArray[np.float64],
) -> None:
    """Sort those taken out at random, by slot, by what a mm saves or by priority, as drawn."""
    way = lot(d.seed)
    for at in range(count):
        n = gone[at]
        if way < 0.35:
            rank[at] = lot(d.seed)
        elif way < 0.5:
            rank[at] = -f.slot_mm[n]
        elif way < 0.8:
            rank[at] = -(f.left_out[n] - o.best[share, n]) / f.slot_mm[n]
        else:
            rank[at] = -f.priority[n]
    _sort(gone, count, rank)


@inlined
def _all_out(f: Facts, d: Draft, out: Out, count: int) -> None:
    """Take out the first `count` of `out`, and note where they were."""
    for at in range(count):
        n = out.who[at]
        out.session[at], out.board[at] = d.session[n], d.board[n]
        out.from_mm[at], out.due[at], out.off[at] = d.from_mm[n], d.due[n], d.off[n]
        out.cost[at] = d.cost[n]
        if d.session[n] >= 0:
            take_out(f, d, n)


@inlined
def _all_back(
    f: Facts,
    o: Offers,
    d: Draft,
    h: Homes,
    share: int,
    out: Out,
    count: int,
    limit: float,
    blink: float,
) -> bool:
    """Place those taken out in turn; say whether the plan then costs less than the limit.

    Those still to be placed are counted at their least waiting; as soon as the sum reaches the
    limit, give up. A specimen that now leaves the chamber later must not take another's place.
    """
    hope = d.sums[0]
    for at in range(count):
        hope -= f.left_out[out.who[at]] - o.least[out.who[at]]
    for at in range(count):
        n = out.who[at]
        place(f, o, d, h, share, n, blink, limit - hope + o.least[n])
        hope += d.cost[n] - o.least[n]
        if hope >= limit:
            return False
    crowded = False
    for at in range(count):
        crowded = crowded or crowds_the_chamber(f, d, out.who[at])
    return not crowded


@inlined
def _shift(f: Facts, d: Draft, out: Out) -> int:
    """Let some specimens, chosen at random, come off at another session; return how many."""
    many, boards = len(d.left_min), len(d.lying)
    old, new = d.aim[0], d.aim[1]
    if lot(d.seed) < 0.5:
        old, new = new, old
    if lot(d.seed) < LEAVING:
        old, new = (old, many) if lot(d.seed) < 0.5 else (many, old)
    count = 0
    if old == new or f.take_off_min == 0 or boards == 0:
        return count
    first, wanted = pick(d.seed, boards), 1 + pick(d.seed, len(out.shifted))
    for turn in range(min(boards, BOARDS_LOOKED_AT)):
        board = (first + turn) % boards
        slots, who = d.slots[board], d.who[board]
        for m in range(d.lying[board]):
            if slots[m, OFF] == old and may_come_off(f, d, board, m, new):
                out.shifted[count], out.shifted_on[count] = who[m], board
                out.shifted_from[count] = old
                set_off(f, d, board, m, new)
                count += 1
                if count == wanted:
                    return count
    return count


@inlined
def _undo(f: Facts, d: Draft, out: Out, count: int, shifts: int) -> None:
    """Put those taken out back where they were, and let shifted ones come off as before."""
    for at in range(count):
        if d.session[out.who[at]] >= 0:
            take_out(f, d, out.who[at])
    for at in range(shifts):
        board, m = out.shifted_on[at], 0
        who = d.who[board]
        while who[m] != out.shifted[at]:
            m += 1
        set_off(f, d, board, m, out.shifted_from[at])
    for at in range(count):
        if out.session[at] >= 0:
            k, board, from_mm = out.session[at], out.board[at], out.from_mm[at]
            put(f, d, out.who[at], k, board, from_mm, out.due[at], out.off[at], out.cost[at])


@compiled
def improve(
    f: Facts,
    o: Offers,
    d: Draft,
    h: Homes,
    movable: NDArray[np.int64],
    free: NDArray[np.bool_],
    out: Out,
    given: int,
    heat: Heat,
    begin: int,
    end: int,
) -> None:
    """Do the rounds from `begin` to `end` (excluded), and keep the best plan.

    With `given` above 0, the first `given` of `out`, which must not be planned, are only placed in
    turn, at the full prices and whatever that costs.
    """
    share, count, limit, blink = len(o.code) - 1, given, math.inf, 0.0
    for turn in range(begin, end):
        if given == 0:
            blink = BLINK
            share = pick(d.seed, len(o.code))
            count = ruin(f, o, d, share, movable, free, out.who)
            degrees = heat.warm * (heat.cold / heat.warm) ** (turn / heat.rounds)
            limit = d.sums[0] - degrees * math.log(1.0 - lot(d.seed))
            _shuffle(f, o, d, share, out.who, count, out.rank)
        _all_out(f, d, out, count)
        shifts = 0
        if given == 0 and lot(d.seed) < SHIFTING:
            shifts = _shift(f, d, out)
        if not _all_back(f, o, d, h, share, out, count, limit, blink):
            _undo(f, d, out, count, shifts)
        elif given > 0 or d.sums[0] < d.sums[1]:
            keep(d)
