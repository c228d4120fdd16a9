"""What keeps an open page up to date, and what lets a phone show it without reception."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from flask import current_app, make_response, request, url_for
from werkzeug.wrappers import Response

from scheduler.page import web
from scheduler.page.bench.looks import blueprint
from scheduler.page.bench.remembered import STEP_MINUTES, remembered


def pulse_now() -> str:
    """Return a text that changes when the record, the plan, the day or an answer changes.

    It also changes every ten minutes, since a dial's reading gets old and sessions begin.
    """
    minutes = int(web().clock().timestamp()) // 60 // STEP_MINUTES
    said = repr((web().shelf.state(), remembered().refreshed, minutes))
    return hashlib.sha256(said.encode()).hexdigest()[:24]


@blueprint.app_context_processor
def _pulse_in_pages() -> dict[str, object]:
    return {"pulse_now": pulse_now}


@blueprint.get("/pulse")
def pulse() -> Response:
    """Say whether anything changed since a page was made, without reading the record."""
    response = make_response("")
    response.set_etag(pulse_now())
    response.cache_control.private = response.cache_control.no_cache = True
    return response.make_conditional(request)


@blueprint.get("/offline.js", endpoint="worker")
def worker() -> Response:
    """Send the service worker from an address at which it may control the pages of the bench."""
    text = (Path(current_app.static_folder or "") / "offline_worker.js").read_text("utf-8")
    return Response(text, mimetype="text/javascript")


@blueprint.get("/app.webmanifest", endpoint="manifest")
def manifest() -> Response:
    """Say how the page is installed on a phone."""
    icon = {"src": url_for("static", filename="board.svg"), "sizes": "any", "type": "image/svg+xml"}
    said = {
        "name": "wingrest",
        "short_name": "wingrest",
        "start_url": url_for(".today"),
        "scope": url_for(".today"),
        "display": "standalone",
        "background_color": "#efe6d6",
        "theme_color": "#dcbc8c",
        "icons": [icon],
    }
    return Response(json.dumps(said), mimetype="application/manifest+json")
