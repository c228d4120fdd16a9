"""Keep a picture of a specimen: the file beside the record, its name in the journal."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from scheduler.deeds.outcome import Outcome, told
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.pictures import copy_pictures, photos_folder
from scheduler.record.store import Store
from scheduler.words import names
from scheduler.words.problems import BadInput

EXPORTED = "photos"
"""The folder of an export that holds the pictures."""
PHOTO_MOST = 12 * 1024 * 1024
"""The most bytes of one picture, as a phone takes it."""

_BEGINS: tuple[tuple[bytes, int, str], ...] = (
    (b"\xff\xd8\xff", 0, ".jpg"),
    (b"\x89PNG\r\n\x1a\n", 0, ".png"),
    (b"WEBP", 8, ".webp"),
    (b"ftypheic", 4, ".heic"),
    (b"ftypmif1", 4, ".heic"),
)
"""The bytes with which the kinds of pictures begin, and the place of these bytes."""


def picture_kind(data: bytes) -> str:
    """Return the file ending of a picture. Raises BadInput for anything that pages do not show."""
    for sign, at, ending in _BEGINS:
        if data[at : at + len(sign)] == sign:
            return ending
    raise BadInput("this is no picture: JPEG, PNG, WebP or HEIC. Nothing was kept")


def keep_photo(store: Store, specimen: str, data: bytes, when: When) -> Outcome:
    """Keep a picture of a specimen; the same picture is kept only once.

    Raises BadInput for what is no picture, or is larger than `PHOTO_MOST`.
    """
    ending = picture_kind(data)
    if len(data) > PHOTO_MOST:
        raise BadInput(f"a picture of more than {PHOTO_MOST // 1024**2} MB. Take a smaller one")
    with store.deed(when, "photo") as deed:
        facts = store.facts()
        name = names.find(specimen, facts.specimens, "specimen").specimen
        safe = re.sub(r"[^A-Za-z0-9_.-]", "_", name)
        file = f"{safe}-{hashlib.sha256(data).hexdigest()[:12]}{ending}"
        known = any(p.specimen == name and p.file == file for p in facts.photos)
        if not known:
            _write(photos_folder(store.path) / file, data)
            deed.text = f"kept a photo of {name}: {file}"
            row: dict[str, rows.Value] = {"specimen": name, "file": file}
            deed.insert("photo", row | {"taken_at": rows.moment_text(when.at)})
    if known:
        return Outcome((f"that photo of {name} is kept already",))
    return told(deed, lambda: Outcome((deed.text,)))


def copy_photos(source: Path, into: Path) -> int:
    """Copy the pictures of one folder into another, and return how many there are.

    Raises BadInput when they cannot be copied.
    """
    try:
        return copy_pictures(source, into)
    except OSError as error:
        raise BadInput(f"the photos cannot be copied to {into} ({error.strerror})") from error


def _write(path: Path, data: bytes) -> None:
    # Written whole or not at all; a picture that no journal line names does no harm.
    try:
        path.parent.mkdir(mode=0o700, exist_ok=True)
        part = path.with_name(f".{path.name}.part")
        part.write_bytes(data)
        part.replace(path)
    except OSError as error:
        raise BadInput(
            f"{path.parent} cannot be written ({error.strerror}). Nothing was kept"
        ) from error
