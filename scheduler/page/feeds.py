"""The calendars that phones subscribe to, and the page that says how to do so."""

from __future__ import annotations

import io
from urllib.parse import urlsplit

import segno
from flask import (
    Blueprint,
    Request,
    Response,
    abort,
    g,
    make_response,
    render_template,
    request,
    url_for,
)
from markupsafe import Markup

from scheduler.feed.variants import KINDS, MOST_EVENTS, Variant
from scheduler.page.web import web

blueprint = Blueprint("calendar", __name__, url_prefix="/calendar/<token>")

WORDS = {
    "all": "Everything: what to test, when to mount, what goes into the chamber",
    "releases": "Boards only: what to test and take off, per board, and what is still due",
    "chamber-and-sessions": "Chamber and bench days: what goes in, when to test and mount",
    "sessions": "Bench days only: what to test and mount at each",
    "chamber": "Chamber only: in, first look, out, and what goes into the cold",
    "bench-days": "For many boards: one event a day with all boards to test, bench days, chamber",
}
"""What the page says about each kind."""


@blueprint.get("/<kind>.ics")
def by_kind(kind: str) -> Response:
    """Send the calendar of a kind."""
    if kind not in KINDS:
        abort(404)
    return _calendar(Variant(kind, most=_most()), f"wingrest-{kind}.ics")


@blueprint.get("/room/<path:room>.ics", endpoint="by_room")
def feed_of_room(room: str) -> Response:
    """Send the calendar of one room: its boards, or another kind that `?kind=` names."""
    return _calendar(Variant(_kind("releases"), room, most=_most()), "wingrest-room.ics")


@blueprint.get("/person/<path:who>.ics", endpoint="by_person")
def feed_of_person(who: str) -> Response:
    """Send the calendar of one person: everything, or the kind that `?kind=` names."""
    return _calendar(Variant(_kind("all"), who=who, most=_most()), "wingrest-person.ics")


def _kind(usual: str) -> str:
    kind = request.args.get("kind", usual)
    if kind not in KINDS:
        abort(404)
    return kind


def _most() -> int:
    """Return the most events that `?most=` asks for, never above 10,000."""
    asked = request.args.get("most", "")
    return min(int(asked), 10_000) if asked.isdecimal() and int(asked) else MOST_EVENTS


@blueprint.get("/", strict_slashes=False)
def subscribe() -> str:
    """Show how to subscribe, which phones keep alarms, and which setting they need."""
    kinds = [(WORDS[kind], _address("calendar.by_kind", kind=kind)) for kind in KINDS]
    rooms = [(room, _address("calendar.by_room", room=room)) for room in web().shelf.rooms()]
    people = [(who, _address("calendar.by_person", who=who)) for who in web().shelf.people()]
    first = kinds[0][1]
    return render_template(
        "subscribe.html",
        kinds=kinds,
        rooms=rooms,
        people=people,
        first=first,
        apple=webcal(first),
        qr=qr_code(first, "The address as a QR code"),
        secure=request.is_secure,
        loopback=is_loopback(request.host),
        webcal=webcal,
    )


def _calendar(variant: Variant, filename: str) -> Response:
    found = web().shelf.served(variant)
    if found is None:
        abort(404)
    response = make_response(found.body)
    response.content_type = "text/calendar; charset=utf-8"
    response.headers["Content-Disposition"] = f'inline; filename="{filename}"'
    response.set_etag(found.etag)
    response.last_modified = found.changed
    response.cache_control.private = True
    response.cache_control.no_cache = True
    response.headers["Vary"] = "Accept-Encoding"
    g.squeezed_as = found.etag
    response.make_conditional(request)
    return response


class Squeezed:
    """Compressed calendars, the newest kept in memory; other pages are never kept."""

    MOST = 32

    def __init__(self) -> None:
        """Begin with nothing kept."""
        self._kept: dict[str, bytes] = {}

    def get(self, key: str) -> bytes | None:
        """Return what was kept under a key (algorithm and ETag), None for nothing."""
        return self._kept.get(key)

    def set(self, key: str, value: bytes) -> None:
        """Keep a compressed calendar in place of the oldest one."""
        if key.endswith(";") or key in self._kept:
            return
        while len(self._kept) >= self.MOST:
            self._kept.pop(next(iter(self._kept), ""), None)
        self._kept[key] = value

    @staticmethod
    def key(_: Request) -> str:
        """Return the ETag of the calendar that is being sent, "" for other pages."""
        return str(g.get("squeezed_as", ""))


def _address(endpoint: str, **values: str) -> str:
    return url_for(endpoint, _external=True, token=g.token, **values)


def webcal(address: str) -> str:
    """Return an address in the form (webcal) at which some calendars offer to subscribe."""
    return address.replace("https://", "webcals://", 1).replace("http://", "webcal://", 1)


def is_loopback(host: str) -> bool:
    """Return whether a host, with or without a port, means this computer itself."""
    name = urlsplit(f"//{host}").hostname or ""
    return name == "localhost" or name == "::1" or name.startswith("127.")


def qr_code(address: str, title: str) -> Markup:
    """Return an address as a drawn QR code with a title."""
    drawn = io.BytesIO()
    segno.make(address, micro=False).save(
        drawn, kind="svg", xmldecl=False, svgns=True, light="#fff", scale=4, nl=False,
        svgclass="qr", lineclass=None, omitsize=True, title=title,
    )  # fmt: skip
    return Markup(drawn.getvalue().decode())
