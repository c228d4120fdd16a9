"""Gaps on the boards, compiled: where a slot fits beside what lies there, and how tightly."""

from __future__ import annotations

from scheduler.planner.compiled import inlined
from scheduler.planner.draft import FROM, OFF, ON, TO, Draft, Facts
from scheduler.planner.lots import lot, pick

ENOUGH = 4
"""With lots, the tightest of so many gaps is taken, each on another board."""


@inlined
def _joinable(f: Facts, d: Draft, board: int, k: int, off: int) -> tuple[int, int]:
    """Return the stretch of a board that its `refill` leaves open, as `occupancy` has it."""
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
def best_gap(
    f: Facts, d: Draft, board: int, k: int, off: int, slot_mm: int, right: bool
) -> tuple[int, int]:
    """Return the mm left free beside it in the tightest gap of a board, and where it lies.

    Free from session k to session `off` (excluded), at the right end of the gap or the left;
    -1, -1 where there is none.
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
    return best, at


@inlined
def longest_gap(f: Facts, d: Draft, place: int, k: int) -> int:
    """Return the longest gap (mm) at session k of the board at a place in the order of kinds."""
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
    """Return the board of a kind with the tightest gap, and where to lie in it; -1, -1 if none.

    With `blink`, only some boards are looked at, from one drawn by lot, one is passed over now
    and then, and the gap is filled from either end.
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
    """Say whether exactly these mm of a board are free from session k to `off` (excluded)."""
    low, high = _joinable(f, d, board, k, off)
    slots = d.slots[board]
    free = low <= from_mm and to_mm <= high
    for m in range(d.lying[board]):
        beside = slots[m, TO] <= from_mm or to_mm <= slots[m, FROM]
        free = free and (beside or slots[m, ON] >= off or slots[m, OFF] <= k)
    return free
