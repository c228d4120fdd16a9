"""People and phones: make a link for each, show its two codes, list its last use, end it."""

from __future__ import annotations

from typing import NamedTuple

from flask import redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response

from scheduler.page import tap, web
from scheduler.page.bench.looks import blueprint
from scheduler.page.feeds import qr_code, webcal
from scheduler.page.links import (
    Link,
    end_link,
    last_used_said,
    link_for,
    read_links,
    standing_link,
)
from scheduler.page.reach import Reach, found_by_name, reach, until_reached
from scheduler.page.spoken import spoken
from scheduler.page.tokens import ensure_tokens
from scheduler.page.visitors import ToldKindly, me
from scheduler.record.store import Store
from scheduler.words.problems import BadInput, Refused


class LinkShown(NamedTuple):
    """A link in the list of all; `used` says in words when it was last used."""

    name: str
    records: bool
    used: str
    ended: bool


class Codes(NamedTuple):
    """The two addresses of a link, each as a code to photograph and as text."""

    bench: str
    bench_code: Markup
    calendar: str
    subscribe: str
    calendar_code: Markup


def _keeper_only() -> None:
    if me().link is not None:
        raise ToldKindly(
            403, "Not on this link", "Only whoever keeps the record can make and end links."
        )


@blueprint.get("/people", endpoint="people")
def people_page() -> str:
    """Show every link, when each was last used, and how another is made."""
    return _people_shown()


def _people_shown(told: str = "", asks_to_end: str = "") -> str:
    with Store(web().store_path) as store:
        now = web().clock().astimezone(store.zone)
        shown = [
            LinkShown(a.name, a.may == "record", last_used_said(a, now), a.ended is not None)
            for a in read_links(store.db)
            if me().link in (None, a.id)
        ]
        return render_template(
            "bench_people.html", line=store.latest_line(), back="people", told=told,
            standing=[one for one in shown if not one.ended],
            ended=[one for one in shown if one.ended], asks_to_end=asks_to_end,
        )  # fmt: skip


@blueprint.post("/people", endpoint="link_made")
def link_made() -> Response:
    """Make a link and show its codes."""
    _keeper_only()
    name = " ".join(request.form.get("name", "").split())
    try:
        with tap() as store:
            may = "read" if request.form.get("reads") else "record"
            link = link_for(store, name, "read" if may == "read" else "record", web().clock())
    except (BadInput, Refused) as error:
        return Response(_people_shown(told=spoken(str(error))), 400)
    return redirect(url_for(".connect", name=link.name), 303)


@blueprint.post("/people/end", endpoint="link_ended")
def link_ended() -> Response:
    """End a link, after asking whether that is meant."""
    _keeper_only()
    name = request.form.get("name", "")
    if request.form.get("sure") != "1":
        with tap():
            return Response(_people_shown(asks_to_end=name))
    try:
        with tap() as store:
            end_link(store, name, web().clock())
    except Refused as error:
        return Response(_people_shown(told=spoken(str(error))), 409)
    return redirect(url_for(".people"), 303)


@blueprint.get("/connect", endpoint="connect")
def connect_page() -> str:
    """Show the two codes of a link, and what to do where a phone cannot reach the record."""
    with Store(web().store_path) as store:
        there = reach(store.db, request.host_url.rstrip("/"))
        link = _link_asked(store)
        return render_template(
            "bench_connect.html", line=store.latest_line(), back="people", there=there,
            name=link.name if link else "this record", link=link,
            codes=_codes(store, there, link), by_name=found_by_name(there),
            opens=web().lets_in is not None,
        )  # fmt: skip


@blueprint.post("/let-in", endpoint="let_in")
def let_phones_in() -> Response:
    """Open the record to the home network, where so far only this computer reached it."""
    _keeper_only()
    with tap() as store:
        open_door = web().lets_in
        if open_door is not None and reach(store.db, request.host_url.rstrip("/")).base is None:
            open_door()
            until_reached(store.db, request.host_url.rstrip("/"))
    return redirect(url_for(".connect", name=request.form.get("name") or None), 303)


def _link_asked(store: Store) -> Link | None:
    """Return the link whose codes are asked for, None for the keeper's own addresses.

    A person who came by a link is shown that link and no other.
    """
    if (own := me().link) is not None:
        return next(one for one in read_links(store.db) if one.id == own)
    name = request.args.get("name", "")
    try:
        return standing_link(store, name) if name else None
    except Refused as error:
        raise _no_such(str(error)) from None


def _no_such(text: str) -> HTTPException:
    return ToldKindly(404, "No such link", spoken(text))


def _codes(store: Store, there: Reach, link: Link | None) -> Codes | None:
    if there.base is None:
        return None
    held = link or ensure_tokens(store)
    bench = f"{there.base}/bench/{held.bench}/"
    calendar = f"{there.base}/calendar/{held.calendar}/all.ics"
    subscribe = webcal(calendar)
    return Codes(
        bench, qr_code(bench, "The bench as a QR code"), calendar, subscribe,
        qr_code(subscribe, "The calendar as a QR code"),
    )  # fmt: skip
