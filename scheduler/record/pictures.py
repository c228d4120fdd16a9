"""The pictures of a record: files beside it, each named by its content.

A picture never changes, so a copy under the same name is the same picture. With each snapshot the
pictures are copied that the snapshots' folder does not have yet; no copy is ever deleted.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from scheduler.words.tuples import NamedTuple


class BroughtBack(NamedTuple):
    """How many pictures were brought back, and the names of those that were found nowhere."""

    came: int
    missing: tuple[str, ...]


def photos_folder(record: Path) -> Path:
    """Return where the pictures of a record are kept, beside it."""
    return record.with_name(f"{record.stem}-photos")


def beside_copy(copy: Path) -> Path:
    """Return where the pictures of a copy that a person keeps in a file are: beside that file."""
    return copy.with_name(f"{copy.name.removesuffix('.gz').removesuffix('.sqlite')}-photos")


def named_pictures(db: sqlite3.Connection) -> tuple[str, ...]:
    """Return the file names of all pictures that a record names."""
    return tuple(row[0] for row in db.execute("SELECT DISTINCT file FROM photo ORDER BY file"))


def copy_pictures(source: Path, into: Path, most_seconds: float | None = None) -> int:
    """Copy the pictures that `into` lacks; return how many `source` has in all.

    On one disk a copy is a second name of the same file and takes no space. Raises OSError, and
    TimeoutError after `most_seconds`: what was copied stays, and the next call goes on from there.
    """
    end = None if most_seconds is None else time.monotonic() + most_seconds
    pictures = _pictures(source)
    there = _pictures(into)
    for name in sorted(pictures - there):
        if end is not None and time.monotonic() > end:
            raise TimeoutError
        into.mkdir(mode=0o700, parents=True, exist_ok=True)
        _copy(source / name, into / name)
    return len(pictures)


def bring_back(names: Iterable[str], places: Iterable[Path], into: Path) -> BroughtBack:
    """Copy the named pictures that `into` lacks from the first of some places that has them."""
    there, lacking, came = _pictures(into), [], 0
    folders = [(place, _pictures(place)) for place in places if place != into]
    for name in names:
        if name in there:
            continue
        found = next((place for place, has in folders if name in has), None)
        if found is None:
            lacking.append(name)
            continue
        into.mkdir(mode=0o700, parents=True, exist_ok=True)
        _copy(found / name, into / name)
        came += 1
    return BroughtBack(came, tuple(lacking))


def places_of(copy: Path) -> Iterator[Path]:
    """Yield the folders of pictures beside a snapshot, the one of the same name first."""
    yield beside_copy(copy)
    with suppress(OSError):
        yield from sorted(p for p in copy.parent.glob("*-photos") if p != beside_copy(copy))


def _pictures(folder: Path) -> set[str]:
    with suppress(OSError):
        return {p.name for p in os.scandir(folder) if p.is_file() and p.name[0] != "."}
    return set()


def _copy(picture: Path, target: Path) -> None:
    """Copy one picture, whole or not at all."""
    draft = target.with_name(f".{target.name}.{os.urandom(6).hex()}")
    try:
        try:
            os.link(picture, draft)
        except OSError:  # another disk, or one without links
            import shutil  # it imports much for archives, and this module is often imported

            shutil.copyfile(picture, draft)
        draft.replace(target)
    finally:
        draft.unlink(missing_ok=True)
