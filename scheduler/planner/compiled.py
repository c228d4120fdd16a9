"""Functions turned into machine code: the search tries millions of places.

The machine code is kept on the disk, so that only the first plan after an installation waits
for it; where nothing can be written it is made anew by every command that searches.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numba  # type: ignore[import-untyped]

F = TypeVar("F", bound=Callable[..., object])


def compiled(function: F) -> F:
    """Return the function as machine code, made when it is first called."""
    try:
        fast: F = numba.njit(cache=True, nogil=True)(function)
    except RuntimeError:  # there is no place on the disk to keep it
        fast = numba.njit(nogil=True)(function)
    return fast
