"""Putting specimens into the compiled plan and taking them out, with all that they take up."""

from __future__ import annotations

from scheduler.planner.compiled import inlined
from scheduler.planner.draft import FROM, Draft, Facts


@inlined
def has_minutes(f: Facts, d: Draft, n: int, k: int, off: int) -> bool:
    """Say whether session k has the minutes to mount it, and session `off` to take it off."""
    may_come_off = off >= len(d.left_min) or d.left_min[off] >= f.take_off_min
    return bool(may_come_off and d.left_min[k] >= f.minutes[n])


@inlined
def chamber_has_place(f: Facts, d: Draft, n: int, k: int) -> bool:
    """Say whether the chamber has a place for a specimen that is mounted at session k."""
    row = f.chamber[n]
    free = True
    if f.places >= 0 and f.stay_since[n] < 0:
        for step in range(f.since[row, k], f.until[row, k]):
            free = free and d.inside[step] < f.places
    return free


@inlined
def crowds_the_chamber(f: Facts, d: Draft, n: int) -> bool:
    """Say whether one that is in the chamber now stays in it while it is over its places."""
    since, until = f.stay_since[n], f.stay_until[n]
    if d.session[n] >= 0:
        until = f.until[f.chamber[n], d.session[n]]
    over = False
    if f.places >= 0 and f.stay_since[n] >= 0:
        for step in range(since, until):
            over = over or d.inside[step] > f.places
    return over


@inlined
def _count(f: Facts, d: Draft, n: int, sign: int) -> None:
    """Count what a planned specimen takes: minutes, groove and chamber."""
    k, off, place = d.session[n], d.off[n], f.place_of[d.board[n]]
    d.left_min[k] -= sign * f.minutes[n]
    if off < len(d.left_min):
        d.left_min[off] -= sign * f.take_off_min
    for session in range(k, off):
        d.longest_mm[session, place] = -1
    row = f.chamber[n]
    for step in range(f.since[row, k], f.until[row, k]):
        d.inside[step] += sign
    for step in range(f.stay_since[n], f.stay_until[n]):
        d.inside[step] -= sign


@inlined
def _differs(d: Draft, n: int) -> None:
    if not d.is_changed[n]:
        d.is_changed[n] = True
        d.changed[d.changed_count[0]] = n
        d.changed_count[0] += 1


@inlined
def put(f: Facts, d: Draft, n: int, k: int, board: int, from_mm: int, off: int, cost: int) -> None:
    """Plan a specimen here; the caller knows that there is room."""
    d.session[n], d.board[n], d.from_mm[n], d.off[n] = k, board, from_mm, off
    _count(f, d, n, 1)
    slots, who = d.slots[board], d.who[board]
    m = d.lying[board]
    while m > 0 and slots[m - 1, FROM] > from_mm:
        for column in range(4):
            slots[m, column] = slots[m - 1, column]
        who[m] = who[m - 1]
        m -= 1
    slots[m, 0], slots[m, 1], slots[m, 2], slots[m, 3] = from_mm, from_mm + f.slot_mm[n], k, off
    who[m] = n
    d.lying[board] += 1
    d.member_at[n] = d.members_count[k]
    d.members[d.members_start[k] + d.members_count[k]] = n
    d.members_count[k] += 1
    d.sums[0] += cost - d.cost[n]
    d.cost[n] = cost
    _differs(d, n)


@inlined
def take_out(f: Facts, d: Draft, n: int) -> None:
    """Take a planned specimen out."""
    k, board = d.session[n], d.board[n]
    _count(f, d, n, -1)
    slots, who = d.slots[board], d.who[board]
    m = 0
    while who[m] != n:
        m += 1
    d.lying[board] -= 1
    for at in range(m, d.lying[board]):
        for column in range(4):
            slots[at, column] = slots[at + 1, column]
        who[at] = who[at + 1]
    d.members_count[k] -= 1
    last = d.members[d.members_start[k] + d.members_count[k]]
    d.members[d.members_start[k] + d.member_at[n]] = last
    d.member_at[last] = d.member_at[n]
    d.session[n] = -1
    d.sums[0] += f.left_out[n] - d.cost[n]
    d.cost[n] = f.left_out[n]
    _differs(d, n)


@inlined
def keep(d: Draft) -> None:
    """Take the plan as it is now for the best so far."""
    for at in range(d.changed_count[0]):
        n = d.changed[at]
        d.is_changed[n] = False
        d.best_session[n], d.best_board[n] = d.session[n], d.board[n]
        d.best_from[n] = d.from_mm[n]
    d.changed_count[0] = 0
    d.sums[1] = d.sums[0]
