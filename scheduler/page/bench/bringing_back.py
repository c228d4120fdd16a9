"""Bring the record back from a snapshot or an export, choose where snapshots go, check own rules.

Only the keeper may do this: a person with a link may read and record, and no more.
"""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from flask import redirect, render_template, request, url_for
from werkzeug.utils import secure_filename
from werkzeug.wrappers import Response

from scheduler.deeds.photo import EXPORTED, copy_photos
from scheduler.page import tap, web
from scheduler.page.bench.looks import blueprint
from scheduler.page.bench.uploads import uploads
from scheduler.page.spoken import spoken
from scheduler.page.visitors import ToldKindly, me
from scheduler.record.imported import is_export, read_export
from scheduler.record.pictures import photos_folder
from scheduler.record.restoring import Restored, bring_in, refuse_unless_empty, restore
from scheduler.record.snapshots import Snapshots
from scheduler.record.store import Store
from scheduler.rulebook import RULE_FILES, check_rules, rules_dir
from scheduler.words.problems import BadInput, Refused
from scheduler.words.wording import counted

RECORD_MOST = 512 * 1024 * 1024
UNPACKED_MOST = 4 * RECORD_MOST
"""The most bytes of a record that comes in, and of what it unpacks to."""


@blueprint.before_request
def _let_a_record_in() -> None:
    if request.endpoint == "bench.record_in" and me().link is None:
        request.max_content_length = RECORD_MOST


def _keepers() -> None:
    if me().link is not None:
        raise ToldKindly(
            403, "Not on this link", "Only whoever keeps the record can bring it back and check it."
        )


@blueprint.get("/back", endpoint="back")
def back_page() -> str:
    """Show the snapshots that one can go back to, and the forms for the other tasks."""
    return _back_shown()


def _back_shown(
    told: str = "", done: str = "", asks: str = "", faults: tuple[str, ...] | None = None
) -> str:
    _keepers()
    snapshots = Snapshots(web().store_path)
    with Store(web().store_path) as store:
        return render_template(
            "bench_back.html", line=store.latest_line(), back="back", told=told, done=done,
            asks=asks, faults=faults, folder=str(snapshots.folder()), zone=store.zone,
            own_folder=snapshots.folder() != snapshots.home,
            snapshots=list(reversed(snapshots.listed())), empty=not store.latest_line(),
        )  # fmt: skip


@blueprint.post("/back", endpoint="went_back")
def went_back() -> Response:
    """Go back to a snapshot, after asking whether that is meant."""
    _keepers()
    name = request.form.get("file", "")
    taken = next((t for t in Snapshots(web().store_path).listed() if t.file.name == name), None)
    with tap():
        if taken is None:
            return Response(_back_shown(told="this snapshot is not there any more"), 409)
        if request.form.get("sure") != "1":
            return Response(_back_shown(asks=name))
    try:
        return _done(restore(web().store_path, taken.file, over=True))
    except (BadInput, Refused) as error:
        return Response(_back_shown(told=spoken(str(error))), 409)


@blueprint.post("/back/file", endpoint="record_in")
def record_in() -> Response:
    """Take in a whole record from a snapshot or an export; the record here must be empty."""
    _keepers()
    with tap():
        pass  # this only checks the form; the record is replaced below, so it must not stay open
    sent = request.files.get("file")
    try:
        if sent is None or not sent.filename:
            raise BadInput("no file was chosen. Choose one")
        refuse_unless_empty(web().store_path)
        with tempfile.TemporaryDirectory(prefix="wingrest-back-") as place:
            file = Path(place) / (secure_filename(sent.filename) or "record")
            sent.save(file)
            return _done(_come_in(file))
    except (BadInput, Refused) as error:
        return Response(_back_shown(told=spoken(str(error))), 409)


def _come_in(file: Path) -> Restored:
    if not zipfile.is_zipfile(file):
        return restore(web().store_path, file)
    with _unpacked(file) as folder:
        if not is_export(folder):
            raise BadInput("this file holds no export of a record. Choose another")
        with read_export(folder) as memory:
            done = bring_in(web().store_path, memory)
        copy_photos(folder / EXPORTED, photos_folder(web().store_path))
        return done


@contextmanager
def _unpacked(file: Path) -> Iterator[Path]:
    """Unpack a file beside it, leaving out unsafe names; raise BadInput where it is too large."""
    into = file.with_name("unpacked")
    into.mkdir()
    with zipfile.ZipFile(file) as packed:
        if sum(one.file_size for one in packed.infolist()) > UNPACKED_MOST:
            raise BadInput("what this file unpacks to is larger than any record")
        for one in packed.infolist():
            parts = PurePosixPath(one.filename).parts
            if one.is_dir() or ".." in parts or PurePosixPath(one.filename).is_absolute():
                continue
            packed.extract(one, into)
    # Where the folder itself was packed, the export lies one level deeper.
    inside = [p for p in into.iterdir() if p.is_dir()]
    yield inside[0] if len(inside) == 1 and not is_export(into) else into


def _done(done: Restored) -> Response:
    aside = f" What was there is kept as {done.put_aside.name}." if done.put_aside else ""
    missing = len(done.photos.missing)
    photos = f" {counted(missing, 'photo')} not found with it." if missing else ""
    text = f"The record is back, up to line {done.line}.{aside}{photos}"
    return Response(_back_shown(done=text))


@blueprint.post("/back/folder", endpoint="snapshots_into")
def snapshots_into() -> Response:
    """Let snapshots go to a chosen folder, or beside the record again."""
    _keepers()
    text = request.form.get("folder", "").strip()[:1000]
    folder = Path(text).expanduser() if text else None
    with tap():
        if folder is not None and not folder.is_dir():
            return Response(_back_shown(told=f"{text} is no folder of this computer"), 400)
        try:
            Snapshots(web().store_path).choose(folder)
        except OSError as error:
            return Response(_back_shown(told=f"it cannot be noted ({error.strerror})"), 409)
    return redirect(url_for(".back"), 303)


@blueprint.post("/back/rules", endpoint="rules_checked")
def rules_checked() -> Response:
    """Check a person's own rule tables, together with the shipped rows that they do not replace."""
    _keepers()
    try:
        with tap():
            upload = uploads().get(uploads().take_in(request.files.getlist("files")))
    except BadInput as error:
        return Response(_back_shown(told=spoken(str(error))), 400)
    known = [file.name for file in upload.files if file.name in RULE_FILES]
    strange = [f"{file.name}: no rule table has this name" for file in upload.files
               if file.name not in RULE_FILES]  # fmt: skip
    whole = len(known) == len(RULE_FILES)
    place, own = (upload.place, None) if whole else (rules_dir(), upload.place)
    faults = (*strange, *(spoken(str(p)) for p in check_rules(place, own))) if known else strange
    return Response(_back_shown(faults=tuple(faults)))
