"""Which specimens were tested lately, so that something is learned from their tests."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import datetime

from scheduler.record import rows
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Placement

BACK = 2_000
"""How many tests and droops are looked at, so that a question does not get slower every year."""


def tested_lately(facts: Snapshot, most: int) -> tuple[Placement, ...]:
    """Return at most `most` placements of each room that drooped or were tested, by id.

    The latest droops come first, then the latest tests, as they were written down. A placement
    counts for the room in which its board stands now.
    """
    found: dict[int, Placement] = {}
    by_room: Counter[str] = Counter()
    for one in _latest(facts):
        room = facts.room_of(one.board)
        if room is not None and one.id not in found and by_room[room.room] < most:
            by_room[room.room] += 1
            found[one.id] = one
    return tuple(found[number] for number in sorted(found))


def standing_tested_since(facts: Snapshot, moment: datetime) -> tuple[Placement, ...]:
    """Return what stands and was tested at a moment or later, by id; of old tests none is read."""
    if not isinstance(facts, Recorded):
        late = {t.placement for t in facts.tests if t.tested_at >= moment}
        return tuple(p for p in facts.placements if p.id in late and p.released_at is None)
    sql = (
        f"SELECT p.* FROM placement p WHERE p.released_at IS NULL AND p.id IN (SELECT placement"
        f" FROM (SELECT * FROM dryness_test ORDER BY id DESC LIMIT {BACK}) WHERE tested_at >= ?)"
        " ORDER BY p.id"
    )
    return tuple(map(rows.placement_from, facts.db.execute(sql, (rows.moment_text(moment),))))


def _latest(facts: Snapshot) -> Iterator[Placement]:
    """Yield placements with a droop, then those with a test, each the last written down first."""
    if not isinstance(facts, Recorded):
        by_id = {p.id: p for p in facts.placements}
        numbers = [d.placement for d in reversed(facts.droops)]
        numbers += [t.placement for t in reversed(facts.tests)]
        yield from (by_id[n] for n in numbers if n in by_id)
        return
    for table in ("droop", "dryness_test"):
        sql = (
            f"SELECT p.* FROM (SELECT id, placement FROM {table} ORDER BY id DESC LIMIT {BACK}) t"
            " JOIN placement p ON p.id = t.placement ORDER BY t.id DESC"
        )
        yield from map(rows.placement_from, facts.db.execute(sql))
