"""Bring a record back: a snapshot, or the record built from an export, takes a record's place.

The record that was there is never lost: it is put aside under another name. The addresses that
phones know, and what phones were last told, are taken over from it if it can still be read, else
they come from the snapshot.
"""

from __future__ import annotations

import os
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from scheduler.record import connecting, faults, opening
from scheduler.record.migrations import MIGRATIONS
from scheduler.record.pictures import (
    BroughtBack,
    bring_back,
    named_pictures,
    photos_folder,
    places_of,
)
from scheduler.record.snapshots import Snapshots, copy_checked, last_line
from scheduler.words.problems import BadInput, RecordBusy, RecordDamaged, Refused
from scheduler.words.tuples import NamedTuple


class WouldGoBack(Refused):
    """The record that is there holds lines that the snapshot does not (exit status 3)."""


class Restored(NamedTuple):
    """What was put in place: up to which line, and where the record that was there is now.

    `in_the_file` says whether it was written into the file that was there, so that a running
    `serve` goes on with it. `photos` tells which pictures were brought back.
    """

    line: int
    recorded_at: datetime | None
    put_aside: Path | None
    in_the_file: bool
    photos: BroughtBack = BroughtBack(0, ())


@contextmanager
def read_snapshot(file: Path) -> Iterator[sqlite3.Connection]:
    """Open a snapshot or a record in memory, checked and brought to this version.

    Raises BadInput where it is neither, or does not hold together.
    """
    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        if not file.stat().st_size:
            raise BadInput(f"{file} is empty and no snapshot. Take another")
        try:
            if file.suffix == ".gz":
                import gzip

                memory.deserialize(gzip.decompress(file.read_bytes()))
            else:
                found, _ = connecting.to_read(file)
                with connecting.closing(found):
                    found.backup(memory)
            connecting.set_up(memory, looking=False)
            _refuse_foreign(memory, file)
            if opening.identify(memory, file) < len(MIGRATIONS):
                opening.upgrade(memory)
            if memory.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
                raise BadInput(f"{file} does not hold together. Take another snapshot")
        except (OSError, EOFError, zlib.error, sqlite3.Error) as error:
            raise BadInput(f"{file} is no snapshot that can be read. Take another") from error
        yield memory
    finally:
        memory.close()


def _refuse_foreign(memory: sqlite3.Connection, file: Path) -> None:
    if not opening.is_ours(memory):
        raise BadInput(f"{file} belongs to another program and is no snapshot. Take another")


def restore(path: Path, file: Path, *, over: bool = False) -> Restored:
    """Put a snapshot in the place of a record, and bring its pictures back.

    Raises WouldGoBack and changes nothing where the record there holds lines that the snapshot
    does not, unless `over` is set; BadInput for a file that is no snapshot.
    """
    with read_snapshot(file) as memory:
        done = bring_in(path, memory, over=over)
        places = (Snapshots(path).photos(), *places_of(file))
        try:
            photos = bring_back(named_pictures(memory), places, photos_folder(path))
        except OSError as error:
            raise faults.named(path, error) from error
        return done._replace(photos=photos)


def bring_in(path: Path, memory: sqlite3.Connection, *, over: bool = False) -> Restored:
    """Put a record that is in memory in the place of the one at a path; raises as `restore`."""
    line, at = last_line(memory)
    there = _there(path)
    if there is None:
        aside = _replace(path, memory)
        return Restored(line, at, aside, in_the_file=False)
    there.close()
    try:
        return Restored(line, at, _overwritten(path, memory, over=over), in_the_file=True)
    except sqlite3.Error as error:
        if not faults.is_of_file(error):
            raise
        raise faults.named(path, error) from error


def _overwritten(path: Path, memory: sqlite3.Connection, *, over: bool) -> Path | None:
    for _ in range(_MOST_TRIES):
        with suppress(_Overtaken):
            aside = _overwrite(path, memory, over=over)
            Snapshots(path).leave_behind(last_line(memory)[0])
            return aside
    raise RecordBusy(f"{path} is being written to all the time. Stop wingrest serve, then restore")


_MOST_TRIES = 20
_FIRST_PAGES = 8
"""How many pages are copied at a time; copying the first of them locks the record for writing."""


class _Overtaken(Exception):  # noqa: N818 - it is no error: it is done again
    """Somebody wrote after the record was put aside and before the new one took its place."""


def _overwrite(path: Path, memory: sqlite3.Connection, *, over: bool) -> Path | None:
    """Put a copy of the record that is there aside, and write the new one into its file.

    A running `serve` goes on with the new one. Raises _Overtaken and changes nothing where
    anything was written since the copy was made: else that would be lost.
    """
    with (
        connecting.closing(connecting.connect(path, "ro")) as guard,
        connecting.closing(connecting.connect(path, "rw")) as target,
    ):
        version = _version(guard)
        there = _there(path)
        if there is None:
            raise faults.damaged(path, "it cannot be read any more")
        with connecting.closing(there):
            said = _what_is_more(there, memory)
            if said and not over:
                raise WouldGoBack(f"{said}. To put that aside and go back: --over")
            _take_over(there, memory)
            aside = _free_name(path) if last_line(there)[0] else None
            if aside is not None:
                copy_checked(there, aside)
        held = False

        def still(status: int, _left: int, _all: int) -> None:
            nonlocal held
            if status == sqlite3.SQLITE_OK and not held:
                held = True  # from here on nobody else can write
                if _version(guard) != version:
                    raise _Overtaken

        try:
            memory.backup(target, pages=_FIRST_PAGES, progress=still)
        except BaseException:
            if aside is not None:
                aside.unlink(missing_ok=True)
            raise
        target.execute("PRAGMA journal_mode = WAL")
        opening.settle_in_file(target)
        return aside


def _version(guard: sqlite3.Connection) -> int:
    """Return a number that changes whenever another connection has written."""
    guard.execute("SELECT count(*) FROM sqlite_master").fetchone()
    return int(guard.execute("PRAGMA data_version").fetchone()[0])


def _there(path: Path) -> sqlite3.Connection | None:
    """Return a connection to the record at a path, None if there is none that can be read."""
    if not path.exists() or path.stat().st_size == 0:
        return None
    try:
        db, _ = opening.to_look(path)
    except RecordDamaged:
        return None
    return db


def _what_is_more(there: sqlite3.Connection, memory: sqlite3.Connection) -> str | None:
    """Return in words what the record holds and the snapshot does not, None for nothing."""
    line, at = last_line(there)
    if line == 0:
        return None
    if _namespace(there) != _namespace(memory):
        return f"there is another record there, with {line} lines up to {at:%Y-%m-%d %H:%M} UTC"
    mine = dict(memory.execute("SELECT line, recorded_at || command || text FROM journal"))
    more = [
        row["line"]
        for row in there.execute("SELECT *, recorded_at || command || text AS said FROM journal")
        if mine.get(row["line"]) != row["said"]
    ]
    if not more:
        return None
    if len(more) == 1:
        said = f"a journal line that the snapshot does not ({more[0]}, of"
    else:
        said = f"{len(more)} journal lines that the snapshot does not ({more[0]} to {more[-1]}, the"
        said += " last of"
    return f"the record there is newer: it holds {said} {at:%Y-%m-%d %H:%M} UTC)"


def _namespace(db: sqlite3.Connection) -> str:
    return str(db.execute("SELECT value FROM meta WHERE key = 'namespace'").fetchone()[0])


def _take_over(there: sqlite3.Connection, memory: sqlite3.Connection) -> None:
    """Keep the addresses and what phones were told; a SEQUENCE never goes back (RFC 5545)."""
    secrets = [tuple(r) for r in there.execute("SELECT key, value FROM secret")]
    memory.executemany("INSERT OR REPLACE INTO secret(key, value) VALUES (?, ?)", secrets)
    links = [tuple(r) for r in there.execute("SELECT * FROM link")]
    memory.execute("DELETE FROM link")  # a link that was ended after the snapshot stays ended
    memory.executemany(f"INSERT INTO link VALUES ({', '.join('?' * 9)})", links)
    if _namespace(there) != _namespace(memory):
        return
    told = [
        tuple(r) for r in there.execute("SELECT uid, sequence, changed, digest, gone FROM event")
    ]
    memory.executemany(
        "INSERT INTO event(uid, sequence, changed, digest, gone) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT(uid) DO UPDATE SET sequence = excluded.sequence,"
        " changed = excluded.changed, digest = excluded.digest, gone = excluded.gone"
        " WHERE excluded.sequence >= sequence",
        told,
    )


def _replace(path: Path, memory: sqlite3.Connection) -> Path | None:
    """Write a record to its file where there is none, or one to put aside that cannot be used."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.{os.urandom(6).hex()}.new.sqlite")
    aside = None
    try:
        copy_checked(memory, draft)
        if path.exists():
            aside = _put_aside(path)
        draft.replace(path)
    except (OSError, sqlite3.Error) as error:
        raise faults.named(path, error) from error
    finally:
        draft.unlink(missing_ok=True)
    line, _ = last_line(memory)
    Snapshots(path).leave_behind(line)
    return aside


def _put_aside(path: Path) -> Path:
    """Give a damaged file a second name; it keeps its own until the new record takes that."""
    aside = _free_name(path)
    try:
        os.link(path, aside)
    except OSError:  # a disk without links
        import shutil

        shutil.copyfile(path, aside)
    # SQLite would take a journal that stayed here for the new record's.
    for ending in ("-wal", "-journal"):
        with suppress(FileNotFoundError):
            os.rename(f"{path}{ending}", f"{aside}{ending}")
    with suppress(FileNotFoundError):
        os.unlink(f"{path}-shm")
    return aside


def _free_name(path: Path) -> Path:
    number = 1
    while (free := path.with_name(f"{path.stem}-put-aside-{number}{path.suffix}")).exists():
        number += 1
    return free


def refuse_unless_empty(path: Path) -> None:
    """Raise Refused where a record holds any line; RecordBusy where it cannot be read."""
    there = _there(path)
    if there is None:
        if path.exists():
            raise RecordBusy(f"{path} cannot be read. Name another record with --store")
        return
    with connecting.closing(there):
        line, _ = last_line(there)
    if line:
        raise Refused(
            f"the record {path} is not empty (it has {line} journal lines), and an export is a"
            " whole record. Name a new one with --store"
        )
