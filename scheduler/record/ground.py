"""The ground a record stands on: who may read it, on what kind of disk or folder it lies."""

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
    """`network` names the file system, `synced` the folder, None where neither is seen."""

    network: str | None
    synced: Path | None


def keep_to_owner(path: Path) -> None:
    """Shut a record, and the program's own folder, to everybody but its owner."""
    for ending in ("", "-wal", "-shm"):
        _shut(f"{path}{ending}")
    if path.parent.name == OWN_FOLDER:
        _shut(path.parent)


def unlock_beside(path: Path) -> None:
    """Let the owner write what lies beside a record: what was left while it was read-only."""
    for ending in ("-wal", "-shm"):
        with suppress(OSError):
            mode = stat.S_IMODE(os.stat(f"{path}{ending}").st_mode)
            if not mode & stat.S_IWUSR:
                os.chmod(f"{path}{ending}", mode | stat.S_IRUSR | stat.S_IWUSR)


def open_to_others(path: Path) -> list[Path]:
    """Return what of a record others on this computer may read; always none on Windows."""
    ours = [Path(f"{path}{ending}") for ending in ("", "-wal", "-shm")]
    if path.parent.name == OWN_FOLDER:
        ours.append(path.parent)
    return [one for one in ours if _others(one)]


def ground_of(folder: Path, mounts: str | None = None) -> Ground:
    """Return on what a folder lies, as far as can be seen.

    Network file systems are seen on Linux (by /proc/self/mountinfo, or `mounts` in its form)
    and by \\\\host names on Windows; folders kept in step with others by the names and marker
    files that programs for this are known to leave, in the folder or above it.
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
    best, kind = -1, ""
    for line in mounts.splitlines():
        left, _, right = line.partition(" - ")
        at = left.split()[4:5]
        if not at or not right:
            continue
        point = Path(at[0].replace("\\040", " "))
        # The last of equals: what is mounted over another hides it.
        if folder.is_relative_to(point) and len(point.parts) >= best:
            best, kind = len(point.parts), right.split()[0]
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
    # Not ours to change: whoever owns it decides.
    with suppress(OSError):
        status = os.stat(path)
        if status.st_uid == os.geteuid() and status.st_mode & 0o077:
            os.chmod(path, stat.S_IMODE(status.st_mode) & ~0o077)
