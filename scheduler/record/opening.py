"""How a record's file is opened: it is identified first, and written only to record something.

A question opens the file so that nothing in it can change, and is answered even on a read-only or
a full disk. A record of an older version is brought up to date in memory for a question, and in
its file by the first thing that is recorded. A new record appears whole or not at all, so a file
of 0 bytes is always an accident.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from scheduler.record import connecting, faults
from scheduler.record.ground import keep_to_owner
from scheduler.record.state_tables import SCHEMA_VERSION
from scheduler.words.problems import RecordBusy, RecordDamaged

if TYPE_CHECKING:
    from scheduler.record.snapshots import Snapshots

T = TypeVar("T")

LOOKED_THROUGH_BYTES = 16 * 1024 * 1024
"""Records up to this size are checked whole when first opened (30 ms at most); larger ones are
checked by `wingrest check` and with every snapshot."""

_OURS = {"meta", "journal", "change", "writing"}
_sound: set[tuple[int, int]] = set()
"""Files (device, inode) that this process has checked and found sound."""


def to_look(path: Path) -> tuple[sqlite3.Connection, bool]:
    """Return a connection that cannot change the record, and whether it may be made to write.

    Without a file it shows an empty record. Raises RecordBusy where the file is no record or
    cannot be read, and RecordDamaged.
    """
    return _guarded(path, _to_look)


def to_write(path: Path) -> sqlite3.Connection:
    """Return a connection that may write; make the record, or bring it to this version, first.

    Raises RecordBusy and RecordDamaged.
    """
    return _guarded(path, _to_write)


def begin_writing(db: sqlite3.Connection, path: Path) -> None:
    """Allow writing on a connection from `to_look` that may be made to write."""
    db.execute("PRAGMA query_only = OFF")
    db.execute("PRAGMA journal_mode = WAL")
    keep_to_owner(path)


def settle_in_file(db: sqlite3.Connection) -> None:
    """Move what was written into the record's file itself, as far as no reader is in the way.

    While others hold the record open, SQLite leaves new lines in a file beside it: a copy of the
    record's file alone would be sound, but without its last lines.
    """
    with suppress(sqlite3.Error):  # everything is recorded already; this only moves it
        db.execute("PRAGMA wal_checkpoint(PASSIVE)")


def upgrade(db: sqlite3.Connection, upto: int = SCHEMA_VERSION) -> None:
    """Bring the tables of a connection to a version, in one transaction."""
    from scheduler.record.migrations import MIGRATIONS  # a question of today's record needs none

    db.execute("BEGIN IMMEDIATE")
    try:
        # The version is read inside the transaction: another process may have upgraded meanwhile.
        for statement in (s for m in MIGRATIONS[version_of(db) : upto] for s in statements(m)):
            db.execute(statement)
        db.execute(f"PRAGMA user_version = {upto}")
        db.execute(
            "INSERT OR IGNORE INTO meta(key, value) VALUES ('namespace', ?)", (_new_namespace(),)
        )
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")


def version_of(db: sqlite3.Connection) -> int:
    """Return how many migrations have run."""
    found: int = db.execute("PRAGMA user_version").fetchone()[0]
    return found


def identify(db: sqlite3.Connection, path: Path) -> int:
    """Return the version of a record; raise RecordBusy where it is none, or of a newer version."""
    tables = _tables(db)
    if not tables:
        raise RecordBusy(f"{path} is an SQLite file without any table, and no record. {_ELSE}")
    if not tables >= _OURS:
        raise RecordBusy(f"{path} belongs to another program and was left alone. {_ELSE}")
    have = version_of(db)
    if have > SCHEMA_VERSION:
        raise RecordBusy(
            f"the record {path} was written by a newer wingrest (version {have} of its tables,"
            f" this one knows {SCHEMA_VERSION}) and was left alone. Update wingrest"
        )
    return have


def is_ours(db: sqlite3.Connection) -> bool:
    """Return whether a connection shows a record, of any version."""
    return _tables(db) >= _OURS


def _tables(db: sqlite3.Connection) -> set[str]:
    return {r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}


_ELSE = "Name another file with --store, or move this one away to begin a new record there"


def look_through(db: sqlite3.Connection, path: Path) -> None:
    """Raise RecordDamaged where the pages of a record do not hold together."""
    said = db.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if said != "ok":
        raise faults.damaged(path, "its pages do not hold together")


def _snapshots(path: Path) -> Snapshots:
    from scheduler.record.snapshots import Snapshots  # few commands that open a record need it

    return Snapshots(path)


def _guarded(path: Path, opened: Callable[[Path], T]) -> T:
    try:
        return opened(path)
    except UnicodeDecodeError as error:  # SQLite quotes a broken schema in its error message
        raise faults.damaged(path, "the names of its tables are lost") from error
    except (sqlite3.Error, OSError) as error:
        if faults.code_of(error) == sqlite3.SQLITE_NOTADB and _snapshots(path).latest() is None:
            raise RecordBusy(f"{path} is no record and was left alone. {_ELSE}") from error
        raise faults.named(path, error) from error


def _to_look(path: Path) -> tuple[sqlite3.Connection, bool]:
    if not _is_there(path):
        return _upgraded(None), False
    db, may_write = connecting.to_read(path)
    try:
        if _known_for_what_it_is(db, path) == SCHEMA_VERSION:
            return db, may_write
        newer = _upgraded(db)
    except BaseException:
        db.close()
        raise
    db.close()
    return newer, False


def _to_write(path: Path) -> sqlite3.Connection:
    if not _is_there(path):
        _make(path)
    db = connecting.connect(path, "rw")
    try:
        if _known_for_what_it_is(db, path) < SCHEMA_VERSION:
            _snapshots(path).before_upgrade(db, SCHEMA_VERSION)
            _switch_to_wal(db)
            upgrade(db)
        db.execute("PRAGMA journal_mode = WAL")
        keep_to_owner(path)
    except BaseException:
        db.close()
        raise
    return db


def _is_there(path: Path) -> bool:
    """Return whether there is a file; raise where it is empty, or missing beside snapshots."""
    try:
        size = path.stat().st_size
    except FileNotFoundError:
        if _snapshots(path).latest() is None:
            return False
        raise RecordDamaged(
            f"there is no record at {path}, but there are snapshots of one."
            f" {faults.way_back(path, salvage=False)}"
            f"\nTo begin a new record instead, move {_snapshots(path).home} away"
        ) from None
    if path.is_dir():
        raise RecordBusy(f"{path} is a folder and no record. Name a file with --store")
    if size == 0:
        raise RecordDamaged(
            f"{path} is empty (0 bytes) and no record; it was left alone.\n"
            f"{faults.way_back(path, salvage=False)}\nIf it never was a record, delete it"
        )
    # The file is not opened here: closing it would release the locks that SQLite holds on it for
    # this process.
    return True


def _known_for_what_it_is(db: sqlite3.Connection, path: Path) -> int:
    have = identify(db, path)
    status = path.stat()
    known = (status.st_dev, status.st_ino)
    if known not in _sound and status.st_size <= LOOKED_THROUGH_BYTES:
        look_through(db, path)
        _sound.add(known)
    return have


def _upgraded(db: sqlite3.Connection | None) -> sqlite3.Connection:
    """Return a record of this version in memory: a copy of one, or an empty one."""
    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        connecting.set_up(memory, looking=False)
        if db is not None:
            db.backup(memory)
        upgrade(memory)
        memory.execute("PRAGMA query_only = ON")
    except BaseException:
        memory.close()
        raise
    return memory


def _make(path: Path) -> None:
    """Make an empty record, whole or not at all; one that another command made first stays."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.{os.urandom(6).hex()}.new")
    os.close(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    try:
        with connecting.closing(connecting.connect(draft, "rw")) as db:
            db.execute("PRAGMA journal_mode = WAL")
            upgrade(db)
            # What tables there are then stands at the file's head, so that a file that was cut
            # off can still be read.
            db.execute("VACUUM")
        put_in_place(draft, path)
    finally:
        for beside in ("", "-wal", "-shm"):
            Path(f"{draft}{beside}").unlink(missing_ok=True)


def put_in_place(draft: Path, path: Path) -> None:
    """Give a finished file its name unless a file of that name exists already."""
    try:
        os.link(draft, path)
    except FileExistsError:
        return
    except OSError:  # on a disk without links two commands could get in each other's way
        if not path.exists():
            draft.rename(path)


def _switch_to_wal(db: sqlite3.Connection) -> None:
    # SQLite does not wait for its busy timeout here: of two commands that open an old record at
    # the same time, one would fail.
    give_up = time.monotonic() + connecting.BUSY_SECONDS
    while True:
        try:
            db.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError:
            if time.monotonic() > give_up:
                raise
            time.sleep(0.01)


def _new_namespace() -> str:
    from uuid import uuid4  # slow to import, and needed only once for each record

    return str(uuid4())


def statements(script: str) -> Iterator[str]:
    """Yield the statements of a script one by one; semicolons within a trigger do not end it."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
