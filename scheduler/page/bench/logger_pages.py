"""A logger's file that comes in through the page: it is shown, asked about, and then recorded."""

from __future__ import annotations

import re
from collections.abc import Sequence

from flask import make_response, redirect, request, url_for
from werkzeug.wrappers import Response

from scheduler.deeds.outcome import Outcome
from scheduler.deeds.reading_file import read_file
from scheduler.deeds.readings import record_file
from scheduler.faces.readings import preview_lines, record_lines
from scheduler.intake.readings import LoggerManner
from scheduler.looks.logger_file import ReadFile
from scheduler.page import tap, web
from scheduler.page.bench.deeds import did
from scheduler.page.bench.forms import Given
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.page.bench.uploads import Upload, answers_sent, uploads
from scheduler.page.spoken import spoken
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.words.problems import BadInput, Refused


@blueprint.get("/logger", endpoint="logger")
def logger_page() -> str:
    """Offer to bring in a logger's file; show what was understood of one that came in."""
    return _logger_shown(Given(request.args), ())


@blueprint.post("/logger", endpoint="logged")
def logged() -> Response:
    """Keep a logger's file that was sent, and show what is understood of it."""
    with tap():
        key = uploads().take_in(request.files.getlist("files")[:1])
    room = request.form.get("room", "")
    return redirect(url_for(".logger", key=key, room=room), 303)


@blueprint.post("/logger/agreed", endpoint="heard")
def logger_agreed() -> Response:
    """Record a logger's file after a yes; else show it again with the answers given."""
    given = Given(request.form)
    if not given.ticked("yes"):
        with tap():
            return make_response(_logger_shown(given, ()))
    upload = uploads().get(given.text("key"))

    def record(store: Store, when: When) -> Outcome:
        return record_file(store, web().rules, _heard(store, upload, given), when)

    def refused(told: Sequence[str]) -> str:
        return _logger_shown(given, told)

    return did(record, refused=refused)


def _heard(store: Store, upload: Upload, given: Given) -> ReadFile:
    manner = LoggerManner(answers_sent(), _offset_min(given.text("offset")))
    now, room = web().clock(), given.text("room")
    return read_file(store, web().rules, upload.path, room, manner, now, given.maybe("logger"))


def _offset_min(text: str) -> int | None:
    if not text:
        return None
    found = re.fullmatch(r"([+-])(\d{1,2}):?([0-5]\d)", text)
    if found is None:
        raise BadInput(f"{text!r} is no time ahead of UTC. Write it as +01:00")
    minutes = 60 * int(found[2]) + int(found[3])
    return -minutes if found[1] == "-" else minutes


def _logger_shown(given: Given, told: Sequence[str]) -> str:
    key, shown, problems = given.text("key"), None, list(told)
    with Store(web().store_path) as store:
        line, view = opened(store)
        if key:
            upload = uploads().get(key)
            try:
                shown = _heard(store, upload, given)
            except (BadInput, Refused) as error:
                found = [str(p) for p in getattr(error, "problems", ())]
                where = f"{upload.place}/"
                problems += [spoken(t).replace(where, "") for t in (*found, str(error))]
        lines = []
        if shown is not None and shown.found.preview is not None:
            lines = [*preview_lines(shown.found.preview), *record_lines(shown, view.now.date())]
        return page_shown(
            store, "bench_logger.html", line, view, back="air", key=key, shown=shown,
            understood=lines, problems=problems, answers=answers_sent(),
            asked={n: given.text(n) for n in ("room", "logger", "offset")},
        )  # fmt: skip
