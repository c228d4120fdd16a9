"""Send the reminders to a calendar of the keeper's own, on a server that the keeper names."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

from flask import current_app, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from scheduler.feed.address import address, sends_in_clear
from scheduler.feed.passwords import keyring_keeps, known_password
from scheduler.page import tap, web
from scheduler.page.bench.forms import Given
from scheduler.page.bench.looks import blueprint
from scheduler.page.bench.sending import Errand, RecordServed, Sending
from scheduler.page.feeds import WORDS
from scheduler.page.spoken import spoken
from scheduler.page.visitors import ToldKindly, me
from scheduler.page.web import from_this_computer
from scheduler.record.store import Store
from scheduler.words.problems import BadInput

AGAIN_SECONDS = 2
HOW_OFTEN = {"15": "every quarter of an hour", "60": "every hour", "1440": "once a day"}
"""Minutes between two sendings, with their words."""

_IN_CLEAR = (
    "This is http without encryption: your password would cross the network in clear, for anyone"
    " who listens there. Write https, or tick that you know"
)


def sending() -> Sending:
    """Return the sending to a calendar of this app."""
    kept: Sending = current_app.extensions.setdefault("wingrest_sending", Sending())
    return kept


def _keeper_alone() -> None:
    if me().link is not None:
        raise ToldKindly(
            403,
            "Not on this link",
            "Only whoever keeps the record can send its calendar to a server.",
        )
    if request.method == "POST" and web().is_invented:
        raise ToldKindly(403, "Not from here", "What is invented is sent to no calendar.")


@blueprint.get("/publish", endpoint="publish")
def publish_page() -> Response:
    """Show the form for the server, what would change there, and how far a sending is."""
    return _publish_shown()


def _publish_shown(told: str = "", typed: Given | None = None) -> Response:
    _keeper_alone()
    going = copy(sending())
    with Store(web().store_path) as store:
        page = render_template(
            "bench_publish.html", line=store.latest_line(), back="publish", told=told,
            typed=typed or _typed_before(going.last), going=going, held=sending().held(),
            can=find_spec("caldav") is not None, keeps=keyring_keeps(), safe=_safe_to_type(),
            kinds=WORDS, every=HOW_OFTEN, twice=lambda names: [(n, n) for n in names],
            rooms=web().shelf.rooms(), people=web().shelf.people(),
        )  # fmt: skip
    answer = make_response(page, 400 if told else 200)
    if going.running:
        answer.headers["Refresh"] = str(60 if going.told else AGAIN_SECONDS)
    return answer


def _typed_before(last: Errand | None) -> Given:
    """Return the form as it was filled in last, without the password."""
    form = request.args.copy()
    form.clear()
    if last is not None:
        form.update({"at": last.at, "user": last.user, "ca_file": last.ca_file or ""})
        form.update({n: str(v) for n, v in last.which.items() if isinstance(v, str)})
    return Given(form)


def _safe_to_type() -> bool:
    """Say whether nobody can read a password on its way here: over TLS, or on this computer."""
    return request.is_secure or from_this_computer() is True


@blueprint.post("/publish", endpoint="published")
def publish_wished() -> Response:
    """Begin to look what would change in a calendar, or to send it."""
    _keeper_alone()
    given = Given(request.form)
    with tap():  # only for a form of ours
        try:
            errand = _errand(given)
        except BadInput as error:
            return _publish_shown(spoken(str(error)), given)
        sending().begin(_record(), errand, looks=given.text("do") != "send")
    return redirect(url_for(".publish"), 303)


def _errand(given: Given) -> Errand:
    """Return what the form asks for; raise BadInput for what is missing or unsafe."""
    at, named = address(given.text("at"))
    user = given.text("user") or named
    if not user:
        raise BadInput("no user is named. Give your name on the calendar server")
    if sends_in_clear(at) and not given.ticked("clear"):
        raise BadInput(_IN_CLEAR)
    typed = request.form.get("password", "")
    if typed and not _safe_to_type():
        raise BadInput(
            "a password typed on this phone would cross your network without encryption. Send"
            " the calendar from the computer that holds the record"
        )
    password = typed or known_password(at, user)
    if not password:
        raise BadInput("there is no password, and none is kept for this server. Type it")
    ca_file = given.maybe("ca_file")
    if ca_file is not None and not Path(ca_file).is_file():
        raise BadInput(f"{ca_file} is no file of this computer")
    wait = given.whole("timeout", "seconds to wait")
    every = given.text("every")
    return Errand(
        at, user, password, _which(given),
        remove=given.text("do") == "remove",
        keep=bool(typed) and given.ticked("keep") and keyring_keeps(),
        every_min=int(every) if every in HOW_OFTEN else None,
        timeout_s=min(max(wait or 30, 1), 600), ca_file=ca_file,
    )  # fmt: skip


def _which(given: Given) -> dict[str, object]:
    return {
        "kind": given.maybe("kind"),
        "room": given.maybe("room"),
        "who": given.maybe("person"),
        "most": given.whole("most", "how many events") or None,
    }


@blueprint.post("/publish/on", endpoint="publish_on")
def publish_goes_on() -> Response:
    """Begin to send what was looked at, or to look into the calendar chosen from an account."""
    _keeper_alone()
    number = Given(request.form).whole("calendar", "the calendar")
    with tap():
        errand, found = sending().held(), sending().found
        if errand is None or (number is not None and number >= len(found)):
            return _publish_shown("you looked too long ago to send it now. Fill it in once more")
        if number is None:
            sending().begin(_record(), errand, looks=False)
        else:
            there = replace(errand, at=found[number].url, keep=False)
            sending().begin(_record(), there, looks=True)
    return redirect(url_for(".publish"), 303)


@blueprint.post("/publish/stop", endpoint="publish_ended")
def publish_stops() -> Response:
    """Stop sending."""
    _keeper_alone()
    with tap():
        sending().stop()
    return redirect(url_for(".publish"), 303)


def _record() -> RecordServed:
    return RecordServed(web().store_path, web().rules, web().clock)
