"""Which specimens were tested lately: those from whose tests something is learned."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from scheduler.record import rows
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Placement

BACK = 2_000
"""So many tests are looked back at, so that a question costs no more with every year."""


def tested_lately(facts: Snapshot, most: int) -> tuple[Placement, ...]:
    """Return the last `most` placements tested, or drooped, on the boards of every room, by id."""
    found: dict[int, Placement] = {}
    by_room: Counter[str] = Counter()
    for one in _latest(facts):
        room = facts.room_of(one.board)
        if room is not None and one.id not in found and by_room[room.room] < most:
            by_room[room.room] += 1
            found[one.id] = one
    return tuple(found[number] for number in sorted(found))


def _latest(facts: Snapshot) -> Iterator[Placement]:
    """Yield placements with a test or a droop, the last that was written down first."""
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
