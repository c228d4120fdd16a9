"""The mm of a board as bits of a whole number: where stretches begin, and how long they are."""

from __future__ import annotations


def starts(free: int, length: int) -> int:
    """Return a bit for every mm at which `length` free mm begin, in about log2(length) steps."""
    known = 1
    while known < length:
        step = min(known, length - known)
        free &= free >> step
        known += step
    return free


def lowest(bits: int) -> int:
    """Return the place of the lowest bit that is set, -1 where none is."""
    return (bits & -bits).bit_length() - 1


def longest(free: int) -> int:
    """Return the length of the longest run of set bits, by doubling and then halving steps."""
    if not free:
        return 0
    known, runs = 1, [free]
    while longer := runs[-1] & (runs[-1] >> known):
        runs.append(longer)
        known *= 2
    ends, step = runs.pop(), known
    while runs:
        step //= 2
        if longer := ends & (runs.pop() >> known):
            ends = longer
            known += step
    return known
