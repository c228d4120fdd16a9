"""A link for each person and each device: it may read or record, and is ended by itself.

Links are kept apart from the facts and outside the journal, as the keeper's addresses are.
"""

from __future__ import annotations

import secrets
import sqlite3
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from scheduler.page.tokens import TOKEN_BYTES, ensure_tokens
from scheduler.record import rows
from scheduler.record.store import Store
from scheduler.words import wording
from scheduler.words.problems import BadInput, Refused

May = Literal["read", "record"]
LINK_NAME_MOST = 40


@dataclass(frozen=True, slots=True)
class Link:
    """One link; `bench` and `calendar` are the secret parts of its two addresses."""

    id: int
    name: str
    may: May
    calendar: str
    bench: str
    made: datetime
    ended: datetime | None
    bench_used: datetime | None
    calendar_asked: datetime | None


def read_links(db: sqlite3.Connection) -> tuple[Link, ...]:
    """Return every link, ended ones too, the oldest first."""
    return tuple(_link(row) for row in db.execute("SELECT * FROM link ORDER BY id"))


def make_link(store: Store, name: str, may: May, now: datetime) -> Link:
    """Make a link for a person or a device.

    Raises BadInput for a name that is empty, too long or not printable, Refused for one that has a
    link already.
    """
    name = " ".join(name.split())
    if not name or len(name) > LINK_NAME_MOST or not name.isprintable():
        raise BadInput(f"{name!r} is no name. Give one of 1 to {LINK_NAME_MOST} letters")
    ensure_tokens(store)
    with store.transaction():
        if _standing(store.db, name):
            raise Refused(f"{name} has a link already. End it first, or give another name")
        made = (secrets.token_urlsafe(TOKEN_BYTES), secrets.token_urlsafe(TOKEN_BYTES))
        store.db.execute(
            "INSERT INTO link(name, may, calendar, bench, made) VALUES (?, ?, ?, ?, ?)",
            (name, may, *made, rows.moment_text(now)),
        )
        link = _standing(store.db, name)
    assert link is not None
    return link


def link_for(store: Store, name: str, may: May, now: datetime) -> Link:
    """Return the link of a name that has not ended; make it where there is none.

    Raises Refused where a link that only reads is asked for and the one there may record.
    """
    asked = " ".join(name.split()).casefold()
    for link in read_links(store.db):
        wider = may == "read" and link.may == "record"
        if link.ended is None and link.name.casefold() == asked and not wider:
            return link
    return make_link(store, name, may, now)


def end_link(store: Store, name: str, now: datetime) -> Link:
    """End the link of a name and return it; its addresses then lead to a page that says so.

    Raises Refused when there is no link of that name that has not ended.
    """
    with store.transaction():
        link = standing_link(store, name)
        store.db.execute("UPDATE link SET ended = ? WHERE id = ?", (rows.moment_text(now), link.id))
    return link


def standing_link(store: Store, name: str) -> Link:
    """Return the link of a name that has not ended; raise Refused when there is none."""
    link = _standing(store.db, " ".join(name.split()))
    if link is None:
        known = [one.name for one in read_links(store.db) if one.ended is None]
        said = f"Links stand for {', '.join(known)}" if known else "No link stands"
        raise Refused(f"{name!r} has no link that stands. {said}")
    return link


def note_used(db: sqlite3.Connection, link: int, what: str, at: datetime) -> None:
    """Note that a link was used at the bench ("bench") or for a calendar ("calendar")."""
    column = {"bench": "bench_used", "calendar": "calendar_asked"}[what]
    db.execute(f"UPDATE link SET {column} = ? WHERE id = ?", (rows.moment_text(at), link))


def last_used_said(link: Link, now: datetime) -> str:
    """Return in words when a link was last used, or that it ended; `now` is a local moment."""
    if link.ended is not None:
        return f"ended {wording.day(link.ended.astimezone(now.tzinfo), now.date())}"
    said = [
        f"{what} {wording.ago(now - moment)}"
        for what, moment in (("bench", link.bench_used), ("calendar", link.calendar_asked))
        if moment is not None
    ]
    return ", ".join(said) or "not used yet"


def _standing(db: sqlite3.Connection, name: str) -> Link | None:
    row = db.execute("SELECT * FROM link WHERE name = ? AND ended IS NULL", (name,)).fetchone()
    return None if row is None else _link(row)


def _link(row: sqlite3.Row | tuple[object, ...]) -> Link:
    number, name, may, calendar, bench, *moments = row
    made, ended, used, asked = (None if m is None else rows.moment_of(str(m)) for m in moments)
    assert isinstance(number, int)
    assert made is not None
    allowed: May = "record" if may == "record" else "read"
    return Link(number, str(name), allowed, str(calendar), str(bench), made, ended, used, asked)
