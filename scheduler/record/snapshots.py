"""Snapshots of a record, taken automatically: each is a whole record, checked and compressed.

One is taken after something was recorded; where it takes long, at most once an hour. The last one
of each of 14 days, 8 weeks and 24 months is kept, and every one taken before an upgrade. The
record's pictures are copied beside them, each once. Snapshots lie in a folder beside the record, or
in the folder that the file FOLDER.txt there names. Nothing of this is written into the record.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from scheduler.words.problems import RecordBusy
from scheduler.words.tuples import NamedTuple

EVERY = timedelta(hours=1)
"""The longest time after a snapshot in which no other is taken."""
WAIT_FOR_A_SECOND = timedelta(minutes=4)
"""The wait after a snapshot that took a second; after a quicker one it is shorter in proportion. So
even a short evening is in a snapshot, and no more than a 240th of the time goes into them."""
DAYS, WEEKS, MONTHS = 14, 8, 24
MOST_SECONDS = 5.0
"""A snapshot taken by itself gives up after this time and says so."""

_NAMED = re.compile(r"(?P<at>\d{8}T\d{6}Z)-line(?P<line>\d+)(?P<upgrade>-before-v\d+)?\.sqlite\.gz")


class Taken(NamedTuple):
    """One snapshot: when it was taken and up to which journal line it goes."""

    file: Path
    taken_at: datetime
    line: int
    before_upgrade: bool = False


class LastTry(NamedTuple):
    """How the last try to take a snapshot went; `failed` says why it failed, None if it did not.

    `seconds` is how long it took, None where that is not known.
    """

    at: datetime
    line: int
    failed: str | None
    seconds: float | None = None

    @property
    def wait(self) -> timedelta:
        """Return how long after this try, failed or not, no other is made."""
        return EVERY if self.seconds is None else min(EVERY, self.seconds * WAIT_FOR_A_SECOND)


class Snapshots:
    """The snapshots of the record at a path."""

    def __init__(self, path: Path) -> None:
        """Name the record; nothing is read yet."""
        self.path = path
        self.home = path.with_name(f"{path.stem}-snapshots")

    def folder(self) -> Path:
        """Return the folder where snapshots go: beside the record, or the one chosen."""
        try:
            said = (self.home / "FOLDER.txt").read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError):
            return self.home
        return Path(said) if said else self.home

    def photos(self) -> Path:
        """Return the one folder with copies of the record's pictures, for all snapshots."""
        return self.folder() / f"{self.path.stem}-photos"

    def choose(self, folder: Path | None) -> None:
        """Let snapshots go to a folder from now on, beside the record when None."""
        self._make_home()
        if folder is None:
            (self.home / "FOLDER.txt").unlink(missing_ok=True)
        else:
            write_whole(self.home / "FOLDER.txt", f"{folder.resolve()}\n".encode())

    def listed(self) -> list[Taken]:
        """Return the snapshots that exist, the latest last, those before upgrades included."""
        found = []
        for folder in dict.fromkeys((self.home, self.folder())):
            with suppress(OSError):
                found += [t for name in folder.iterdir() if (t := self._read_name(name))]
        return sorted(found, key=lambda t: (t.taken_at, t.line))

    def latest(self) -> Taken | None:
        """Return the snapshot that holds most of the journal, None when there is none."""
        # By line, not by date: the clock may have been wrong for an evening.
        return max(self.listed(), key=lambda t: (t.line, t.taken_at), default=None)

    def last_try(self) -> LastTry | None:
        """Return how the last try to take a snapshot went, None when there was none."""
        try:
            said: dict[str, Any] = json.loads((self.home / "LAST.json").read_bytes())
            at = datetime.fromisoformat(said["at"])
            return LastTry(at, said["line"], said["failed"], said.get("seconds"))
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def after_work(self, db: sqlite3.Connection) -> None:
        """Take a snapshot if it is time for one; a failure never fails what was recorded."""
        with suppress(RecordBusy, sqlite3.Error):  # `today` says so
            line, at = last_line(db)
            before = self.last_try()
            if at is None:
                return
            if before and before.failed is None and line == before.line:
                return
            if before and timedelta(0) <= at - before.at < before.wait:
                return
            self.take(db, at, most_seconds=MOST_SECONDS)

    def before_upgrade(self, db: sqlite3.Connection, version: int) -> None:
        """Take a snapshot before a record is upgraded; raise RecordBusy where that fails."""
        line, at = last_line(db)
        if line:
            self.take(db, at or datetime.now(UTC), mark=f"-before-v{version}")

    def take(
        self,
        db: sqlite3.Connection,
        at: datetime,
        *,
        mark: str = "",
        most_seconds: float | None = None,
    ) -> Taken:
        """Take a snapshot now and thin out the older ones; raise RecordBusy where that fails."""
        from scheduler.record.pictures import copy_pictures, photos_folder  # a question takes none

        line, _ = last_line(db)
        folder = self.folder()
        stem = f"{self.path.stem}-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}-line{line}{mark}"
        target = folder / f"{stem}.sqlite.gz"
        begun = time.monotonic()
        try:
            self._make_home()
            copy_checked(db, target, most_seconds)
            copy_pictures(photos_folder(self.path), self.photos(), most_seconds)
        except (OSError, sqlite3.Error, _NotSound) as error:
            why = _why(error, folder)
            self._say(at, line, why, round(time.monotonic() - begun, 3))
            raise RecordBusy(f"no snapshot could be taken: {why}") from error
        self._say(at, line, None, round(time.monotonic() - begun, 3))
        self._thin_out()
        return Taken(target, at.astimezone(UTC).replace(microsecond=0), line, bool(mark))

    def leave_behind(self, line: int) -> None:
        """Rename the snapshots beyond the line to which a record went back; none is deleted."""
        for taken in self.listed():
            if taken.line > line:
                with suppress(OSError):
                    taken.file.rename(taken.file.with_name(f"{taken.file.name}.left-behind"))

    def _thin_out(self) -> None:
        regular = [t for t in self.listed() if not t.before_upgrade]
        stay = kept(regular)
        for taken in regular:
            if taken not in stay:
                with suppress(OSError):
                    taken.file.unlink()

    def _say(
        self, at: datetime, line: int, failed: str | None, seconds: float | None = None
    ) -> None:
        said = {"at": at.astimezone(UTC).isoformat(), "line": line, "failed": failed}
        if seconds is not None:
            said["seconds"] = seconds
        with suppress(OSError):
            write_whole(self.home / "LAST.json", json.dumps(said).encode())

    def _read_name(self, file: Path) -> Taken | None:
        if not file.name.startswith(f"{self.path.stem}-"):
            return None
        said = _NAMED.fullmatch(file.name[len(self.path.stem) + 1 :])
        if said is None:
            return None
        at = datetime.strptime(said["at"], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
        return Taken(file, at, int(said["line"]), said["upgrade"] is not None)

    def _make_home(self) -> None:
        # The chosen folder is never made: it may belong to a disk that is not plugged in now.
        if not self.home.is_dir():
            self.home.mkdir(mode=0o700, exist_ok=True)


def kept(taken: Iterable[Taken]) -> set[Taken]:
    """Return the snapshots to keep: the last of the latest 14 days, 8 weeks and 24 months.

    Only days, weeks and months with a snapshot count.
    """
    every = sorted(taken, key=lambda t: (t.taken_at, t.line), reverse=True)
    stay: set[Taken] = set()
    for many, form in ((DAYS, "%Y-%m-%d"), (WEEKS, "%G-%V"), (MONTHS, "%Y-%m")):
        lasts: dict[str, Taken] = {}
        for one in every:
            lasts.setdefault(one.taken_at.strftime(form), one)
        stay |= set(list(lasts.values())[:many])
    return stay


def last_line(db: sqlite3.Connection) -> tuple[int, datetime | None]:
    """Return the number of the latest journal line and when it was recorded; 0 and None if none."""
    row = db.execute("SELECT line, recorded_at FROM journal ORDER BY line DESC LIMIT 1").fetchone()
    return (0, None) if row is None else (row[0], datetime.fromisoformat(row[1]))


def copy_checked(db: sqlite3.Connection, target: Path, most_seconds: float | None = None) -> None:
    """Copy a record while others use it; compress it where the name ends in .gz.

    The copy is checked before it gets its name, and what was compressed is read back. Raises
    OSError, sqlite3.Error, or an error of its own for a copy that is not sound, and then leaves
    nothing behind.
    """
    draft = target.with_name(f".{target.name}.{os.urandom(6).hex()}")
    packed = draft.with_name(f"{draft.name}.gz")
    os.close(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    try:
        _copy(db, draft, most_seconds)
        if target.suffix == ".gz":
            _pack(draft, packed)
        done = packed if target.suffix == ".gz" else draft
        with done.open("rb+") as file:
            os.fsync(file.fileno())
        done.replace(target)
    finally:
        draft.unlink(missing_ok=True)
        packed.unlink(missing_ok=True)


class _NotSound(Exception):  # noqa: N818
    """A copy that does not hold together."""


def _copy(db: sqlite3.Connection, draft: Path, most_seconds: float | None) -> None:
    end = None if most_seconds is None else time.monotonic() + most_seconds

    def in_time(_: int, __: int, ___: int) -> None:
        if end is not None and time.monotonic() > end:
            raise TimeoutError

    copy = sqlite3.connect(draft, isolation_level=None)
    try:
        db.backup(copy, pages=1024, progress=in_time, sleep=0.01)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file that holds all of it
        if copy.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
            raise _NotSound
    finally:
        copy.close()


def _pack(plain: Path, packed: Path) -> None:
    import gzip  # questions import this module, and never compress anything

    data = plain.read_bytes()
    squeezed = gzip.compress(data, 3, mtime=0)
    with open_anew(packed) as file:
        file.write(squeezed)
    if gzip.decompress(packed.read_bytes()) != data:
        raise _NotSound


@contextmanager
def open_anew(path: Path) -> Iterator[Any]:
    """Open a new file that only its owner may read."""
    with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        yield file


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that at any moment it holds either all of the old or all of the new."""
    draft = path.with_name(f".{path.name}.{os.urandom(6).hex()}")
    try:
        with open_anew(draft) as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def _why(error: Exception, folder: Path) -> str:
    if isinstance(error, _NotSound):
        return "the copy did not hold together. Look with: wingrest check"
    if isinstance(error, TimeoutError):
        return f"it took longer than {MOST_SECONDS:g} s. Take one by hand: wingrest backup"
    if isinstance(error, FileNotFoundError):
        return f"the folder {folder} is not there. Plug in its disk, or choose another folder"
    if isinstance(error, OSError):
        return f"{folder} cannot be written ({error.strerror})"
    if getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_FULL:
        return f"the disk of {folder} is full. Free some space, or choose another folder"
    return f"the disk of {folder} did not take it, or the record could not be read"
