"""Bags of dry specimens in the freezer, against pests: until when they stay shut."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from scheduler.rulebook import Rulebook
from scheduler.words.records import Afterwards
from scheduler.words.tuples import NamedTuple


class Bag(NamedTuple):
    """What went into the freezer at one moment (local), and the moment from which it may be opened.

    It stays frozen as many days as is published (limit-pest-freeze, S1 p. 49), and then in the shut
    bag until it is warm (limit-pest-warm).
    """

    specimens: tuple[str, ...]
    since: datetime
    open_at: datetime

    def shut(self, at: datetime) -> bool:
        """Say whether it must still stay shut at a moment; at `open_at` it may be opened."""
        return at < self.open_at


def bags_of(done: Iterable[Afterwards], rules: Rulebook, zone: ZoneInfo) -> tuple[Bag, ...]:
    """Return the bags, the earliest first; what went in at the same moment is one bag."""
    hours = 24 * rules.limit("pest_freeze_days") + rules.limit("pest_warm_hours")
    found: dict[datetime, list[str]] = {}
    for one in done:
        if one.step == "bagged":
            found.setdefault(one.at.astimezone(UTC), []).append(one.specimen)
    return tuple(
        Bag(
            tuple(those),
            since.astimezone(zone),
            (since + timedelta(hours=hours)).astimezone(zone),
        )
        for since, those in sorted(found.items())
    )
