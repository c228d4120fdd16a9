"""The kept plan: the plan last proposed. It is no fact and stands outside the journal."""

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
"""2 MB of unused pages; fewer than these are left for later use."""


class MadeOn(NamedTuple):
    """What a plan is made from: the record up to a journal line, and the plan kept by then."""

    line: int
    kept: Kept | None


def basis(store: Store) -> MadeOn:
    """Return what a plan would be made from now; ask before the record is read for it."""
    return MadeOn(store.latest_line(), kept_plan(store))


def keep_plan(store: Store, kept: Kept, made_on: MadeOn) -> bool:
    """Keep a plan in the place of the one it was made from; say whether it was kept.

    It is not kept when the record or the kept plan has changed since `made_on`. Where the
    placements are the same as before, so is the moment since when the plan is kept.
    """
    import hashlib

    # Only what is proposed counts, and not when it was asked for: to ask twice changes nothing.
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
    """Give the file's unused pages back to the disk where there are many."""
    free: int = db.execute("PRAGMA freelist_count").fetchone()[0]
    pages: int = db.execute("PRAGMA page_count").fetchone()[0]
    if free >= MANY_FREE_PAGES and 4 * free >= pages:
        # Where another command is writing, it will use the pages instead.
        with suppress(sqlite3.OperationalError):
            db.execute("VACUUM")


def kept_plan(store: Store | Recorded) -> Kept | None:
    """Return the kept plan, None when nothing was planned yet."""
    row = store.db.execute("SELECT kept_at, plan FROM kept_plan").fetchone()
    return None if row is None else kept_of(row["plan"], rows.moment_of(row["kept_at"]))
