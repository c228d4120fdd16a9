"""The rounds of the search, compiled: take a few out, put them back, keep what is better.

Everything here works on the arrays of `draft` and `offers`; lots are drawn from one seeded
generator (xorshift64*: Vigna 2016, ACM Transactions on Mathematical Software 42; memory).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from scheduler.planner.compiled import compiled
from scheduler.planner.draft import Draft, Facts
from scheduler.planner.offers import Offers

SPOILS = 100_000
"""Weighted days that one priority let spoil counts for while searching."""

BLINK = 0.03
"""How often an offer is passed over."""

HOMING = 0.7
"""How often one that has a home is put there if it can be."""

MOST_OUT = 64
"""So many are taken out in a round at most."""


class Homes(NamedTuple):
    """Where specimens would rather be (`session` -1: nowhere), and what being elsewhere costs."""

    session: NDArray[np.int16]
    board: NDArray[np.int32]
    from_mm: NDArray[np.int16]
    off: NDArray[np.int16]
    waits: NDArray[np.int64]
    moving: int


class Heat(NamedTuple):
    """How much worse a plan may be (weighted days) in the first and in the last of `rounds`."""

    warm: float
    cold: float
    rounds: int


@compiled
def lot(d: Draft) -> float:
    """Draw a number from 0 (included) to 1 (excluded)."""
    x = d.seed[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    d.seed[0] = x
    y = x * np.uint64(0x2545F4914F6CDD1D)
    return float(y >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@compiled
def pick(d: Draft, most: int) -> int:
    """Draw a whole number from 0 (included) to `most` (excluded)."""
    return int(lot(d) * most)


@compiled
def best_gap(
    f: Facts, d: Draft, board: int, k: int, off: int, slot_mm: int, right: bool
) -> tuple[int, int]:
    """Return the mm left free beside it in the tightest gap of a board, and where it begins.

    Free from session k to session `off` (excluded); -1, -1 where there is none.
    """
    length, refill = f.length_mm[board], f.refill[board]
    low, high = 0, length
    if refill:
        for m in range(d.lying[board]):
            if d.lying_on[board, m] < k < d.lying_off[board, m]:
                low = max(low, d.lying_to[board, m])
            elif k < d.lying_on[board, m] < off:
                high = min(high, d.lying_from[board, m])
            else:
                continue
            if refill == 2:
                return -1, -1
    best, at, end = -1, -1, low
    for m in range(d.lying[board] + 1):
        last = m == d.lying[board]
        if not last and (d.lying_on[board, m] >= off or d.lying_off[board, m] <= k):
            continue
        begin = high if last else min(high, d.lying_from[board, m])
        spare = begin - end - slot_mm
        if spare >= 0 and (best < 0 or spare < best):
            best = spare
            at = begin - slot_mm if right else end
            if spare == 0:
                break
        if not last:
            end = max(end, d.lying_to[board, m])
    return best, at


@compiled
def chamber_has_place(f: Facts, d: Draft, n: int, k: int) -> bool:
    """Say whether the chamber has a place for a specimen that is mounted at session k."""
    if f.places < 0 or f.stay_since[n] >= 0:
        return True
    row = f.chamber[n]
    for step in range(f.since[row, k], f.until[row, k]):
        if d.inside[step] >= f.places:
            return False
    return True


@compiled
def _count(f: Facts, d: Draft, n: int, sign: int) -> None:
    """Count what a planned specimen takes: minutes, groove and chamber."""
    k, off, board, slot_mm = d.session[n], d.off[n], d.board[n], f.slot_mm[n]
    d.left_min[k] -= sign * f.minutes[n]
    if off < len(d.left_min):
        d.left_min[off] -= sign * f.take_off_min
    for session in range(k, off):
        d.used_mm[board, session] += sign * slot_mm
    row = f.chamber[n]
    if f.since[row, k] >= 0:
        for step in range(f.since[row, k], f.until[row, k]):
            d.inside[step] += sign
    if f.stay_since[n] >= 0:
        for step in range(f.stay_since[n], f.stay_until[n]):
            d.inside[step] -= sign


@compiled
def _differs(d: Draft, n: int) -> None:
    if not d.is_changed[n]:
        d.is_changed[n] = True
        d.changed[d.changed_count[0]] = n
        d.changed_count[0] += 1


@compiled
def put(f: Facts, d: Draft, n: int, k: int, board: int, from_mm: int, off: int, cost: int) -> None:
    """Plan a specimen here; the caller knows that there is room."""
    d.session[n], d.board[n], d.from_mm[n], d.off[n] = k, board, from_mm, off
    _count(f, d, n, 1)
    m = d.lying[board]
    while m > 0 and d.lying_from[board, m - 1] > from_mm:
        d.lying_from[board, m] = d.lying_from[board, m - 1]
        d.lying_to[board, m] = d.lying_to[board, m - 1]
        d.lying_on[board, m] = d.lying_on[board, m - 1]
        d.lying_off[board, m] = d.lying_off[board, m - 1]
        d.lying_who[board, m] = d.lying_who[board, m - 1]
        m -= 1
    d.lying_from[board, m], d.lying_to[board, m] = from_mm, from_mm + f.slot_mm[n]
    d.lying_on[board, m], d.lying_off[board, m], d.lying_who[board, m] = k, off, n
    d.lying[board] += 1
    d.member_at[n] = d.members_count[k]
    d.members[d.members_start[k] + d.members_count[k]] = n
    d.members_count[k] += 1
    d.sums[0] += cost - d.cost[n]
    d.cost[n] = cost
    _differs(d, n)


@compiled
def take_out(f: Facts, d: Draft, n: int) -> None:
    """Take a planned specimen out."""
    k, board = d.session[n], d.board[n]
    _count(f, d, n, -1)
    m = 0
    while d.lying_who[board, m] != n:
        m += 1
    d.lying[board] -= 1
    for at in range(m, d.lying[board]):
        d.lying_from[board, at] = d.lying_from[board, at + 1]
        d.lying_to[board, at] = d.lying_to[board, at + 1]
        d.lying_on[board, at] = d.lying_on[board, at + 1]
        d.lying_off[board, at] = d.lying_off[board, at + 1]
        d.lying_who[board, at] = d.lying_who[board, at + 1]
    d.members_count[k] -= 1
    last = d.members[d.members_start[k] + d.members_count[k]]
    d.members[d.members_start[k] + d.member_at[n]] = last
    d.member_at[last] = d.member_at[n]
    d.session[n] = -1
    d.sums[0] += f.left_out[n] - d.cost[n]
    d.cost[n] = f.left_out[n]
    _differs(d, n)


@compiled
def keep(d: Draft) -> None:
    """Take the plan as it is now for the best so far."""
    for at in range(d.changed_count[0]):
        n = d.changed[at]
        d.is_changed[n] = False
        d.best_session[n], d.best_board[n] = d.session[n], d.board[n]
        d.best_from[n] = d.from_mm[n]
    d.changed_count[0] = 0
    d.sums[1] = d.sums[0]


@compiled
def _elsewhere(h: Homes, n: int, k: int, board: int, from_mm: int) -> int:
    """Return what a place costs for not being the specimen's home."""
    if h.session[n] < 0:
        return 0
    at_home = h.session[n] == k and h.board[n] == board and h.from_mm[n] == from_mm
    return 0 if at_home else h.moving


@compiled
def _go_home(f: Facts, d: Draft, h: Homes, n: int) -> bool:
    """Put a specimen back to where it was, if it can be."""
    k, board, off = h.session[n], h.board[n], h.off[n]
    if d.left_min[k] < f.minutes[n]:
        return False
    if off < len(d.left_min) and d.left_min[off] < f.take_off_min:
        return False
    from_mm, to_mm = h.from_mm[n], h.from_mm[n] + f.slot_mm[n]
    for m in range(d.lying[board]):
        if d.lying_from[board, m] < to_mm and from_mm < d.lying_to[board, m]:
            if d.lying_on[board, m] < off and k < d.lying_off[board, m]:
                return False
        if f.refill[board]:
            on, gone = d.lying_on[board, m], d.lying_off[board, m]
            before, after = on < k < gone, k < on < off
            if f.refill[board] == 2 and (before or after):
                return False
            if before and from_mm < d.lying_to[board, m]:
                return False
            if after and d.lying_from[board, m] < to_mm:
                return False
    if not chamber_has_place(f, d, n, k):
        return False
    put(f, d, n, k, board, from_mm, off, h.waits[n])
    return True


@compiled
def place(f: Facts, o: Offers, d: Draft, h: Homes, share: int, n: int, blink: float) -> bool:
    """Put a specimen where the best of its offers has room, or home again by lot."""
    if h.session[n] >= 0 and lot(d) < HOMING and _go_home(f, d, h, n):
        return True
    slot_mm, minutes = f.slot_mm[n], f.minutes[n]
    for at in range(o.start[n], o.start[n + 1]):
        k, off = o.session[share, at], o.off[share, at]
        if d.left_min[k] < minutes:
            continue
        if off < len(d.left_min) and d.left_min[off] < f.take_off_min:
            continue
        kind = o.kind[share, at]
        right = blink > 0.0 and lot(d) < 0.5
        best, board, from_mm = -1, -1, -1
        for one in range(f.kind_start[kind], f.kind_start[kind + 1]):
            there = f.kind_boards[one]
            room = f.length_mm[there] - slot_mm
            if d.used_mm[there, k] > room or d.used_mm[there, off - 1] > room:
                continue
            spare, begin = best_gap(f, d, there, k, off, slot_mm, right)
            if spare >= 0 and (best < 0 or spare < best):
                if best >= 0 and blink > 0.0 and lot(d) < blink:
                    continue
                best, board, from_mm = spare, there, begin
                if spare == 0:
                    break
        if best < 0 or (blink > 0.0 and lot(d) < blink):
            continue
        if not chamber_has_place(f, d, n, k):
            continue
        cost = o.waits[share, at] + _elsewhere(h, n, k, board, from_mm)
        put(f, d, n, k, board, from_mm, off, cost)
        return True
    return False


@compiled
def place_all(
    f: Facts, o: Offers, d: Draft, h: Homes, share: int, order: NDArray[np.int64]
) -> None:
    """Place each in turn that is not planned."""
    for n in order:
        if d.session[n] < 0:
            place(f, o, d, h, share, n, 0.0)


@compiled
def _sort(gone: NDArray[np.int64], count: int, rank: NDArray[np.float64]) -> None:
    """Sort the first `count` by rank, the lowest first, then by number."""
    for a in range(1, count):
        n, r = gone[a], rank[a]
        at = a
        while at > 0 and (rank[at - 1] > r or (rank[at - 1] == r and gone[at - 1] > n)):
            gone[at], rank[at] = gone[at - 1], rank[at - 1]
            at -= 1
        gone[at], rank[at] = n, r


@compiled
def _shuffle(
    f: Facts, o: Offers, d: Draft, share: int, gone: NDArray[np.int64], count: int
) -> None:
    """Order those taken out by lot: by chance, by slot, by what a mm saves, by priority."""
    rank = np.empty(count)
    way = lot(d)
    for at in range(count):
        n = gone[at]
        if way < 0.35:
            rank[at] = lot(d)
        elif way < 0.5:
            rank[at] = -f.slot_mm[n]
        elif way < 0.8:
            rank[at] = -(f.left_out[n] - o.best[share, n]) / f.slot_mm[n]
        else:
            rank[at] = -f.priority[n]
    _sort(gone, count, rank)


@compiled
def _add(gone: NDArray[np.int64], count: int, n: int, free: NDArray[np.bool_]) -> int:
    """Add one to those taken out, once, if it may move; return how many there are."""
    if not free[n] or count == len(gone):
        return count
    for at in range(count):
        if gone[at] == n:
            return count
    gone[count] = n
    return count + 1


@compiled
def _some(
    d: Draft,
    k: int,
    least: int,
    most: int,
    gone: NDArray[np.int64],
    count: int,
    free: NDArray[np.bool_],
) -> int:
    """Add a few who are mounted at session k."""
    members = d.members_count[k]
    for _ in range(min(members, least + pick(d, most - least + 1))):
        n = d.members[d.members_start[k] + pick(d, members)]
        count = _add(gone, count, n, free)
    return count


@compiled
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
    """Add what lies on one or two boards in the way, and one or two of the session."""
    slot_mm = f.slot_mm[first]
    boards = f.kind_start[kind + 1] - f.kind_start[kind]
    width = slot_mm + pick(d, 2 * slot_mm + 1)
    for _ in range(1 if lot(d) < 0.6 else 2):
        board = f.kind_boards[f.kind_start[kind] + pick(d, boards)]
        at = pick(d, f.length_mm[board] + slot_mm) - slot_mm
        for m in range(d.lying[board]):
            if (
                d.lying_who[board, m] >= 0
                and d.lying_on[board, m] < off
                and k < d.lying_off[board, m]
                and d.lying_from[board, m] < at + width
                and at < d.lying_to[board, m]
            ):
                count = _add(gone, count, d.lying_who[board, m], free)
    if lot(d) < 0.7:
        count = _some(d, k, 1, 2, gone, count, free)
    return count


@compiled
def _ruin(
    f: Facts,
    o: Offers,
    d: Draft,
    share: int,
    movable: NDArray[np.int64],
    free: NDArray[np.bool_],
    gone: NDArray[np.int64],
) -> int:
    """Choose who is taken out: one that could be better off, and what is in its way."""
    first, most = -1, -math.inf
    for _ in range(3):
        n = movable[pick(d, len(movable))]
        regret = d.cost[n] - o.best[share, n]
        if first < 0 or regret > most or (regret == most and n < first):
            first, most = n, regret
    count = _add(gone, 0, first, free)
    offers = o.start[first + 1] - o.start[first]
    if offers == 0:
        return count
    at = int(-math.log(1.0 - lot(d)) * 4.0)
    at = o.start[first] + min(pick(d, at + 1), offers - 1)
    k, off, kind = o.session[share, at], o.off[share, at], o.kind[share, at]
    if lot(d) < 0.5:
        count = _on_boards(f, d, first, k, off, kind, gone, count, free)
    else:
        near = min(len(d.members_count) - 1, max(0, k + pick(d, 7) - 3))
        count = _some(d, k, 1, 4, gone, count, free)
        count = _some(d, near, 0, 3, gone, count, free)
    for _ in range(6):
        n = movable[pick(d, len(movable))]
        if o.start[n + 1] > o.start[n]:
            best = o.waits[share, o.start[n]]
            if d.cost[n] > best + (3 if d.session[n] >= 0 else 0):
                count = _add(gone, count, n, free)
    return count


@compiled
def improve(
    f: Facts,
    o: Offers,
    d: Draft,
    h: Homes,
    movable: NDArray[np.int64],
    free: NDArray[np.bool_],
    heat: Heat,
    begin: int,
    end: int,
) -> None:
    """Do the rounds `begin` to `end` (excluded)."""
    gone = np.empty(MOST_OUT, dtype=np.int64)
    old_session = np.empty(MOST_OUT, dtype=np.int64)
    old_board = np.empty(MOST_OUT, dtype=np.int64)
    old_from = np.empty(MOST_OUT, dtype=np.int64)
    old_off = np.empty(MOST_OUT, dtype=np.int64)
    old_cost = np.empty(MOST_OUT, dtype=np.int64)
    shares = o.session.shape[0]
    for turn in range(begin, end):
        degrees = heat.warm * (heat.cold / heat.warm) ** (turn / heat.rounds)
        share = pick(d, shares)
        count = _ruin(f, o, d, share, movable, free, gone)
        before = d.sums[0]
        limit = before - degrees * math.log(1.0 - lot(d))
        _shuffle(f, o, d, share, gone, count)
        for at in range(count):
            n = gone[at]
            old_session[at], old_board[at] = d.session[n], d.board[n]
            old_from[at], old_off[at], old_cost[at] = d.from_mm[n], d.off[n], d.cost[n]
            if d.session[n] >= 0:
                take_out(f, d, n)
        # What is still to be placed adds its least waiting at best: beyond the limit, give up.
        hope = d.sums[0]
        for at in range(count):
            hope -= f.left_out[gone[at]] - o.least[gone[at]]
        for at in range(count):
            n = gone[at]
            place(f, o, d, h, share, n, BLINK)
            hope += d.cost[n] - o.least[n]
            if hope >= limit:
                break
        if hope >= limit:
            for at in range(count):
                if d.session[gone[at]] >= 0:
                    take_out(f, d, gone[at])
            for at in range(count):
                if old_session[at] >= 0:
                    n = gone[at]
                    put(
                        f,
                        d,
                        n,
                        old_session[at],
                        old_board[at],
                        old_from[at],
                        old_off[at],
                        old_cost[at],
                    )
        elif d.sums[0] < d.sums[1]:
            keep(d)
