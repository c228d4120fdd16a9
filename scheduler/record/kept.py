"""The kept plan: what was last proposed. It is no fact and stands outside the journal."""

from __future__ import annotations

import json
import sqlite3
from contextlib import suppress

from scheduler.record import rows
from scheduler.record.plan_text import Kept, kept_of, resting_on, text_of
from scheduler.record.recorded import Recorded
from scheduler.record.store import Store
from scheduler.words.tuples import NamedTuple

__all__ = ["Kept", "MadeOn", "basis", "keep_plan", "kept_plan", "resting_on"]


MANY_FREE_PAGES = 500
"""2 MB of unused pages; fewer are kept for what comes next."""


class MadeOn(NamedTuple):
    """What a plan is made on: the record up to a journal line, and the plan kept then."""

    line: int
    kept: Kept | None


def basis(store: Store) -> MadeOn:
    """Return what a plan would be made on now; ask before the record is read for it."""
    return MadeOn(store.latest_line(), kept_plan(store))


def keep_plan(store: Store, kept: Kept, made_on: MadeOn) -> bool:
    """Keep a plan in place of the one it was made on; an equal one stays as it was kept.

    Say whether it is kept: it is not when record or kept plan changed meanwhile.
    """
    import hashlib

    # What is proposed, without the moment of asking: asking twice is no change.
    proposed = json.dumps([repr(p) for p in kept.placements])
    digest = hashlib.sha256(proposed.encode()).hexdigest()
    text = text_of(kept)
    with store.transaction():
        if basis(store) != made_on:
            return False
        store.db.execute(
            "INSERT INTO kept_plan(one, kept_at, digest, plan) VALUES (1, ?, ?, ?)"
            " ON CONFLICT(one) DO UPDATE SET plan = excluded.plan, digest = excluded.digest,"
            " kept_at = CASE WHEN digest = excluded.digest THEN kept_at ELSE excluded.kept_at END",
            (rows.moment_text(kept.kept_at), digest, text),
        )
    _give_back(store.db)
    return True


def _give_back(db: sqlite3.Connection) -> None:
    """Give the file's unused pages back to the disk where they are many."""
    free: int = db.execute("PRAGMA freelist_count").fetchone()[0]
    pages: int = db.execute("PRAGMA page_count").fetchone()[0]
    if free >= MANY_FREE_PAGES and 4 * free >= pages:
        # Whoever writes just now will use them instead.
        with suppress(sqlite3.OperationalError):
            db.execute("VACUUM")


def kept_plan(store: Store | Recorded) -> Kept | None:
    """Return the kept plan, None when nothing was planned yet."""
    row = store.db.execute("SELECT kept_at, plan FROM kept_plan").fetchone()
    return None if row is None else kept_of(row["plan"], rows.moment_of(row["kept_at"]))
