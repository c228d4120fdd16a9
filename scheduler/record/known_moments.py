"""Which moments are known to have been, and whether the system vouches for its clock.

Nothing here is read but when a clock is to be doubted: days after the last line.
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
"""What adjtimex(2) returns where it fails, or the clock was set by nobody (TIME_ERROR)."""


def clock_is_vouched_for() -> bool:
    """Return whether the system says that a time server set its clock; False: it does not say."""
    if sys.platform != "linux":
        return False
    import ctypes

    place = status_at(ctypes.sizeof(ctypes.c_long))
    told = ctypes.create_string_buffer(512)  # nought as its modes: it is asked, and not set
    with suppress(OSError, AttributeError):
        state = ctypes.CDLL(None).adjtimex(told)
        status = int.from_bytes(told.raw[place : place + 4], sys.byteorder)
        return state not in _NOT_SET and not status & _UNSYNCHRONISED
    return False


def status_at(long_bytes: int) -> int:
    """Return where adjtimex(2) puts its status, by the bytes of a long: 40 or, of four, 20.

    Before it stand `modes`, which fills a long, and four longs (linux/timex.h).
    """
    return 5 * long_bytes


def known_until(said: datetime, record: Path, now: datetime) -> datetime:
    """Return the newest moment that is known to have been; `said` is the record's own.

    A computer that has been on since then has counted every second of it: that is until now.
    """
    up = time.monotonic()
    if now - timedelta(seconds=up) <= said:
        return now
    return max(filter(None, (said, newest_known(record, now, up))))


def newest_known(record: Path, now: datetime, since_start: float | None = None) -> datetime | None:
    """Return when any file beside the record or of its owner was last written before this start.

    Clocks go wrong while a computer is off: what was written since it started proves nothing.
    `since_start` is in seconds, None: as the system says.
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
