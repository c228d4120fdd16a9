"""Functions turned into machine code: the search tries millions of places.

The machine code is kept on the disk, so that only the first search after an installation
waits for it; where nothing can be written, every command that searches makes it anew.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

F = TypeVar("F", bound=Callable[..., object])

BARE: dict[str, Any] = {"nogil": True, "_nrt": False}
"""Nobody counts who still uses an array: the caller keeps them all, and none is made.

The counting would take more time than the search itself (measured: 2.5 times as long).
"""


def compiled(function: F) -> F:
    """Return the function, which makes no arrays, as machine code kept on the disk."""
    try:
        return cast(F, numba.njit(cache=True, **BARE)(function))
    except RuntimeError:  # there is no place on the disk to keep it
        return cast(F, numba.njit(**BARE)(function))


def inlined(function: F) -> F:
    """Return the function, which makes no arrays, as a part of whatever compiled calls it."""
    return cast(F, numba.njit(forceinline=True, **BARE)(function))
