"""A board's mm as the bits of one whole number: where a stretch begins, how long one is."""

from __future__ import annotations


def starts(free: int, length: int) -> int:
    """Return a bit for every mm at which `length` free mm begin, by log2(length) shifts."""
    known = 1
    while known < length:
        step = min(known, length - known)
        free &= free >> step
        known += step
    return free


def lowest(bits: int) -> int:
    """Return the place of the lowest bit; -1 where there is none."""
    return (bits & -bits).bit_length() - 1


def longest(free: int) -> int:
    """Return the length of the longest run of bits, by doubling and then halving."""
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
