"""The record: one SQLite file, with one transaction and one journal line for each command.

Facts are added or changed only inside `Store.deed`, which writes the journal line first; triggers
note every changed row beside it. Nothing is lost: an undo is one more line.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Self
from zoneinfo import ZoneInfo

from scheduler.record import connecting, faults, opening
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import Snapshot
from scheduler.record.state_tables import STATE_TABLES
from scheduler.record.told_then import ruling_faults
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Settings

if TYPE_CHECKING:
    from scheduler.record.deed import Deed, When

_OF_VALUES = (ValueError, KeyError, TypeError, sqlite3.OperationalError)
"""Errors that a damaged value may cause when it is read; a fault of the program may, too."""


class Store:
    """An open record. Use it as a context manager, which closes the file at the end.

    With `asks_clock` set, a deed is refused when its clock cannot be right. Where the clock may
    be wrong, `confirm_clock` is asked first, while others can still write.
    """

    def __init__(self, path: Path) -> None:
        """Open the record at `path` for reading; the first writing makes or upgrades it.

        Raises RecordBusy when it cannot be used, RecordDamaged when it cannot be trusted.
        """
        self.path = path
        self._readers: list[sqlite3.Connection] = []
        self._changes_before = 0
        self._writes = False
        self.asks_clock = False
        self.confirm_clock: Callable[[str], bool] | None = None
        self._own: sqlite3.Connection | None
        self._own, self._may_write = opening.to_look(path)

    @property
    def db(self) -> sqlite3.Connection:
        """Return the store's own connection; open a new one after a question took it."""
        if self._own is None:
            self._own, self._may_write = opening.to_look(self.path)
        return self._own

    def __enter__(self) -> Self:
        return self

    def __exit__(self, _: object, error: BaseException | None, __: object) -> None:
        for reader in self._readers:
            reader.close()
        unreadable = None
        try:
            if error is None and self._writes:
                from scheduler.record.snapshots import Snapshots  # a question takes none

                Snapshots(self.path).after_work(self.db)
                opening.settle_in_file(self.db)
            elif isinstance(error, _OF_VALUES) and not faults.is_of_file(error):
                unreadable = self._unreadable()
        finally:
            if self._own is not None:
                self._own.close()
        if unreadable is not None:
            raise faults.damaged(self.path, f"it holds a value that is none: {unreadable}")
        if error is not None and faults.is_of_file(error):
            raise faults.named(self.path, error) from error

    def _unreadable(self) -> Exception | None:
        """Return what fails when the whole record is read, None where it can be read.

        Where something fails, the record is damaged and the program is not at fault.
        """
        try:
            assert Recorded(self.db).whole().zone
            for (table,) in self.db.execute("SELECT name FROM sqlite_master WHERE type = 'table'"):
                self.db.execute(f"SELECT * FROM {table}").fetchall()
            if of_rules := ruling_faults(self.db):
                return ValueError(of_rules[0])
        except (ValueError, KeyError, TypeError, sqlite3.Error) as error:
            return error
        return None

    def settle(self) -> None:
        """Make the record, or bring it to this version, and be ready to write."""
        if self._writes:
            return
        looking = self.db
        if self._may_write:
            opening.begin_writing(looking, self.path)
        else:
            self._own = opening.to_write(self.path)
            looking.close()
        self._writes = True

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Hold the record for writing; keep all that is written, or on any error nothing."""
        try:
            self.settle()
            self.db.execute("BEGIN IMMEDIATE")
        except sqlite3.Error as error:
            raise faults.named(self.path, error) from error
        self._changes_before = self.db.total_changes
        try:
            yield
            self.db.execute("COMMIT")
        except BaseException as error:
            if self.db.in_transaction:  # where the disk was full, SQLite has ended it already
                self.db.execute("ROLLBACK")
            if faults.is_of_file(error):
                raise faults.named(self.path, error) from error
            raise

    @contextmanager
    def deed(self, when: When, command: str, text: str = "") -> Iterator[Deed]:
        """Record one thing: hold the record, read and decide in the block, then write.

        What the block reads stays true until the block ends. The first change begins the journal
        line; a block that changes nothing leaves no line. Raises Refused when the record does
        not allow it, Overtaken when somebody changed the same things since `when.seen`; the
        record is then as it was.
        """
        from scheduler.record.deed import Deed
        from scheduler.record.quicker import refuse_overtaken, with_others

        if self.asks_clock and self.confirm_clock is not None:
            self._ask_about_clock(when, self.confirm_clock)
        with self.transaction():
            if self.asks_clock:
                self._refuse_wrong_clock(when)
            deed = Deed(self.db, when, command, text)
            try:
                yield deed
                deed.end()
                refuse_overtaken(deed)
            except (Refused, BadInput) as error:
                told = with_others(error, deed)
                raise told from (error if told is not error else error.__cause__)

    def _ask_about_clock(self, when: When, confirm: Callable[[str], bool]) -> None:
        from scheduler.record.clock import clock_doubt, clock_question

        latest = Recorded(self.db).latest
        if clock_question(latest, when.now) is None or clock_doubt(latest, when.now):
            return
        from scheduler.record.asked import last_asked
        from scheduler.record.known_moments import clock_is_vouched_for, known_until

        said = max(filter(None, (latest, last_asked(Recorded(self.db)))))
        question = clock_question(known_until(said, self.path, when.now), when.now)
        if question is None or clock_is_vouched_for():
            return
        if not confirm(question):
            raise Refused(
                "nothing was recorded. Set the clock, or say what time it is: wingrest --now"
                f" {when.now:%Y-%m-%dT%H:%M}"
            )

    def _refuse_wrong_clock(self, when: When) -> None:
        from scheduler.record.clock import clock_doubt

        said = clock_doubt(Recorded(self.db).latest, when.now)
        if said:
            told = f"{when.now:%Y-%m-%dT%H:%M}"
            raise Refused(
                f"{said}; nothing was recorded. Set the clock, or say what time it is: wingrest"
                f" --now {told}"
            )

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
            raise faults.named(self.path, error) from error

    def facts(self) -> Snapshot:
        """Return the record as it is now, read part by part as it is asked for.

        The store must stay open as long as anything is asked.

        It does not show what is written later, not even by this store. Inside a transaction that
        has written something it shows that, and is read whole at once.
        """
        if self._has_written():
            return self.snapshot()
        reader = self._reader()
        try:
            reader.execute("BEGIN")
            # A read transaction sees the record as of its first read, not as of BEGIN.
            reader.execute("SELECT 1 FROM meta").fetchone()
        except sqlite3.DatabaseError as error:
            raise faults.named(self.path, error) from error
        return Recorded(reader)

    def _reader(self) -> sqlite3.Connection:
        """Return a connection for one question: the store's own while it has no other work."""
        if self._own is None or self._writes:
            reader, _ = opening.to_look(self.path)
        else:
            reader, self._own = self._own, None
        self._readers.append(connecting.keeping_nobody_out(reader))
        return self._readers[-1]

    def _has_written(self) -> bool:
        return self.db.in_transaction and self.db.total_changes > self._changes_before

    def image(self) -> str:
        """Return every state table as text, value by value: equal records have equal images."""
        lines: list[str] = []
        for table, key in STATE_TABLES.items():
            columns = [r["name"] for r in self.db.execute(f"PRAGMA table_info({table})")]
            quoted = " || '|' || ".join(f"quote({c})" for c in columns)
            for (text,) in self.db.execute(f"SELECT {quoted} FROM {table} ORDER BY {key}"):
                lines.append(f"{table}: {text}")
        return "\n".join(lines)
