"""Functions turned into machine code: the search tries millions of places.

The machine code is kept on the disk, so that only the first search after an installation
waits for it; where nothing can be written, every command that searches makes it anew.

Lots for the search are drawn here as well, from one seeded generator: the same seed, the same
lots. xorshift64* (Vigna 2016, ACM Transactions on Mathematical Software 42; memory).
"""

from __future__ import annotations

import os
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

_Function = TypeVar("_Function", bound=Callable[..., object])

MODULES = ("draft", "machine", "moves", "offers", "rounds", "ruin")
"""The modules that the machine code is made from."""

BARE: dict[str, Any] = {"nogil": True, "_nrt": False}
"""Nobody counts who still uses an array: the caller keeps them all, and none is made.

The counting would take more time than the search itself (measured: 2.5 times as long).
"""


def compiled(function: _Function) -> _Function:
    """Return the function, which makes no arrays, as machine code kept on the disk."""
    try:
        return cast(_Function, numba.njit(cache=True, **BARE)(function))
    except RuntimeError:  # there is no place on the disk to keep it
        return cast(_Function, numba.njit(**BARE)(function))


def inlined(function: _Function) -> _Function:
    """Return the function, which makes no arrays, as a part of whatever compiled calls it."""
    return cast(_Function, numba.njit(forceinline=True, **BARE)(function))


def _kept_in() -> Path:
    """Return a folder for the machine code of exactly these modules.

    Left to itself, numba looks at the calling module alone: it would go on using what was
    made from an older version of those that are inlined.
    """
    here = Path(__file__).parent
    sources = b"\0".join((here / f"{name}.py").read_bytes() for name in MODULES)
    folder = f"machine_code-{sha256(sources).hexdigest()[:16]}"
    if os.access(here, os.W_OK):
        return here / "__pycache__" / folder
    caches = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(caches) if caches else Path.home() / ".cache") / "wingrest" / folder


numba.config.CACHE_DIR = str(_kept_in())  # type: ignore[attr-defined]


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
