"""Which moments have certainly passed, and whether the system vouches for its clock.

This is asked only when a clock is in doubt: more than a day after the last line.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

_UNSYNCHRONISED = 0x40
"""STA_UNSYNC in the status that adjtimex(2) gives (linux/timex.h)."""
_NOT_SET = (-1, 5)
"""What adjtimex(2) returns where it fails, and where nothing set the clock (TIME_ERROR)."""


def clock_is_vouched_for() -> bool:
    """Return whether the system says that a time server set its clock; False if it says nothing."""
    if sys.platform != "linux":
        return False
    import ctypes

    place = status_at(ctypes.sizeof(ctypes.c_long))
    told = ctypes.create_string_buffer(512)  # modes of 0 ask for the clock's state and set nothing
    with suppress(OSError, AttributeError):
        state = ctypes.CDLL(None).adjtimex(told)
        status = int.from_bytes(told.raw[place : place + 4], sys.byteorder)
        return state not in _NOT_SET and not status & _UNSYNCHRONISED
    return False


def status_at(long_bytes: int) -> int:
    """Return at which byte adjtimex(2) puts its status: 40 for longs of 8 bytes, 20 for 4.

    Before it come `modes`, which takes the room of a long, and four longs (linux/timex.h).
    """
    return 5 * long_bytes


def known_until(said: datetime, record: Path, now: datetime) -> datetime:
    """Return the newest moment that has certainly passed; `said` is the newest in the record.

    A computer that was on all the time since `said` has counted every second: then it is `now`.
    """
    up = time.monotonic()
    if now - timedelta(seconds=up) <= said:
        return now
    return max(filter(None, (said, newest_known(record, now, up))))


def newest_known(record: Path, now: datetime, since_start: float | None = None) -> datetime | None:
    """Return when a file beside the record or at home was last written before the computer started.

    Clocks go wrong while a computer is off, so what was written since it started proves nothing.
    `since_start` is how long it has been on [s]; None asks the system.
    """
    up = time.monotonic() if since_start is None else since_start
    start = now - timedelta(seconds=up)
    before = [moment for moment in _written((record.parent, Path.home())) if moment < start]
    return max(before, default=None)


def _written(folders: Iterable[Path]) -> Iterator[datetime]:
    for folder in folders:
        with suppress(OSError):
            for path in folder.iterdir():
                with suppress(OSError, OverflowError, ValueError):
                    yield datetime.fromtimestamp(path.lstat().st_mtime, UTC)
