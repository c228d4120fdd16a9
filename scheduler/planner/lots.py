"""Lots for the compiled search, from one seeded generator: the same seed, the same lots.

xorshift64* (Vigna 2016, ACM Transactions on Mathematical Software 42; memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scheduler.planner.compiled import inlined

Seed = NDArray[np.uint64]
"""One number, not 0; every lot changes it."""


@inlined
def lot(seed: Seed) -> float:
    """Draw a number from 0 (included) to 1 (excluded)."""
    x = seed[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    seed[0] = x
    y = x * np.uint64(0x2545F4914F6CDD1D)
    return float(y >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@inlined
def pick(seed: Seed, most: int) -> int:
    """Draw a whole number from 0 (included) to `most` (excluded)."""
    return int(lot(seed) * most)
