"""What every command that records something opens: the record, and when it happened."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from scheduler.cli.desk import Desk
from scheduler.deeds.when import When
from scheduler.record.store import Store


@contextmanager
def recording(desk: Desk, at: str | None) -> Iterator[tuple[Store, When]]:
    """Open the record and read `--at`; what needs no `--at` happened now."""
    with desk.open() as store:
        zone = store.zone
        now = desk.now(zone)
        yield store, When(desk.at(at, now, zone), now, desk.who)
