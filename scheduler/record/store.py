"""The record: one SQLite file, one transaction and one journal line per command.

Facts are only ever added or changed inside `Store.deed`, which writes the journal line first;
triggers note every changed row beside it. Nothing is lost: undo is a further line.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from zoneinfo import ZoneInfo

from scheduler.record.deed import Deed, When
from scheduler.record.migrations import MIGRATIONS, STATE_TABLES
from scheduler.record.quicker import refuse_overtaken, with_others
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import Snapshot
from scheduler.words.problems import BadInput, RecordBusy, Refused
from scheduler.words.records import Settings

BUSY_SECONDS = 10.0
"""So long a command waits for another that writes."""


class Store:
    """An open record. Use as a context manager; it closes its file at the end."""

    def __init__(self, path: Path) -> None:
        """Open the record at `path`, making or migrating it; raise RecordBusy if it cannot be."""
        self.path = path
        self._readers: list[sqlite3.Connection] = []
        self._changes_before = 0
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
        for reader in self._readers:
            reader.close()
        self.db.close()
        if isinstance(error, sqlite3.Error) and _code(error) in _FILE_FAULTS:
            raise self._unusable("used", error) from error

    def _unusable(self, how: str, error: Exception) -> RecordBusy:
        if isinstance(error, sqlite3.Error) and _code(error) in _HELD:
            return RecordBusy(
                f"the record {self.path} is being written by another command. Try again in a moment"
            )
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
            raise self._unusable("written", error) from error
        self._changes_before = self.db.total_changes
        try:
            yield
            self.db.execute("COMMIT")
        except BaseException:
            if self.db.in_transaction:
                self.db.execute("ROLLBACK")
            raise

    @contextmanager
    def deed(self, when: When, command: str, text: str = "") -> Iterator[Deed]:
        """Record one thing: hold the record, read and decide in the block, then write.

        What the block reads stays true until it ends. The journal line comes with the first
        change; a block that changes nothing leaves none. Raises Refused when the record does
        not allow it, Overtaken when somebody changed the same things since `when.seen`; the
        record is then as it was.
        """
        with self.transaction():
            deed = Deed(self.db, when, command, text)
            try:
                yield deed
                deed.end()
                refuse_overtaken(deed)
            except (Refused, BadInput) as error:
                told = with_others(error, deed)
                raise told from (error if told is not error else error.__cause__)

    def latest_line(self) -> int:
        """Return the number of the latest journal line, 0 for an empty journal."""
        found: int | None = self.db.execute("SELECT max(line) FROM journal").fetchone()[0]
        return found or 0

    @property
    def zone(self) -> ZoneInfo:
        """Return the record's time zone."""
        row = self.db.execute("SELECT value FROM setting WHERE key = 'timezone'").fetchone()
        return ZoneInfo(row["value"] if row else Settings().timezone)

    def snapshot(self) -> Snapshot:
        """Return the whole record as one consistent snapshot, read at once."""
        if self.db.in_transaction:
            return Recorded(self.db).whole()
        try:
            self.db.execute("BEGIN")
            try:
                return Recorded(self.db).whole()
            finally:
                self.db.execute("COMMIT")
        except sqlite3.DatabaseError as error:
            raise self._unusable("read", error) from error

    def facts(self) -> Snapshot:
        """Return the record as it stands, read as it is asked for while the store is open.

        What is written afterwards, also by this very store, it does not see. Inside a
        transaction that has written already it holds what was written, and is read at once.
        """
        if self._has_written():
            return self.snapshot()
        try:
            reader = sqlite3.connect(self.path, timeout=BUSY_SECONDS, isolation_level=None)
            self._readers.append(reader)
            reader.row_factory = sqlite3.Row
            reader.execute("PRAGMA query_only = ON")
            reader.execute("BEGIN")
            # The moment is that of the first read, not of BEGIN.
            reader.execute("SELECT 1 FROM meta").fetchone()
        except sqlite3.DatabaseError as error:
            raise self._unusable("read", error) from error
        return Recorded(reader)

    def _has_written(self) -> bool:
        return self.db.in_transaction and self.db.total_changes > self._changes_before

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


_HELD = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}


def _code(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF
