"""Put specimens into the draft, take them out, and find a gap for one."""

from __future__ import annotations

from scheduler.planner.search.draft import FROM, OFF, ON, TO, Draft, Facts
from scheduler.planner.search.machine import inlined, lot, pick


@inlined
def has_minutes(f: Facts, d: Draft, n: int, k: int, off: int) -> bool:
    """Say whether session `k` has the minutes to mount it, and session `off` to take it off."""
    may_come_off = off >= len(d.left_min) or d.left_min[off] >= f.take_off_min
    return bool(may_come_off and d.left_min[k] >= f.minutes[n])


@inlined
def first_off(f: Facts, d: Draft, due: int) -> int:
    """Return the first session from `due` on that can take one more off in time; -1 if none."""
    off, latest = due, f.latest[due]
    while off < len(d.left_min) and off <= latest and d.left_min[off] < f.take_off_min:
        off += 1
    return off if off <= latest else -1


@inlined
def chamber_has_place(f: Facts, d: Draft, n: int, k: int) -> bool:
    """Say whether the chamber has a place for a specimen that is mounted at session `k`."""
    row = f.chamber[n]
    free = True
    if f.places >= 0 and f.stay_since[n] < 0:
        for step in range(f.since[row, k], f.until[row, k]):
            free = free and d.inside[step] < f.places
    return free


@inlined
def crowds_the_chamber(f: Facts, d: Draft, n: int) -> bool:
    """Say whether one that is in the chamber now is in it while it holds more than its places."""
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
    """Count (`sign` 1) or uncount (-1) the minutes, groove and chamber of a planned specimen."""
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
def put(
    f: Facts, d: Draft, n: int, k: int, board: int, from_mm: int, due: int, off: int, cost: int
) -> None:
    """Plan a specimen here; the caller must know that there is room."""
    d.session[n], d.board[n], d.from_mm[n], d.due[n], d.off[n] = k, board, from_mm, due, off
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
    """Take a planned specimen out of the plan."""
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
    """Make the plan as it is now the best so far."""
    people = len(d.session)
    for at in range(d.changed_count[0]):
        n = d.changed[at]
        d.is_changed[n] = False
        if n < people:
            d.best_session[n], d.best_board[n] = d.session[n], d.board[n]
            d.best_from[n], d.best_off[n] = d.from_mm[n], d.off[n]
        else:
            d.best_stand_off[n - people] = d.stand_off[n - people]
    d.changed_count[0] = 0
    d.sums[1] = d.sums[0]


@inlined
def set_off(f: Facts, d: Draft, board: int, m: int, off: int) -> None:
    """Let what lies at place `m` of a board come off at session `off`, which has the minutes."""
    slots, n, people = d.slots[board], d.who[board][m], len(d.session)
    old = slots[m, OFF]
    slots[m, OFF] = off
    if old < len(d.left_min):
        d.left_min[old] += f.take_off_min
    if off < len(d.left_min):
        d.left_min[off] -= f.take_off_min
    for session in range(min(old, off), max(old, off)):
        d.longest_mm[session, f.place_of[board]] = -1
    if n >= 0:
        d.off[n] = off
        _differs(d, n)
    else:
        latest = f.latest[f.stand_first[-1 - n]]
        d.sums[0] += f.left_days * ((off > latest) - (old > latest))
        d.stand_off[-1 - n] = off
        _differs(d, people - 1 - n)


@inlined
def may_come_off(f: Facts, d: Draft, board: int, m: int, off: int) -> bool:
    """Say whether what lies at place `m` of a board may come off at session `off`."""
    slots, n, many = d.slots[board], d.who[board][m], len(d.left_min)
    old = slots[m, OFF]
    due = d.due[n] if n >= 0 else f.stand_first[-1 - n]
    may = due <= off and due < many and (n < 0 or off <= f.latest[due])
    may = may and (off >= many or d.left_min[off] >= f.take_off_min)
    if may and off > old:
        for other in range(d.lying[board]):
            used = old <= slots[other, ON] < off
            beside = slots[other, TO] <= slots[m, FROM] or slots[m, TO] <= slots[other, FROM]
            may = may and (not used or (beside and f.refill[board] == 0))
    return may


ENOUGH = 4
"""Where chance decides, the tightest of so many gaps is taken, each on another board."""


@inlined
def _joinable(f: Facts, d: Draft, board: int, k: int, off: int) -> tuple[int, int]:
    """Return the stretch of a board that its `refill` leaves open, as in `state.PlanState`."""
    low, high = 0, f.length_mm[board]
    slots = d.slots[board]
    for m in range(d.lying[board] if f.refill[board] else 0):
        before = slots[m, ON] < k < slots[m, OFF]
        after = k < slots[m, ON] < off
        if before:
            low = max(low, slots[m, TO])
        if after:
            high = min(high, slots[m, FROM])
        if (before or after) and f.refill[board] == 2:
            high = 0
    return low, high


@inlined
def _in_other_hands(f: Facts, d: Draft, board: int, k: int) -> bool:
    """Say whether another session that overlaps session `k` mounts on the board."""
    found = False
    if f.any_beside:
        slots = d.slots[board]
        for m in range(d.lying[board]):
            on = slots[m, ON]
            found = found or (on >= 0 and f.beside[k, on])
    return found


@inlined
def best_gap(
    f: Facts, d: Draft, board: int, k: int, off: int, slot_mm: int, right: bool
) -> tuple[int, int]:
    """Return how many mm a slot leaves free in the tightest gap of a board, and where it begins.

    The gap is free from session `k` to session `off` (excluded); the slot lies at its `right` end,
    else at its left. Returns -1, -1 where there is no gap.
    """
    end, high = _joinable(f, d, board, k, off)
    best, at = -1, -1
    slots, many = d.slots[board], d.lying[board]
    for m in range(many + 1):
        begin = high
        if m < many:
            if slots[m, ON] >= off or slots[m, OFF] <= k:
                continue
            begin = min(high, slots[m, FROM])
        spare = begin - end - slot_mm
        if spare >= 0 and (best < 0 or spare < best):
            best = spare
            at = begin - slot_mm if right else end
        if m < many:
            end = max(end, slots[m, TO])
    if best >= 0 and _in_other_hands(f, d, board, k):
        best, at = -1, -1
    return best, at


@inlined
def longest_gap(f: Facts, d: Draft, place: int, k: int) -> int:
    """Return the longest gap [mm] at session `k` of the board at this place of `kind_boards`."""
    found = int(d.longest_mm[k, place])
    if found >= 0:
        return found
    board = f.kind_boards[place]
    slots = d.slots[board]
    found, end = 0, 0
    for m in range(d.lying[board]):
        if slots[m, ON] <= k < slots[m, OFF]:
            found = max(found, slots[m, FROM] - end)
            end = max(end, slots[m, TO])
    found = max(found, f.length_mm[board] - end)
    d.longest_mm[k, place] = found
    return int(found)


@inlined
def tightest(
    f: Facts, d: Draft, kind: int, k: int, off: int, slot_mm: int, blink: float
) -> tuple[int, int]:
    """Return the board of a kind with the tightest gap, and where to begin in it; -1, -1 if none.

    With `blink` above 0, only some boards are looked at, from a random one on; that is how often
    a gap is passed over, and the slot lies at either end of its gap.
    """
    first, many = f.kind_start[kind], f.kind_start[kind + 1] - f.kind_start[kind]
    right = blink > 0.0 and lot(d.seed) < 0.5
    begin = pick(d.seed, many) if blink > 0.0 else 0
    best, board, from_mm, found = 1 << 30, -1, -1, 0
    for turn in range(many):
        place = first + (begin + turn) % many
        if 0 <= d.longest_mm[off - 1, place] < slot_mm or longest_gap(f, d, place, k) < slot_mm:
            continue
        spare, at = best_gap(f, d, f.kind_boards[place], k, off, slot_mm, right)
        if 0 <= spare < best and (board < 0 or lot(d.seed) >= blink):
            best, board, from_mm = spare, f.kind_boards[place], at
            found += 1
        if best == 0 or (blink > 0.0 and found == ENOUGH):
            break
    return board, from_mm


@inlined
def is_free(f: Facts, d: Draft, board: int, k: int, off: int, from_mm: int, to_mm: int) -> bool:
    """Say whether exactly these mm of a board are free from session `k` to `off` (excluded)."""
    low, high = _joinable(f, d, board, k, off)
    slots = d.slots[board]
    free = low <= from_mm and to_mm <= high and not _in_other_hands(f, d, board, k)
    for m in range(d.lying[board]):
        beside = slots[m, TO] <= from_mm or to_mm <= slots[m, FROM]
        free = free and (beside or slots[m, ON] >= off or slots[m, OFF] <= k)
    return free
