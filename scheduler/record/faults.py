"""What is wrong when a record cannot be used: the true cause in plain words, and what to do.

A person never sees SQLite's own words; its codes are read here.
"""

from __future__ import annotations

import errno
import sqlite3
from pathlib import Path

from scheduler.words.problems import RecordBusy, RecordDamaged

FULL_BELOW_BYTES = 256 * 1024
"""With less free space than this SQLite cannot begin to write, whatever code it then gives."""

_FILE_FAULTS = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_NOTADB,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_PROTOCOL,
}


def is_of_file(error: BaseException | None) -> bool:
    """Return whether the file or its disk is at fault, and not the program."""
    return isinstance(error, sqlite3.Error) and code_of(error) in _FILE_FAULTS


def code_of(error: BaseException) -> int:
    """Return SQLite's primary code, 0 where there is none."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def named(path: Path, error: BaseException) -> RecordBusy:
    """Return what to tell a person whose record, or its disk, failed with this error."""
    code = code_of(error)
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return damaged(path, "its pages do not hold together")
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL):
        return RecordBusy(f"another command is writing the record {path}. Try again in a moment")
    if code == sqlite3.SQLITE_FULL or _number(error) == errno.ENOSPC or _is_full(path):
        return RecordBusy(
            f"the disk that holds the record {path} is full; nothing was recorded. Free some"
            " space, then record it again"
        )
    refused = (errno.EACCES, errno.EPERM, errno.EROFS)
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM) or _number(error) in refused:
        return _read_only(path)
    if code == sqlite3.SQLITE_CANTOPEN:
        return _cannot_open(path)
    if code == sqlite3.SQLITE_IOERR:
        return RecordBusy(
            f"the disk that holds the record {path} failed to read or write; nothing was"
            " recorded. Copy the record and its snapshots to another disk, then: wingrest check"
        )
    said = getattr(error, "strerror", None) or error
    return RecordBusy(f"the record {path} cannot be used ({said}). Look with: wingrest check")


def damaged(path: Path, what: str) -> RecordDamaged:
    """Return what to tell a person whose record cannot be trusted, with the way back."""
    return RecordDamaged(
        f"the record {path} is damaged ({what}) and was left as it is.\n{way_back(path)}"
    )


def way_back(path: Path, *, salvage: bool = True) -> str:
    """Return the text that says how to go back to the last snapshot, or that there is none.

    With `salvage` it also says how to read what is left of the record.
    """
    from scheduler.record.snapshots import Snapshots

    rest = "What can still be read of it: wingrest check --salvage FOLDER" if salvage else ""
    last = Snapshots(path).latest()
    if last is None:
        return f"There is no snapshot of it. {rest}".rstrip()
    when = f"{last.taken_at:%Y-%m-%d %H:%M} UTC, journal line {last.line}"
    return f"The way back, to {when}:\n  wingrest restore {last.file}\n{rest}".rstrip()


def _read_only(path: Path) -> RecordBusy:
    return RecordBusy(
        f"the record {path} may be read but not written: its file, its folder or its disk is"
        " read-only. Questions are answered; to record, get the right to write there, or name"
        " another record with --store"
    )


def _cannot_open(path: Path) -> RecordBusy:
    if path.is_dir():
        return RecordBusy(f"{path} is a folder and no record. Name a file with --store")
    if path.exists():
        return RecordBusy(
            f"the record {path} may not be opened by you. Get the right to read it, or name"
            " another with --store"
        )
    return RecordBusy(
        f"there can be no record at {path}: its folder does not exist or may not be written."
        " Name another place with --store"
    )


def _number(error: BaseException) -> int | None:
    return error.errno if isinstance(error, OSError) else None


def _is_full(path: Path) -> bool:
    import shutil  # only when something went wrong

    for place in (path.parent, *path.parent.parents):
        try:
            return shutil.disk_usage(place).free < FULL_BELOW_BYTES
        except OSError:
            continue
    return False
