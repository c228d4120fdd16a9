"""What every command that records something opens: the record, and the moment it happened."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from scheduler.cli.desk import Desk
from scheduler.record.deed import When
from scheduler.record.store import Store


@contextmanager
def recording(desk: Desk, at: str | None) -> Iterator[tuple[Store, When]]:
    """Open the record and read `--at`; without it, it happened now."""
    with desk.open() as store:
        seen = store.latest_line()  # first: what is recorded from here on was not seen
        zone = store.zone
        now = desk.now(zone)
        yield store, When(desk.at(at, now, zone), now, desk.who, seen)
