"""Check whether a record's pages, references, tables and journal agree."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any

from scheduler.record import rows
from scheduler.record.state_tables import STATE_TABLES

Image = dict[str, Any]


def page_faults(db: sqlite3.Connection) -> list[str]:
    """Return the faults that SQLite's own check of pages, indexes and values finds."""
    said = [r[0] for r in db.execute("PRAGMA integrity_check(20)")]
    return [] if said == ["ok"] else said


def reference_faults(db: sqlite3.Connection) -> list[str]:
    """Return the rows that name something that is not there."""
    return [
        f"{r['table']} row {r['rowid']} names something of {r['parent']} that is not there"
        for r in db.execute("PRAGMA foreign_key_check")
    ]


def replay(db: sqlite3.Connection) -> tuple[dict[str, dict[str, Image]], list[str]]:
    """Return the tables that follow from the journal, and where the journal contradicts itself."""
    told: dict[str, dict[str, Image]] = {table: {} for table in STATE_TABLES}
    faults = []
    for change in db.execute("SELECT line, of_table, key, before, after FROM change ORDER BY id"):
        table = told.setdefault(change["of_table"], {})
        key = change["key"].casefold()
        had = table.get(key)
        before = None if change["before"] is None else rows.values_of(change["before"])
        if (before is None) != (had is None) or (before and had and not _agree(before, had)):
            faults.append(
                f"line {change['line']} changed {change['of_table']} {change['key']} from"
                " something that no line before it said"
            )
        if change["after"] is None:
            table.pop(key, None)
        else:
            table[key] = rows.values_of(change["after"])
    return told, faults


def journal_faults(db: sqlite3.Connection) -> list[str]:
    """Return where the tables and the journal, replayed from its first line, differ."""
    told, faults = replay(db)
    for table, key_column in STATE_TABLES.items():
        left = dict(told.get(table, {}))
        for row in db.execute(f"SELECT * FROM {table}"):
            image = left.pop(str(row[key_column]).casefold(), None)
            if image is None:
                faults.append(f"{table} {row[key_column]} is in no line of the journal")
            else:
                faults += _differences(table, str(row[key_column]), row, image)
        faults += [f"{table} {key} is in the journal and not in its table" for key in left]
    return faults


def _differences(table: str, key: str, row: sqlite3.Row, image: Image) -> Iterator[str]:
    for column, value in image.items():
        if not _same(row[column], value):
            yield f"{table} {key}: {column} is {row[column]!r}, the journal says {value!r}"


def _agree(one: Image, other: Image) -> bool:
    # A column that was added later is only in later images.
    return all(_same(one[c], other[c]) for c in one.keys() & other.keys())


def _same(value: object, told: object) -> bool:
    if value is None or told is None or isinstance(value, bytes):
        return value == told
    if isinstance(value, float) or isinstance(told, float):
        try:
            return float(str(value)) == float(str(told))
        except ValueError:
            return False
    return str(value) == str(told)
