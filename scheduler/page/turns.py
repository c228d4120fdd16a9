"""Who goes first: taps take turns, and who only looks stands back while somebody's tap waits."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

STAND_BACK_S = 0.3
"""So long does a look wait at most, however many tap."""


class Turns:
    """The turns of one app's taps."""

    def __init__(self) -> None:
        """Begin with nobody waiting."""
        self._mine = threading.Lock()
        self._nobody_waits = threading.Condition()
        self._waiting = 0

    @contextmanager
    def taken(self) -> Iterator[None]:
        """Wait for a tap's turn, and have it."""
        with self._nobody_waits:
            self._waiting += 1
        try:
            with self._mine:
                yield
        finally:
            with self._nobody_waits:
                self._waiting -= 1
                if not self._waiting:
                    self._nobody_waits.notify_all()

    def stand_back(self) -> None:
        """Wait until nobody's tap waits or is being recorded, and no longer than STAND_BACK_S."""
        with self._nobody_waits:
            self._nobody_waits.wait_for(lambda: not self._waiting, STAND_BACK_S)
