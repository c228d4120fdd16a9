"""The record over HTTP: calendars to subscribe to, and pages for the bench.

`create_app` makes a Flask app. The addresses hold tokens that nobody can guess: everything under
/calendar/<token>/ is for reading, everything under /bench/<token>/ for work. The keeper of the
record has one token of each kind (`tokens`), and so has every person or device with a link
(`links`), which may record or only read. Before anything else a wrong token is answered with 404,
one that was ended with 410. For a link that only reads, no page offers a form, and none is
accepted. There are no cookies and no web sessions.

Adding a page of the bench
--------------------------
A page is a view of the blueprint of `scheduler.page.bench`, in a module that its `__init__`
imports; another blueprint is a module named in `BENCH_PAGES`. Both are served under
/bench/<token>: the token is checked before each view and taken out of its arguments, and
`url_for` within the blueprint puts it back. A view finds the record's path, the rules and the
clock in `scheduler.page.web.web()` and who is asking in `scheduler.page.visitors.me()`, and opens
the record itself: `with Store(web().store_path) as store`. Templates are in `templates/` and
extend `bench_frame.html` (blocks `title`, `bench`); colours are the variables at the head of
static/board.css. The Content-Security-Policy (`safety.HEADERS`) allows only our own files: no
inline script, no style attributes, no `on...` attributes. Inline SVG is allowed, with its looks
given by classes or presentation attributes. The templates escape text; never mark anything from
the record as safe.

What records something
----------------------
A GET changes no facts. A page that offers forms reads `line = store.latest_line()` first, then
the record, and puts `{{ slip(line) }}` inside every `<form method="post">` (each call gives a new
slip: a number used once and the line, signed with the token of whoever asks). The view that
receives the form:

    @blueprint.post("/release")
    def release() -> Response:
        with tap() as store:  # 403 unless the form is ours
            outcome = release_these(store, web().rules, ...)  # one deed of scheduler.deeds
        return redirect(url_for(".today"), 303)

`tap` gives a Store whose one journal line belongs to this tap, in one transaction. The same form
sent twice records once, and the second raises `AlreadyRecorded` (`line` says which line; show it
as done, not as an error). When somebody else has changed the same specimen or board since the
page was made, `Overtaken` says what they recorded, and nothing is written; what another phone did
elsewhere does not matter. Both are `Refused`: where no view catches them, a plain page with status
409 says the same. Undo is a deed like any other: `scheduler.deeds.undo.undo(store, rules, line,
when)` inside `tap()`. `scheduler.page.bench.deeds.did` does all this for a view.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

from flask import Blueprint, Flask, current_app, g, request
from flask_compress import Compress
from markupsafe import Markup

from scheduler.page import feeds, taps
from scheduler.page.clock import ClockAsked, clock_asked, clock_confirmed, note_what_was_said
from scheduler.page.invented import Beside, InventedRecord
from scheduler.page.mending import Mender
from scheduler.page.safety import make_safe
from scheduler.page.shelf import Shelf
from scheduler.page.taps import AlreadyRecorded
from scheduler.page.turns import Turns
from scheduler.page.visitors import (
    NOT_OURS,
    ToldKindly,
    Visits,
    me,
    visitor_by,
    visits,
    without_forms,
)
from scheduler.page.web import Web, web
from scheduler.record.quicker import Overtaken
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook

__all__ = ["AlreadyRecorded", "Overtaken", "create_app", "tap", "web"]

BENCH_PAGES: tuple[str, ...] = ("scheduler.page.bench",)
"""Modules whose `blueprint` is served under /bench/<token>."""
READS_ONLY = "Your link can read but not record. Ask whoever keeps the record for one that can."


_CONFIG = {
    "COMPRESS_MIMETYPES": ["text/calendar", "text/html", "text/css", "text/javascript"],
    "COMPRESS_ALGORITHM": ["gzip"],
    "COMPRESS_MIN_SIZE": 0,
    "COMPRESS_EVALUATE_CONDITIONAL_REQUEST": True,
    "COMPRESS_CACHE_BACKEND": feeds.Squeezed,
    "COMPRESS_CACHE_KEY": feeds.Squeezed.key,
    "SEND_FILE_MAX_AGE_DEFAULT": 3600,
}


def create_app(
    store_path: Path,
    rules: Rulebook,
    *,
    clock: Callable[[], datetime] | None = None,
    who: str | None = None,
    asks_clock: bool = False,
    invented: InventedRecord | None = None,
    mends_aside: bool = False,
    lets_in: Callable[[], None] | None = None,
) -> Flask:
    """Return the app that serves one record; `clock` tells the time, by default the real one.

    With `asks_clock` nothing is recorded by a clock that cannot be right. `invented` is given
    where the record itself is the invented one; else an invented one may be made beside it. With
    `mends_aside` the plan is mended in another process, and no tap waits for it. `lets_in` is
    called to open a record to the home network that only this computer reaches so far.

    Raises RecordBusy when the record cannot be used.
    """
    app = Flask("scheduler.page", static_url_path="/look")
    now = clock or (lambda: datetime.now(UTC).replace(microsecond=0))
    shelf = Shelf(store_path, rules, now)
    beside = invented or InventedRecord(store_path, rules, partial(_invented_app, rules, who))
    mender = Mender(store_path, rules, now) if mends_aside else None
    app.extensions["wingrest"] = Web(
        store_path, rules, now, who, shelf, asks_clock, beside, invented is not None, mender,
        lets_in,
    )  # fmt: skip
    if invented is None:
        app.wsgi_app = Beside(app.wsgi_app, beside)  # type: ignore[method-assign]
    _equip(app, store_path)
    _serve_behind(app, feeds.blueprint, "calendar")
    for name in BENCH_PAGES:
        _serve_behind(app, import_module(name).blueprint, "bench", "/bench/<token>")
    return app


def _invented_app(rules: Rulebook, who: str | None, record: InventedRecord) -> Flask:
    return create_app(record.path, rules, clock=record.now, who=who, invented=record)


def _equip(app: Flask, store_path: Path) -> None:
    """Set up what every answer of an app goes through."""
    app.config.update(_CONFIG)
    app.extensions["wingrest_turns"] = Turns()
    app.extensions["wingrest_visits"] = Visits(store_path)
    make_safe(app)
    app.register_error_handler(ClockAsked, clock_asked)
    app.before_request(_hear_no_gzip)
    app.before_request(_stand_back)
    Compress(app)
    app.after_request(without_forms)
    app.url_defaults(partial(_named_by_content, _looks_of(Path(app.static_folder or ""))))
    app.jinja_env.globals["slip"] = _slip_fields
    app.jinja_env.globals["me"] = me


def _looks_of(folder: Path) -> dict[str, str]:
    """Return a short digest of each file of the pages' looks, by its name."""
    files = [f for f in folder.iterdir() if f.is_file()]
    return {f.name: hashlib.sha256(f.read_bytes()).hexdigest()[:12] for f in files}


def _named_by_content(looks: Mapping[str, str], endpoint: str, values: dict[str, Any]) -> None:
    # The address changes with the file, so a browser never mixes files of two versions.
    if endpoint == "static" and (known := looks.get(values.get("filename", ""))):
        values["v"] = known


@contextmanager
def tap() -> Iterator[Store]:
    """Open the record for what the sent form records, once and only if it is not out of date.

    Raises Forbidden for a form that is not ours; AlreadyRecorded and Overtaken as explained above.
    """
    slip = taps.read_slip(request, g.token)
    g.line_shown = slip.line
    note_what_was_said()
    # Taps take turns: with SQLite's lock alone a tap could wait too long and give up.
    with _turns().taken(), taps.tapped(web().store_path, slip) as store:
        store.asks_clock, store.confirm_clock = web().asks_clock, clock_confirmed
        yield store


def _turns() -> Turns:
    turns: Turns = current_app.extensions["wingrest_turns"]
    return turns


def _stand_back() -> None:
    if request.method in ("GET", "HEAD") and request.endpoint != "static":
        _turns().stand_back()


def _hear_no_gzip() -> None:
    # Flask-Compress reads "gzip;q=0" as a wish for gzip; by RFC 9110 12.5.3 it is a refusal.
    if request.accept_encodings["gzip"] <= 0:
        request.environ["HTTP_ACCEPT_ENCODING"] = "identity"


def _slip_fields(line: int) -> Markup:
    return taps.slip_field(g.token, line)


def _serve_behind(app: Flask, pages: Blueprint, which: str, prefix: str | None = None) -> None:
    """Register pages whose addresses hold a token, and answer nobody without it."""

    def check(_: str | None, values: dict[str, Any] | None) -> None:
        g.token = (values or {}).pop("token", "")
        shelf = web().shelf
        found = visitor_by(shelf.tokens(), shelf.links(), which, g.token)
        if found is None:
            raise ToldKindly(404, *NOT_OURS)
        g.visitor = found
        visits().note(found, which, web().clock())
        if request.method not in ("GET", "HEAD") and not found.records:
            raise ToldKindly(403, "Not recorded", READS_ONLY)

    def put_back(_: str, values: dict[str, Any]) -> None:
        values.setdefault("token", g.token)

    app.url_value_preprocessors.setdefault(pages.name, []).append(check)
    app.url_default_functions.setdefault(pages.name, []).append(put_back)
    app.register_blueprint(pages, **({} if prefix is None else {"url_prefix": prefix}))
