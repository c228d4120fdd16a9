"""A deed: one journal line and all that it changes, decided while nobody else can write."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import datetime

from scheduler.record import rows
from scheduler.record.one_place import refuse_two_places
from scheduler.record.rows import Value
from scheduler.record.state_tables import STATE_TABLES
from scheduler.words.problems import Refused
from scheduler.words.tuples import NamedTuple


class When(NamedTuple):
    """When something happened, what time it is now, who says so, and what they had seen.

    `seen` is the latest journal line when they looked; None means that they saw everything. A
    deed is refused when others recorded something about the same things since. `own` are later
    lines that this person recorded.
    """

    at: datetime
    now: datetime
    who: str | None = None
    seen: int | None = None
    own: frozenset[int] = frozenset()


class Deed:
    """What is being recorded; `Store.deed` opens one, and holds the record for writing.

    `text` is what the journal line will say; `line` is its number, None as long as nothing has
    changed. `undoes` is the line that this one takes back, None where it takes back none.
    """

    def __init__(self, db: sqlite3.Connection, when: When, command: str, text: str = "") -> None:
        self.db = db
        self.when = when
        self.command = command
        self.text = text
        self.undoes: int | None = None
        self.line: int | None = None

    def insert(self, table: str, row: Mapping[str, Value]) -> int:
        """Add a row to a state table and return its rowid; raise Refused where it may not be."""
        names = ", ".join(row)
        marks = ", ".join("?" * len(row))
        cursor = self._change(f"INSERT INTO {table}({names}) VALUES ({marks})", *row.values())
        return cursor.lastrowid or 0

    def update(self, table: str, key: Value, row: Mapping[str, Value]) -> bool:
        """Change the columns of a row that differ; say whether any did.

        Raises Refused where there is no such row, or the record does not allow the change.
        """
        key_column = STATE_TABLES[table]
        had = self.db.execute(f"SELECT * FROM {table} WHERE {key_column} = ?", (key,)).fetchone()
        if had is None:
            raise Refused(f"there is no {table} {key!r}")
        differing = {c: v for c, v in row.items() if c != key_column and had[c] != v}
        if not differing:
            return False
        sets = ", ".join(f"{c} = ?" for c in differing)
        self._change(f"UPDATE {table} SET {sets} WHERE {key_column} = ?", *differing.values(), key)
        return True

    def put(self, table: str, row: Mapping[str, Value]) -> bool:
        """Add a row, or change what differs in the one with its key; say whether it did either."""
        key_column = STATE_TABLES[table]
        key = row[key_column]
        known = self.db.execute(f"SELECT 1 FROM {table} WHERE {key_column} = ?", (key,)).fetchone()
        if known is not None:
            return self.update(table, key, row)
        self.insert(table, row)
        return True

    def delete(self, table: str, key: Value) -> None:
        """Delete a row, for undo and for days off taken back; the journal keeps what it said."""
        self._change(f"DELETE FROM {table} WHERE {STATE_TABLES[table]} = ?", key)

    def end(self) -> None:
        """Write the text of the journal line; a deed that changed nothing has no line.

        Raises Refused when a specimen would be in two places.
        """
        if self.line is None:
            return
        assert self.text, f"{self.command} recorded something and says nothing"
        self.db.execute(
            "UPDATE journal SET text = ?, undoes = ? WHERE line = ?",
            (self.text, self.undoes, self.line),
        )
        self.db.execute("DELETE FROM writing")
        refuse_two_places(self.db, self.line)

    def _change(self, sql: str, *values: Value) -> sqlite3.Cursor:
        if self.line is None:
            self.line = self._begin_line()
        try:
            return self.db.execute(sql, values)
        except sqlite3.IntegrityError as error:
            raise Refused(_guard_text(error)) from error

    def _begin_line(self) -> int:
        cursor = self.db.execute(
            "INSERT INTO journal(recorded_at, happened_at, who, command, text)"
            " VALUES (?, ?, ?, ?, '')",
            (
                rows.moment_text(self.when.now),
                rows.moment_text(self.when.at),
                self.when.who,
                self.command,
            ),
        )
        line = cursor.lastrowid
        assert line is not None
        self.db.execute("INSERT INTO writing(one, line) VALUES (1, ?)", (line,))
        return line


_GUARDS = {
    "slot taken": "another specimen stands in that slot at that time. Choose another position",
    "slot past the end": "the slot ends past the end of the board. Choose another position",
    "placement.specimen": "that specimen already stands on a board. Release it first",
    "chamber_stay.specimen": "that specimen is already in the chamber",
    "name.name": "that id is taken by another board, specimen, session or room. Choose another",
    "board_stay.board": "that board already moved at that very moment. Give another --at",
    "released_at": "a specimen cannot come off before it was mounted. Check --at",
    "FOREIGN KEY": "something that is named is not recorded, or is still used elsewhere",
}


def _guard_text(error: sqlite3.IntegrityError) -> str:
    said = str(error)
    for part, text in _GUARDS.items():
        if part in said:
            return text
    return f"the record does not allow that ({said})"
