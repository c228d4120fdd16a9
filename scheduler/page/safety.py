"""What keeps the pages safe: headers, limits, a log without addresses, plain error pages.

Nothing here knows what a page shows.
"""

from __future__ import annotations

import logging
import os
import time
from typing import Any

from flask import Flask, Response, g, make_response, render_template, request
from werkzeug.exceptions import HTTPException

from scheduler.page.shelf import PAGE_LOG, busy_said
from scheduler.page.spoken import spoken
from scheduler.page.visitors import ToldKindly
from scheduler.words.problems import BadInput, RecordBusy, Refused, WingrestError

BODY_MOST = 64 * 1024
"""The most bytes of a form; the largest form of a page is far smaller."""
FIELDS_MOST = 200

HEADERS = {
    # Scripts and styles only from our own files, and nothing from elsewhere.
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self';"
    " img-src 'self' data:; connect-src 'self'; worker-src 'self'; manifest-src 'self';"
    " form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}

_SAID = {
    400: ("That cannot be read", "Go back and try again."),
    403: ("Not from here", "This form was not made by this page. Open the page and try again."),
    404: ("No such page", "Go back, and try another way."),
    405: ("Not that way", "This address is not used like that."),
    413: ("Too much at once", "What was sent is larger than any form of this page."),
    500: ("Something failed", "Nothing half done was recorded. The server's own log says more."),
}


def make_safe(app: Flask) -> None:
    """Give an app the limits, the headers, the log and the plain error pages."""
    app.config.update(
        MAX_CONTENT_LENGTH=BODY_MOST,
        MAX_FORM_MEMORY_SIZE=BODY_MOST,
        MAX_FORM_PARTS=FIELDS_MOST,
        TRAP_HTTP_EXCEPTIONS=False,
        PROPAGATE_EXCEPTIONS=False,
    )
    app.url_map.merge_slashes = False  # a redirect would repeat an address that may be wrong
    app.url_value_preprocessor(_begin)  # it comes before tokens are checked
    app.after_request(_headers)
    app.after_request(_log)
    app.register_error_handler(HTTPException, _http_error)
    app.register_error_handler(WingrestError, _our_error)
    app.register_error_handler(Exception, _unexpected)


def _begin(_: str | None, __: dict[str, Any] | None) -> None:
    g.begun = time.perf_counter()


def _headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if "Cache-Control" not in response.headers:
        response.headers["Cache-Control"] = "private, no-store"
    return response


def _log(response: Response) -> Response:
    """Write one line for each request: the rule, never the address, which works as a password."""
    if not PAGE_LOG.isEnabledFor(logging.INFO):
        return response
    rule = str(request.url_rule) if request.url_rule else "(no such page)"
    taken = 1000 * (time.perf_counter() - g.get("begun", time.perf_counter()))
    method = request.method if request.method.isalpha() and len(request.method) < 10 else "?"
    PAGE_LOG.info(
        "%s %s %s %d %.1f ms", request.remote_addr or "-", method, rule, response.status_code, taken
    )
    return response


def trouble(status: int, title: str, text: str) -> Response:
    """Return a plain page that says what went wrong and what to do."""
    response = make_response(render_template("trouble.html", title=title, text=text), status)
    if status == 503:
        response.headers["Retry-After"] = "5"
    return response


def _http_error(error: HTTPException) -> Response:
    if error.code is None or error.code < 400:
        return make_response(error.get_response())
    if isinstance(error, ToldKindly):
        return trouble(error.code, error.title, error.description or "")
    response = trouble(error.code, *_SAID.get(error.code, (error.name, "Go back and try again.")))
    for name, value in error.get_headers():
        if name == "Allow":
            response.headers[name] = value
    return response


def _our_error(error: WingrestError) -> Response:
    if isinstance(error, RecordBusy):
        return trouble(503, "Busy", busy_said(error))
    if isinstance(error, Refused):
        return trouble(409, "Not recorded", spoken(str(error)))
    if isinstance(error, BadInput):
        said = "\n".join([*(str(p) for p in error.problems), str(error)])
        return trouble(400, "Not recorded", spoken(said))
    return trouble(422, "Cannot say", spoken(str(error)))


def _unexpected(error: Exception) -> Response:
    shown = bool(os.environ.get("WINGREST_TRACE"))
    said = " ".join(f"{type(error).__name__}: {error}".split())
    PAGE_LOG.error("failed unexpectedly (%s); WINGREST_TRACE=1 shows where", said, exc_info=shown)
    return trouble(500, *_SAID[500])
