"""What a tap records: each form calls one deed, once, and it can be taken back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import timedelta
from typing import Any, TypeVar, get_args

from flask import g, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from scheduler.deeds.chamber import relax
from scheduler.deeds.mount import mount_one, mount_session
from scheduler.deeds.mount_list import mount_list, read_list
from scheduler.deeds.outcome import Outcome
from scheduler.deeds.release import release
from scheduler.deeds.rooms import move, read_dial
from scheduler.deeds.testing import record_test
from scheduler.deeds.undo import AskFirst, undo
from scheduler.page import AlreadyRecorded, Overtaken, tap, web
from scheduler.page.bench.looks import blueprint, said_lately
from scheduler.page.bench.notices import line_of, lines_since
from scheduler.page.spoken import spoken
from scheduler.page.visitors import me
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Verdict

_T = TypeVar("_T")

NAME_MOST = 60
"""The most letters of the name of whoever tapped; longer names are cut."""
REASON_MOST = 300
WAITED_MOST_S = 14 * 24 * 3600
NAMED_PAGES = ("board", "specimen", "session")
PLAIN_PAGES = ("boards", "weeks", "journal", "plan", "waiting", "air", "begin", "paper", "record")
"""The pages that a form may come back to, with a name and without one."""
DAY_PAGES = {"today": (), "work": ("at", "then", "over")}
"""Pages of a person's day, with the fields of their forms that name a place on the page."""


@blueprint.post("/test")
def tested() -> Response:
    """Record that the tested specimens were stiff, or soft."""
    verdict = next((v for v in get_args(Verdict) if v == request.form.get("verdict")), None)

    def record(store: Store, when: When) -> Outcome:
        aside = web().mender
        asked = aside.ask if aside else None
        return record_test(store, web().rules, _those(), _given(verdict), (), when, asked)

    return did(record)


@blueprint.post("/release")
def released() -> Response:
    """Record what came off; where that was too early, only with a reason."""
    early = _text("early", REASON_MOST) if "early" in request.form else None

    def record(store: Store, when: When) -> Outcome:
        return release(store, web().rules, _those(), early, when)

    return did(record)


@blueprint.post("/move")
def moved() -> Response:
    """Record that a board was carried into another room."""
    return did(lambda s, when: move(s, web().rules, _text("board"), _text("room"), when))


@blueprint.post("/mount-session")
def mounted_session() -> Response:
    """Record that a session was mounted as planned."""
    return did(lambda s, when: mount_session(s, web().rules, _text("session"), (), when))


@blueprint.post("/mount")
def mounted() -> Response:
    """Record one specimen mounted where it was planned."""

    def record(store: Store, when: When) -> Outcome:
        slot = _mm("from_mm"), _mm("to_mm")
        return mount_one(store, web().rules, _text("specimen"), _text("board"), slot, when)

    return did(record)


@blueprint.post("/mount-list")
def mounted_list() -> Response:
    """Record what was mounted on a board, from left to right."""

    def record(store: Store, when: When) -> Outcome:
        board, items = _text("board"), _text("specimens", 2000)
        _, read = read_list([f"{board}:", items])
        return mount_list(store, web().rules, board, read, when)

    return did(record)


@blueprint.post("/relax")
def relaxed() -> Response:
    """Record what went into the relaxing chamber."""
    return did(lambda s, when: relax(s, web().rules, _those(), when))


@blueprint.post("/dial", endpoint="read")
def read_air() -> Response:
    """Record what a room's dial says."""

    def record(store: Store, when: When) -> Outcome:
        temp = _text("temp", 20) or None
        return read_dial(store, web().rules, _text("room"), _text("rh", 20), temp, when)

    return did(record)


@blueprint.post("/undo")
def undone() -> Response:
    """Take a journal line back."""
    sure = _text("sure") == "1"
    return did(lambda s, when: undo(s, web().rules, _mm("take_back"), when, sure=sure))


def did(
    record: Callable[[Store, When], Outcome], refused: Callable[[Sequence[str]], str] | None = None
) -> Response:
    """Record what a form says, and lead back to its page, which says what was recorded.

    Where it is refused, `refused` makes the page that says why, with what was typed; without it a
    plain page does.
    """
    now = web().clock()
    when = When(now - _waited(), now, _who())
    try:
        with tap() as store:
            outcome = record(store, when)
            entry = line_of(store, outcome.line)
            key = said_lately().keep(entry, outcome, store, g.line_shown, g.get("paper"))
    except AlreadyRecorded as error:
        return _back(line=error.line, again=1)
    except AskFirst as ask:
        return _asked(ask)
    except Overtaken as error:
        return _refused(error)
    except (Refused, BadInput) as error:
        if refused is None:
            return _refused(error)
        return make_response(refused(_told(error)), _status(error))
    return _back(line=entry.line if entry else None, said=key)


def _who() -> str | None:
    """Return who tapped: the name of their link, or the name typed on the page or for `serve`."""
    return me().name or " ".join(_text("who", NAME_MOST).split()) or web().who


def _waited() -> timedelta:
    """Return how long a tap waited on its phone for reception, by the phone's own clock."""
    text = _text("waited", 9)
    return timedelta(seconds=min(int(text), WAITED_MOST_S) if text.isdecimal() else 0)


def _asked(ask: AskFirst) -> Response:
    """Return a page that asks again, and says what would be taken back."""
    with Store(web().store_path) as store:
        page = render_template(
            "bench_ask.html", text=str(ask), undo_line=ask.line, line=store.latest_line(),
            back=_text("back"), again=_place(),
        )  # fmt: skip
    return make_response(page, 409)


def _refused(error: Refused | BadInput) -> Response:
    with Store(web().store_path) as store:
        overtaken = isinstance(error, Overtaken)
        since = lines_since(store, g.line_shown) if overtaken else ()
        told = [t for t in _told(error) if not (overtaken and t.startswith("Line "))]
        page = render_template(
            "bench_refused.html", told=told, since=since, snap=store.snapshot(), again=_place()
        )
    return make_response(page, _status(error))


def _told(error: Refused | BadInput) -> list[str]:
    """Return what was refused and why, line by line, in the words of the page."""
    problems = getattr(error, "problems", ())
    return [spoken(text) for text in (*map(str, problems), *str(error).splitlines())]


def _status(error: Refused | BadInput) -> int:
    return 400 if isinstance(error, BadInput) else 409


def _back(**shown: Any) -> Response:
    return redirect(_place(**{k: v for k, v in shown.items() if v is not None}), 303)


def _place(**shown: Any) -> str:
    """Return the address of the page a form was on, built here and never taken from the form."""
    kind, _, name = _text("back").partition("/")
    if spot := _text("spot", 100):
        shown |= {"spot": spot, "_anchor": spot} if kind == "today" else {"_anchor": spot}
    if kind in DAY_PAGES:
        asked = {n: _text(n) for n in DAY_PAGES[kind] if request.form.get(n)}
        if "day_of" in request.form:
            asked["who"] = _text("day_of")
        return url_for(f".{kind}", **(shown | asked))
    if kind in NAMED_PAGES:
        return url_for(f".{kind}", name=name, **shown)
    return url_for(f".{kind}" if kind in PLAIN_PAGES else ".today", **shown)


def _those() -> list[str]:
    return _given(request.form.getlist("specimen") or None)


def _text(name: str, most: int = 500) -> str:
    return request.form.get(name, "").strip()[:most]


def _mm(name: str) -> int | None:
    text = _text(name, 19)
    if not text:
        return None
    if not (text.isascii() and text.isdecimal()):
        raise BadInput(f"{text!r} is no whole number. Open the page again")
    return int(text)


def _given(value: _T | None) -> _T:
    if value is None:
        raise BadInput("the form does not say what. Open the page again")
    return value
