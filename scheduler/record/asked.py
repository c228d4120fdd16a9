"""When a phone last fetched a calendar, or one was last published; outside the journal."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path

from scheduler.record import rows
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import Snapshot


def note_asked(path: Path, variant: str, at: datetime) -> bool:
    """Note that a calendar was fetched or published; say whether it could be noted.

    It never waits: while another command writes, it is left to the next time.
    """
    when = rows.moment_text(at)
    uri = f"{path.resolve().as_uri()}?mode=rw"  # never makes a record
    try:
        with closing(sqlite3.connect(uri, uri=True, timeout=0)) as db, db:
            db.execute(
                "INSERT INTO served(variant, etag, changed, asked) VALUES (?, '', ?, ?)"
                " ON CONFLICT(variant) DO UPDATE SET asked = excluded.asked",
                (variant, when, when),
            )
    except sqlite3.OperationalError:
        return False
    return True


def last_asked(facts: Snapshot) -> datetime | None:
    """Return when any calendar was last fetched or published, None when none ever was."""
    if not isinstance(facts, Recorded):
        return None
    found = facts.db.execute("SELECT max(asked) FROM served").fetchone()[0]
    return None if found is None else rows.moment_of(found)
