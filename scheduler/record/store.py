"""The record: one SQLite file, one transaction and one journal line per command.

Facts are only ever added or changed inside `Store.deed`, which writes the journal line first;
triggers note every changed row beside it. Nothing is lost: undo is a further line.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.migrations import MIGRATIONS, STATE_TABLES
from scheduler.record.quicker import refuse_overtaken, with_others
from scheduler.record.snapshot import Snapshot
from scheduler.words.problems import BadInput, RecordBusy, Refused
from scheduler.words.records import Settings

T = TypeVar("T")

BUSY_SECONDS = 10.0
"""So long a command waits for another that writes."""


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


_HELD = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}


def _code(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF
