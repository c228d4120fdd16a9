"""What was told when a specimen was mounted: its dates, and the rule rows they rested on."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING

from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.record.deed import Deed


class ToldDates(NamedTuple):
    """The dates of a placement as they were told at its mounting; None where there was no date.

    `ruling` is the digest under which the rule rows are kept.
    """

    due: date | None
    clear: date | None
    ruling: str


class ToldThen:
    """What was told at every mounting of a record, read when asked for; without `db`, nothing.

    Nothing is known of what was mounted before records kept this.
    """

    def __init__(self, db: sqlite3.Connection | None = None) -> None:
        self._db = db

    def standing(self) -> Mapping[int, ToldDates]:
        """Return what was told of all that stands, by the placement's id."""
        return self._read("JOIN placement ON id = placement WHERE released_at IS NULL")

    def of(self, placement: int) -> ToldDates | None:
        """Return what was told of a placement, None when nobody knows."""
        return self._read("WHERE placement = ?", placement).get(placement)

    def tables(self, ruling: str) -> str:
        """Return the rule rows under a digest, as `rulebook.rulings` writes them."""
        assert self._db is not None
        sql = "SELECT tables FROM ruling WHERE digest = ?"
        return str(self._db.execute(sql, (ruling,)).fetchone()[0])

    def _read(self, which: str, *given: object) -> dict[int, ToldDates]:
        if self._db is None:
            return {}
        sql = f"SELECT placement, due, told.clear AS clear, ruling FROM told {which}"
        return {
            r["placement"]: ToldDates(_day(r["due"]), _day(r["clear"]), r["ruling"])
            for r in self._db.execute(sql, given)
        }


def ruling_faults(db: sqlite3.Connection) -> list[str]:
    """Return which kept rule rows cannot be read any more."""
    found = []
    for (digest,) in db.execute("SELECT digest FROM ruling").fetchall():
        try:
            sql = "SELECT tables FROM ruling WHERE digest = ?"
            json.loads(db.execute(sql, (digest,)).fetchone()[0])
        except (ValueError, sqlite3.OperationalError):
            found.append(f"the rule rows under {digest}, on which dates rested, cannot be read")
    return found


def keep_told(deed: Deed, told: Mapping[int, ToldDates], tables: str) -> None:
    """Record what is told of new placements; `tables` are the rule rows of all of them."""
    sql = "INSERT INTO ruling(digest, tables) VALUES (?, ?) ON CONFLICT DO NOTHING"
    for ruling in {one.ruling for one in told.values()}:
        deed.db.execute(sql, (ruling, tables))
    for placement, one in told.items():
        row = {"placement": placement, "due": _iso(one.due), "clear": _iso(one.clear)}
        deed.insert("told", row | {"ruling": one.ruling})


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
