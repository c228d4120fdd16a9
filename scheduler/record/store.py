"""The record: one SQLite file, one transaction and one journal line per command.

Facts are only ever added or changed inside `writing`, which writes the journal line first;
triggers note every changed row beside it. Nothing is lost: undo is a further line.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import NamedTuple, TypeVar
from zoneinfo import ZoneInfo

from scheduler.record import rows
from scheduler.record.migrations import MIGRATIONS, STATE_TABLES
from scheduler.record.rows import Value
from scheduler.record.snapshot import Snapshot
from scheduler.words.problems import RecordBusy, Refused
from scheduler.words.records import Settings

T = TypeVar("T")

BUSY_SECONDS = 5.0


class Line(NamedTuple):
    """What a journal line says beside its number."""

    command: str
    text: str
    recorded_at: datetime
    happened_at: datetime
    who: str | None = None
    undoes: int | None = None


class Store:
    """An open record. Use as a context manager; it closes its file at the end."""

    def __init__(self, path: Path) -> None:
        """Open the record at `path`, making or migrating it; raise RecordBusy if it cannot be."""
        self.path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self.db = sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)
        except (sqlite3.Error, OSError) as error:
            raise self._unusable("opened", error) from error
        try:
            self.db.row_factory = sqlite3.Row
            self.db.execute("PRAGMA foreign_keys = ON")
            self._migrate()
        except BaseException as error:
            self.db.close()
            if isinstance(error, sqlite3.Error):
                raise self._unusable("opened", error) from error
            raise

    def __enter__(self) -> Store:
        return self

    def __exit__(self, _: object, error: BaseException | None, __: object) -> None:
        self.db.close()
        if isinstance(error, sqlite3.Error) and _code(error) in _FILE_FAULTS:
            raise self._unusable("used", error) from error

    def _unusable(self, how: str, error: Exception) -> RecordBusy:
        return RecordBusy(
            f"the record {self.path} cannot be {how} ({error}). Close other programs that use it,"
            " or name another record with --store"
        )

    def _migrate(self) -> None:
        have: int = self.db.execute("PRAGMA user_version").fetchone()[0]
        if have > len(MIGRATIONS):
            raise RecordBusy(
                f"the record {self.path} was written by a newer wingrest (version {have}, this one"
                f" knows {len(MIGRATIONS)}). Update wingrest"
            )
        if have == len(MIGRATIONS):
            return
        self._switch_to_wal()
        with self.transaction():
            # Read again: another process may have migrated while this one waited.
            have = self.db.execute("PRAGMA user_version").fetchone()[0]
            for statement in (s for m in MIGRATIONS[have:] for s in _statements(m)):
                self.db.execute(statement)
            self.db.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
            self.db.execute(
                "INSERT OR IGNORE INTO meta(key, value) VALUES ('namespace', ?)",
                (_new_namespace(),),
            )

    def _switch_to_wal(self) -> None:
        # SQLite does not wait its busy timeout here: of two commands that open a new record at
        # once, one would fail.
        give_up = time.monotonic() + BUSY_SECONDS
        while True:
            try:
                self.db.execute("PRAGMA journal_mode = WAL")
                return
            except sqlite3.OperationalError:
                if time.monotonic() > give_up:
                    raise
                time.sleep(0.01)

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Hold the record for writing; all of it is kept, or on any error nothing."""
        try:
            self.db.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError as error:
            raise RecordBusy(
                f"the record {self.path} is being written by another command ({error})."
                " Try again in a moment"
            ) from error
        try:
            yield
        except BaseException:
            self.db.execute("ROLLBACK")
            raise
        self.db.execute("COMMIT")

    @contextmanager
    def writing(self, line: Line) -> Iterator[int]:
        """Write a journal line and whatever the block changes; give the line's number.

        A block that changes nothing leaves no line. Raises Refused when a guard of the record
        says no, and keeps the record as it was.
        """
        with self.transaction():
            number = self._begin_line(line)
            try:
                yield number
            except sqlite3.IntegrityError as error:
                raise Refused(_guard_text(error)) from error
            self.db.execute("DELETE FROM writing")
            changed = self.db.execute("SELECT 1 FROM change WHERE line = ?", (number,)).fetchone()
            if changed is None:
                self.db.execute("DELETE FROM journal WHERE line = ?", (number,))

    def _begin_line(self, line: Line) -> int:
        cursor = self.db.execute(
            "INSERT INTO journal(recorded_at, happened_at, who, command, text, undoes)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            (
                rows.moment_text(line.recorded_at),
                rows.moment_text(line.happened_at),
                line.who,
                line.command,
                line.text,
                line.undoes,
            ),
        )
        number = cursor.lastrowid
        assert number is not None
        self.db.execute("INSERT INTO writing(one, line) VALUES (1, ?)", (number,))
        return number

    def retext(self, line: int, text: str) -> None:
        """Say better what a line did, from inside its own `writing` block."""
        self.db.execute("UPDATE journal SET text = ? WHERE line = ?", (text, line))

    def insert(self, table: str, row: Mapping[str, Value]) -> int:
        """Add a row to a state table and give its rowid."""
        names = ", ".join(row)
        marks = ", ".join("?" * len(row))
        cursor = self.db.execute(
            f"INSERT INTO {table}({names}) VALUES ({marks})", tuple(row.values())
        )
        return cursor.lastrowid or 0

    def update(self, table: str, key: Value, row: Mapping[str, Value]) -> bool:
        """Change those columns of a row that differ; say whether any did."""
        key_column = STATE_TABLES[table]
        had = self.db.execute(f"SELECT * FROM {table} WHERE {key_column} = ?", (key,)).fetchone()
        if had is None:
            raise Refused(f"there is no {table} {key!r}")
        differing = {c: v for c, v in row.items() if c != key_column and had[c] != v}
        if not differing:
            return False
        sets = ", ".join(f"{c} = ?" for c in differing)
        self.db.execute(
            f"UPDATE {table} SET {sets} WHERE {key_column} = ?", (*differing.values(), key)
        )
        return True

    def put(self, table: str, row: Mapping[str, Value]) -> bool:
        """Add a row, or change what differs of the one with the same key; say whether it did."""
        key = row[STATE_TABLES[table]]
        key_column = STATE_TABLES[table]
        known = self.db.execute(f"SELECT 1 FROM {table} WHERE {key_column} = ?", (key,)).fetchone()
        if known is not None:
            return self.update(table, key, row)
        self.insert(table, row)
        return True

    @property
    def zone(self) -> ZoneInfo:
        """Return the record's time zone."""
        row = self.db.execute("SELECT value FROM setting WHERE key = 'timezone'").fetchone()
        return ZoneInfo(row["value"] if row else Settings().timezone)

    def _all(self, sql: str, make: Callable[[sqlite3.Row], T]) -> tuple[T, ...]:
        return tuple(make(row) for row in self.db.execute(sql))

    def snapshot(self) -> Snapshot:
        """Return the whole record as one consistent snapshot."""
        if self.db.in_transaction:
            return self._snapshot()
        try:
            self.db.execute("BEGIN")
            try:
                return self._snapshot()
            finally:
                self.db.execute("COMMIT")
        except sqlite3.DatabaseError as error:
            raise self._unusable("read", error) from error

    def _snapshot(self) -> Snapshot:
        pairs = self.db.execute("SELECT key, value FROM setting")
        latest = self.db.execute("SELECT max(recorded_at) FROM journal").fetchone()[0]
        gone = self.db.execute("SELECT specimen, gone FROM specimen WHERE gone IS NOT NULL")
        return Snapshot(
            settings=rows.settings_from({r["key"]: r["value"] for r in pairs}),
            rooms=_by(lambda r: r.room, self._all("SELECT * FROM room", rows.room_from)),
            boards=_by(lambda b: b.board, self._all("SELECT * FROM board", rows.board_from)),
            stays=self._all("SELECT * FROM board_stay ORDER BY since, id", rows.stay_from),
            specimens=_by(
                lambda s: s.specimen, self._all("SELECT * FROM specimen", rows.specimen_from)
            ),
            sessions=_by(
                lambda s: s.session,
                self._all("SELECT * FROM session ORDER BY start, session", rows.session_from),
            ),
            placements=self._all("SELECT * FROM placement ORDER BY id", rows.placement_from),
            chamber=self._all("SELECT * FROM chamber_stay ORDER BY since, id", rows.chamber_from),
            tests=self._all("SELECT * FROM dryness_test ORDER BY tested_at, id", rows.test_from),
            keeping=self._all("SELECT * FROM keeping ORDER BY since, id", rows.keeping_from),
            air_days=self._air_days(),
            droops=self._all("SELECT * FROM droop ORDER BY id", rows.droop_from),
            dials=self._all("SELECT * FROM dial ORDER BY read_at, id", rows.dial_from),
            gone={r["specimen"]: r["gone"] for r in gone},
            latest=None if latest is None else rows.moment_of(latest),
            namespace=self.db.execute("SELECT value FROM meta WHERE key = 'namespace'").fetchone()[
                0
            ],
        )

    def _air_days(self) -> dict[str, dict[date, bytes]]:
        found: dict[str, dict[date, bytes]] = {}
        for row in self.db.execute("SELECT room, day, hours FROM room_day ORDER BY room, day"):
            found.setdefault(row["room"], {})[date.fromisoformat(row["day"])] = row["hours"]
        return found

    def image(self) -> str:
        """Return every state table as text, value by value: equal images, equal records."""
        lines: list[str] = []
        for table, key in STATE_TABLES.items():
            columns = [r["name"] for r in self.db.execute(f"PRAGMA table_info({table})")]
            quoted = " || '|' || ".join(f"quote({c})" for c in columns)
            for (text,) in self.db.execute(f"SELECT {quoted} FROM {table} ORDER BY {key}"):
                lines.append(f"{table}: {text}")
        return "\n".join(lines)


def _new_namespace() -> str:
    from uuid import uuid4  # slow to import, and needed once in a record's life

    return str(uuid4())


def _statements(script: str) -> Iterator[str]:
    """Cut a script at its statements' ends; a trigger's inner semicolons do not end it."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def _by(key: Callable[[T], str], things: Iterable[T]) -> dict[str, T]:
    return {key(thing): thing for thing in things}


_FILE_FAULTS = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_NOTADB,
}
"""What is wrong with the file or the disk; anything else is a fault of the program."""


def _code(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


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
