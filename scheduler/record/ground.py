"""Where a record lies: who may read it, and on what kind of disk and in what kind of folder."""

from __future__ import annotations

import os
import stat
import sys
from contextlib import suppress
from pathlib import Path

from scheduler.words.tuples import NamedTuple

OWN_FOLDER = "wingrest"
"""A folder of this name is the program's own, and may be shut to others."""

NETWORK_KINDS = frozenset(
    "9p afs beegfs ceph cifs coda davfs fuse.davfs2 fuse.rclone fuse.s3fs fuse.sshfs"
    " fuse.vboxsf glusterfs lustre ncpfs nfs nfs4 prl_fs smb3 smbfs vboxsf virtiofs".split()
)
"""File systems on which SQLite's locks do not hold between two computers (sqlite.org/wal.html:
all processes that use a record in this mode must be on one computer)."""

_SYNC_MARKS = (".stfolder", ".dropbox", ".dropbox.cache", ".owncloudsync.log", ".nextcloudsync.log")
_SYNC_WORDS = (
    *("dropbox", "onedrive", "google drive", "googledrive", "nextcloud", "owncloud", "syncthing"),
    *("seafile", "icloud", "mobile documents", "pcloud", "mega"),
)


class Ground(NamedTuple):
    """What is seen of where a record lies.

    `network` names a network file system, `synced` a folder that a program keeps in step with
    other computers; each is None where none is seen.
    """

    network: str | None
    synced: Path | None


def keep_to_owner(path: Path) -> None:
    """Shut a record, and the program's own folder, to everybody but its owner."""
    for ending in ("", "-wal", "-shm"):
        _shut(f"{path}{ending}")
    if path.parent.name == OWN_FOLDER:
        _shut(path.parent)


def unlock_beside(path: Path) -> None:
    """Let the owner write the files beside a record that were left while it was read-only."""
    for ending in ("-wal", "-shm"):
        with suppress(OSError):
            mode = stat.S_IMODE(os.stat(f"{path}{ending}").st_mode)
            if not mode & stat.S_IWUSR:
                os.chmod(f"{path}{ending}", mode | stat.S_IRUSR | stat.S_IWUSR)


def open_to_others(path: Path) -> list[Path]:
    """Return the files and folders of a record that others may read; none on Windows."""
    ours = [Path(f"{path}{ending}") for ending in ("", "-wal", "-shm")]
    if path.parent.name == OWN_FOLDER:
        ours.append(path.parent)
    return [one for one in ours if _others(one)]


def ground_of(folder: Path, mounts: str | None = None) -> Ground:
    """Return on what kind of disk and in what kind of folder a folder lies, as far as is seen.

    A network file system is seen on Linux (in /proc/self/mountinfo, or in `mounts`, of the same
    form) and by a \\\\host name on Windows. A folder kept in step with other computers is seen
    by the names and marker files of programs for this, in the folder or above it.
    """
    return Ground(_network(folder.resolve(), mounts), _synced(folder.resolve()))


def _network(folder: Path, mounts: str | None) -> str | None:
    if folder.drive.startswith("\\\\"):
        return "a network share"
    if mounts is None:
        if not sys.platform.startswith("linux"):
            return None
        try:
            mounts = Path("/proc/self/mountinfo").read_text(encoding="utf-8", errors="replace")
        except OSError:
            return None
    best, kind, inside = -1, "", f"{folder}/"
    for line in mounts.splitlines():
        left, _, right = line.partition(" - ")
        at = left.split()[4:5]
        if not at or not right:
            continue
        point = at[0].replace("\\040", " ").rstrip("/")
        # Of equal mount points the last one counts: it hides those mounted there before.
        if inside.startswith(f"{point}/") and len(point) >= best:
            best, kind = len(point), right.split()[0]
    return kind if kind in NETWORK_KINDS else None


def _synced(folder: Path) -> Path | None:
    for place in (folder, *folder.parents):
        name = place.name.casefold()
        if any(name == word or name.startswith(f"{word} ") for word in _SYNC_WORDS):
            return place
        if any((place / mark).exists() for mark in _SYNC_MARKS):
            return place
    return None


def _others(path: Path) -> bool:
    if os.name != "posix":
        return False
    try:
        return bool(path.stat().st_mode & 0o077)
    except OSError:
        return False


def _shut(path: str | Path) -> None:
    if os.name != "posix":
        return
    # What belongs to somebody else is left alone: its owner decides.
    with suppress(OSError):
        status = os.stat(path)
        if status.st_uid == os.geteuid() and status.st_mode & 0o077:
            os.chmod(path, stat.S_IMODE(status.st_mode) & ~0o077)
