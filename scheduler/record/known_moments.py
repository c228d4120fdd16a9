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
_STATUS_AT = 40
_NOT_SET = (-1, 5)
"""What adjtimex(2) returns where it fails, or the clock was set by nobody (TIME_ERROR)."""


def clock_is_vouched_for() -> bool:
    """Return whether the system says that a time server set its clock; False: it does not say."""
    if sys.platform != "linux":
        return False
    import ctypes

    told = ctypes.create_string_buffer(512)  # nought as its modes: it is asked, and not set
    with suppress(OSError, AttributeError):
        state = ctypes.CDLL(None).adjtimex(told)
        status = int.from_bytes(told.raw[_STATUS_AT : _STATUS_AT + 4], sys.byteorder)
        return state not in _NOT_SET and not status & _UNSYNCHRONISED
    return False


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
