"""Connections to a record's file: one that can write, and one that can read it on any disk."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from scheduler.record import faults
from scheduler.record.ground import unlock_beside

BUSY_SECONDS = 10.0
"""How long a command waits for another one that is writing."""


def to_read(path: Path) -> tuple[sqlite3.Connection, bool]:
    """Return a connection for questions, and whether it may later be allowed to write.

    It reads the file itself, or a copy where SQLite cannot read it in its place.
    """
    # A journal beside the file means that somebody is writing, or was cut off: leave it alone.
    aside = _size_beside(path, "-wal") is not None or _size_beside(path, "-journal") is not None
    if aside and os.access(path, os.W_OK):
        unlock_beside(path)
    mine = not aside and os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
    try:
        return connect(path, "rw" if mine else "ro", looking=True), mine
    except sqlite3.OperationalError as error:
        if faults.code_of(error) not in _NO_ROOM_BESIDE:
            raise
        # SQLite needs a file beside the record even to read it; where it can make none, nobody
        # else can write either.
        if not _size_beside(path, "-wal"):
            return connect(path, "ro&immutable=1", looking=True), False
        return _read_elsewhere(path), False


_NO_ROOM_BESIDE = {
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_FULL,
}


def _read_elsewhere(path: Path) -> sqlite3.Connection:
    """Return a connection to a copy in memory that includes what was written last."""
    import shutil  # slow to import, like tempfile, and hardly ever needed
    import tempfile

    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        with tempfile.TemporaryDirectory(dir=_roomy(path)) as place:
            copy = Path(place) / "record.sqlite"
            for beside in ("", "-wal"):
                shutil.copyfile(f"{path}{beside}", f"{copy}{beside}")
            with closing(connect(copy, "rw")) as db:
                db.backup(memory)
        return set_up(memory, looking=True)
    except BaseException:
        memory.close()
        raise


def _roomy(path: Path) -> str | None:
    import shutil
    from tempfile import gettempdir

    need = 2 * (path.stat().st_size + (_size_beside(path, "-wal") or 0)) + 1_000_000
    for place in (gettempdir(), "/dev/shm"):
        with suppress(OSError):
            if os.access(place, os.W_OK) and shutil.disk_usage(place).free > need:
                return place
    return None


def _size_beside(path: Path, ending: str) -> int | None:
    try:
        return os.stat(f"{path}{ending}").st_size
    except OSError:
        return None


def connect(path: Path, mode: str, *, looking: bool = False) -> sqlite3.Connection:
    """Return a connection in an SQLite mode (`rw`, `ro`); with `looking` it cannot write."""
    uri = f"{path.resolve().as_uri()}?mode={mode}"
    db = sqlite3.connect(uri, uri=True, timeout=BUSY_SECONDS, isolation_level=None)
    try:
        set_up(db, looking=looking)
        db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except BaseException:
        db.close()
        raise
    return db


def keeping_nobody_out(db: sqlite3.Connection) -> sqlite3.Connection:
    """Return a connection whose reading keeps nobody from writing, this process included.

    Reading would do so in a file that came back from a snapshot and was not written to since:
    it has no write-ahead log yet, so a copy in memory is returned in its place.
    """
    if db.execute("PRAGMA journal_mode").fetchone()[0] != "delete":
        return db
    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        with closing(db):
            db.backup(memory)
        return set_up(memory, looking=True)
    except BaseException:
        memory.close()
        raise


def set_up(db: sqlite3.Connection, *, looking: bool) -> sqlite3.Connection:
    """Set up a connection for the record and return it; with `looking` it cannot write."""
    db.row_factory = sqlite3.Row
    db.execute("PRAGMA foreign_keys = ON")
    if looking:
        db.execute("PRAGMA query_only = ON")
    return db


@contextmanager
def closing(db: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """Close a connection at the end."""
    try:
        yield db
    finally:
        db.close()
