"""Files that come in through the page: shown as they were understood, recorded only after a yes.

An upload lies in a folder of its own until it is forgotten; the same modules read it as for the
command line (`scheduler.intake`).
"""

from __future__ import annotations

import shutil
import threading
import weakref
from collections import OrderedDict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from secrets import token_urlsafe
from tempfile import mkdtemp
from typing import NamedTuple

from flask import abort, current_app, make_response, redirect, request, url_for
from werkzeug.datastructures import FileStorage
from werkzeug.utils import secure_filename
from werkzeug.wrappers import Response

from scheduler.deeds.load import Unsure, Wish, load
from scheduler.deeds.outcome import Outcome
from scheduler.faces.preview import batch_preview_lines
from scheduler.intake.asking import Question
from scheduler.intake.batch import Batch, Told
from scheduler.intake.batch.columns import TABLES
from scheduler.intake.batch.mapping import mapping_path
from scheduler.intake.batch.titles import NOT_READ, NOTE
from scheduler.page import tap, web
from scheduler.page.bench.deed_pages import form_shown
from scheduler.page.bench.deeds import did
from scheduler.page.bench.forms import Given
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.page.spoken import spoken
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.words.problems import BadInput, Refused

UPLOAD_MOST = 12 * 1024 * 1024
FILES_MOST = 8
KEPT_MOST_UPLOADS = 12
FIELDS_OF_UPLOAD = 1000


class Upload:
    """Files that somebody sent, in a folder that is deleted with this object."""

    def __init__(self) -> None:
        """Make the folder; the caller puts the files into it and names them in `files`."""
        self.place = Path(mkdtemp(prefix="wingrest-list-"))
        self.files: list[Path] = []
        self.forget = weakref.finalize(self, shutil.rmtree, self.place, True)

    @property
    def path(self) -> Path:
        """Return what is to be loaded: the only file, or the folder of several."""
        return self.files[0] if len(self.files) == 1 else self.place


@dataclass
class Uploads:
    """The latest uploads by key; when there are too many, the oldest goes with its files."""

    _kept: OrderedDict[str, Upload] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def take_in(self, sent: Sequence[FileStorage]) -> str:
        """Keep files and return their key; raise BadInput where there are none, or too many."""
        named = [s for s in sent if s.filename]
        if not named:
            raise BadInput("no file was chosen. Choose one")
        if len(named) > FILES_MOST:
            raise BadInput(f"more than {FILES_MOST} files. Choose the tables of one list")
        upload = Upload()
        for number, one in enumerate(named, 1):
            path = upload.place / (secure_filename(one.filename or "") or f"list-{number}.csv")
            one.save(path)
            one.close()
            upload.files.append(path)
        key = token_urlsafe(12)
        with self._lock:
            self._kept[key] = upload
            while len(self._kept) > KEPT_MOST_UPLOADS:
                self._kept.popitem(last=False)[1].forget()
        return key

    def get(self, key: str) -> Upload:
        """Return an upload; answer 404 where it was forgotten."""
        with self._lock:
            found = self._kept.get(key)
        if found is None:
            abort(404)
        return found


def uploads() -> Uploads:
    """Return the uploads of this app."""
    kept: Uploads = current_app.extensions.setdefault("wingrest_uploads", Uploads())
    return kept


@blueprint.before_request
def _let_files_in() -> None:
    if request.endpoint in ("bench.brought", "bench.logged", "bench.rules_checked"):
        request.max_content_length = UPLOAD_MOST
    if request.endpoint in ("bench.agreed", "bench.seen"):
        request.max_form_parts = FIELDS_OF_UPLOAD


# --- a list of specimens, or a whole set of tables --------------------------------------------


class TitleShown(NamedTuple):
    """A title of a list: how it was understood, and what it could mean.

    `was` is the meaning that needs no answer, "" where the person must say it.
    """

    title: str
    column: str
    guessed: bool
    was: str
    choices: Sequence[tuple[str, str]]


@blueprint.get("/bring", endpoint="bring")
def bring_page() -> str:
    """Offer to bring in a list; show what was understood of one that came in."""
    key = request.args.get("key", "")
    return _bring_shown(key, _told(Given(request.args)), ())


@blueprint.post("/bring", endpoint="brought")
def brought() -> Response:
    """Keep the files that were sent, and show what is understood of them."""
    with tap():  # only for a form of ours
        key = uploads().take_in(request.files.getlist("files"))
    return redirect(url_for(".bring", key=key), 303)


@blueprint.post("/bring/seen", endpoint="seen")
def seen_again() -> Response:
    """Show a list again, with what the person said about it."""
    with tap():
        said = _told(Given(request.form))
    return make_response(_bring_shown(request.form.get("key", ""), said, ()))


@blueprint.post("/bring/agreed", endpoint="agreed")
def agreed() -> Response:
    """Take a list into the record as it was shown."""
    given = Given(request.form)
    upload = uploads().get(given.text("key"))
    take = given.text("take")

    def record(store: Store, when: When) -> Outcome:
        wish = Wish(
            _told(given), sure=True,
            bad_rows_to=_left_out(upload) if given.ticked("skip") else None,
            take="file" if take == "file" else "record" if take == "record" else None,
        )  # fmt: skip
        with _agreements(upload):
            outcome = load(store, web().rules, upload.path, when, wish)
        done = tuple(t.replace(f"{upload.path}: ", "") for t in outcome.done)
        return Outcome(done, outcome.warnings, outcome.line)

    def refused(told: Sequence[str]) -> str:
        return _bring_shown(given.text("key"), _told(given), told)

    return did(record, refused=refused)


def _left_out(upload: Upload) -> Path:
    return upload.place / "left-out"


def _told(given: Given) -> Told:
    """Return what a person said about a list: decimal sign, order of dates, titles, answers."""
    decimal, dates = given.text("decimal"), given.text("dates")
    titles: dict[str, str] = {}
    for number in range(FIELDS_OF_UPLOAD):
        title = given.text(f"title-{number}")
        if not title:
            break
        column = given.text(f"column-{number}")
        if column and column != given.text(f"was-{number}"):
            titles[title] = column
    return Told(
        "comma" if decimal == "comma" else "point" if decimal == "point" else None,
        "day-first" if dates == "day-first" else "month-first" if dates == "month-first" else None,
        titles,
        answers=answers_sent(),
    )


def answers_sent() -> Mapping[str, str]:
    """Return a form's answers to what files leave open, by the keys of the questions."""
    lead = "answer-"
    sent = request.values.to_dict()
    return {k.removeprefix(lead): v for k, v in sent.items() if k.startswith(lead) and v}


def _bring_shown(key: str, said: Told, told: Sequence[str]) -> str:
    with Store(web().store_path) as store:
        line, view = opened(store)
        batch, problems = None, list(told)
        if key:
            batch, found = _looked_at(store, uploads().get(key), said)
            problems = [*problems, *(t for t in found if t not in problems)]
        return page_shown(
            store, "bench_bring.html", line, view, back="waiting", key=key, manner=said,
            batch=batch, problems=problems, questions=_questions(batch),
            titles=list(_titles(batch)) if batch else [],
            understood=batch_preview_lines(batch) if batch else [],
            zone=None if view.facts.latest else form_shown("settings", view),
        )  # fmt: skip


def _looked_at(store: Store, upload: Upload, said: Told) -> tuple[Batch | None, list[str]]:
    """Return what is understood of an upload, or all that is wrong with it."""
    now = web().clock()
    wish = Wish(said, only_look=True)
    try:
        with _agreements(upload):
            load(store, web().rules, upload.path, When(now, now), wish)
    except Unsure as unsure:
        return unsure.batch, []
    except (BadInput, Refused) as error:
        problems = [spoken(str(p)) for p in getattr(error, "problems", ())]
        where = str(upload.place)
        return None, [t.replace(f"{where}/", "").replace(where, "them")
                      for t in (*problems, spoken(str(error)))]  # fmt: skip
    return None, []


def _questions(batch: Batch | None) -> list[Question]:
    """Return the questions besides those about titles that have more than one answer."""
    every = batch.questions if batch else ()
    return [q for q in every if len(q.options) > 1 and not q.key.startswith("column ")]


def _titles(batch: Batch) -> Iterator[TitleShown]:
    """Yield the titles that do not name a column of ours, each with all that it could mean."""
    tables = {t.name: t for t in TABLES}
    for seen in batch.seen:
        choices = [
            *((c.name, c.name.replace("_", " ")) for c in tables[seen.table].columns),
            (NOTE, "keep it as a note"),
            (NOT_READ, "leave it out"),
        ]
        for m in seen.columns:
            if m.how != "named" and m.title:
                column, guessed = m.column or NOT_READ, m.how in ("guessed", "asked")
                was = "" if m.how == "asked" else column
                yield TitleShown(m.title, column, guessed, was, choices)


def agreements_folder(record: Path) -> Path:
    """Return the folder beside the record with what was agreed about lists."""
    return record.with_name(f"{record.stem}-lists")


class _agreements:  # noqa: N801 - reads as what it is: with _agreements(upload)
    """Put beside an upload what was agreed about lists before, and keep what is agreed now."""

    def __init__(self, upload: Upload) -> None:
        self._kept = mapping_path(agreements_folder(web().store_path) / "any")
        self._lent = mapping_path(upload.path)

    def __enter__(self) -> None:
        if self._kept.is_file():
            shutil.copyfile(self._kept, self._lent)

    def __exit__(self, *_: object) -> None:
        if self._lent.is_file():
            with suppress(OSError):  # if it cannot be kept, the person is asked again next time
                self._kept.parent.mkdir(exist_ok=True)
                shutil.copyfile(self._lent, self._kept)
