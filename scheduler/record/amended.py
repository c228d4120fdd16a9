"""From the journal: what was corrected by hand since a file last said it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

LABEL = "label."
"""What stands before a term of the label, since each term counts as a column of its own."""


@dataclass(frozen=True, slots=True)
class Amended:
    """A column that somebody corrected; `loaded` is what a file last said, None if no file did.

    `line` is the journal line of the correction.
    """

    loaded: Any
    line: int


def amended(db: sqlite3.Connection, table: str, key: object) -> dict[str, Amended]:
    """Return the columns of a thing whose value was last set by another command than `load`.

    Lines that were taken back do not count, nor do the lines that took them back.
    """
    gone = _undone(db)
    found: dict[str, Amended] = {}
    loaded: dict[str, Any] = {}
    rows = db.execute(
        "SELECT c.line, c.before, c.after, j.command FROM change c JOIN journal j USING (line)"
        " WHERE c.of_table = ? AND c.key = ? AND j.undoes IS NULL ORDER BY c.rowid",
        (table, key),
    )
    for line, before, after, command in rows:
        if line in gone or after is None:
            continue
        old, new = _flat(before), _flat(after)
        for column in (c for c in new.keys() | old.keys() if new.get(c) != old.get(c)):
            if command == "load":
                loaded[column] = new.get(column)
                found.pop(column, None)
            else:
                found[column] = Amended(loaded.get(column), line)
    return found


def flat(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with each term of its label as a column."""
    label = row.get("label")
    terms = json.loads(label) if isinstance(label, str) and label else {}
    plain = {column: value for column, value in row.items() if column != "label"}
    return plain | {LABEL + term: text for term, text in terms.items()}


def _flat(image: str | None) -> dict[str, Any]:
    if image is None:
        return {}
    return flat({c: as_noted(v) for c, v in json.loads(image).items()})


def as_noted(value: Any) -> Any:
    """Return a value in the form in which two images of the journal can be compared."""
    # The journal writes real numbers as texts of 17 digits, so that undo restores them exactly.
    try:
        return float(value) if isinstance(value, str) and "." in value else value
    except ValueError:
        return value


def _undone(db: sqlite3.Connection) -> set[int]:
    """Return the lines that are taken back now: an undo that was itself undone does not count."""
    gone: set[int] = set()
    pairs = db.execute("SELECT line, undoes FROM journal WHERE undoes IS NOT NULL")
    for line, undoes in sorted(map(tuple, pairs), reverse=True):
        if line not in gone:
            gone.add(undoes)
    return gone
