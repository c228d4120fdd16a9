"""The keeper's two addresses that nobody can guess: one for the calendar, one for the bench.

They are kept in the record, apart from the facts and outside the journal: an address is no fact
of the trade, and undo must not bring an old one back.
"""

from __future__ import annotations

import hmac
import secrets
import sqlite3
from dataclasses import dataclass

from scheduler.record.store import Store

TOKEN_BYTES = 18
"""144 random bits; written as 24 letters, which keeps the QR code small."""


@dataclass(frozen=True, slots=True)
class Tokens:
    """The secret parts of the two addresses, which work as passwords."""

    calendar: str
    bench: str


def ensure_tokens(store: Store, *, anew: bool = False) -> Tokens:
    """Return the record's tokens; make them at first use, or `anew`, which ends the old ones."""
    known = read_tokens(store.db)
    if known is not None and not anew:
        return known
    with store.transaction():
        known = read_tokens(store.db)  # another process may have made them meanwhile
        if known is not None and not anew:
            return known
        made = Tokens(secrets.token_urlsafe(TOKEN_BYTES), secrets.token_urlsafe(TOKEN_BYTES))
        store.db.executemany(
            "INSERT INTO secret(key, value) VALUES (?, ?)"
            " ON CONFLICT(key) DO UPDATE SET value = excluded.value",
            [("calendar_token", made.calendar), ("bench_token", made.bench)],
        )
        return made


def read_tokens(db: sqlite3.Connection) -> Tokens | None:
    """Return the record's tokens, None while it has none."""
    found = dict(
        db.execute(
            "SELECT key, value FROM secret WHERE key IN ('calendar_token', 'bench_token')"
        ).fetchall()
    )
    if len(found) < 2:
        return None
    return Tokens(found["calendar_token"], found["bench_token"])


def same(given: str, kept: str) -> bool:
    """Say whether two texts are equal, in a time that does not tell where they differ."""
    return hmac.compare_digest(given.encode("utf-8", "replace"), kept.encode())


def note_base(store: Store, base: str) -> None:
    """Note the address (http://host:port) at which the record is served."""
    if read_base(store.db) == base:
        return
    with store.transaction():
        store.db.execute(
            "INSERT INTO secret(key, value) VALUES ('base', ?)"
            " ON CONFLICT(key) DO UPDATE SET value = excluded.value",
            (base,),
        )


def read_base(db: sqlite3.Connection) -> str | None:
    """Return the address at which the record was served last, None when it never was."""
    found = db.execute("SELECT value FROM secret WHERE key = 'base'").fetchone()
    return None if found is None else str(found[0])
