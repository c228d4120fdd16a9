"""The first hour: from an empty record to the first plan, by a list or by hand."""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

from flask import abort, redirect, url_for
from werkzeug.wrappers import Response

from scheduler.page import tap, web
from scheduler.page.bench.deed_pages import FormShown, form_shown
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.record.store import Store
from scheduler.view import View
from scheduler.words import wording


@blueprint.context_processor
def _in_every_page() -> dict[str, object]:
    return {"surroundings": web()}


@blueprint.post("/invented", endpoint="invented")
def invented_begun() -> Response:
    """Make the invented record if there is none, and lead to it."""
    with tap():  # only for a form of ours
        beside = web().invented
    if beside is None or web().is_invented:
        abort(404)
    return redirect(beside.begin(url_for(".today")), 303)


@blueprint.post("/next-morning", endpoint="next_morning")
def next_morning() -> Response:
    """Move the invented record's clock on to the next morning."""
    with tap():
        beside = web().invented
    if beside is None or not web().is_invented:
        abort(404)
    beside.next_morning()
    return redirect(url_for(".today"), 303)


class StepShown(NamedTuple):
    """A step of the first hour: its form, and in words what is recorded of it already."""

    title: str
    there: str
    form: FormShown | None


@blueprint.get("/begin", endpoint="begin")
def begin_page() -> str:
    """Lead from an empty record to the first plan."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        return page_shown(
            store, "bench_begin.html", line, view, back="begin", steps=list(_steps(view)),
            ready=bool(view.boards and view.waiting and view.sessions_ahead),
            planned=view.kept is not None,
        )  # fmt: skip


def _steps(view: View) -> list[StepShown]:
    rooms, boards, waits = len(view.rooms), len(view.boards), len(view.waiting)
    zone = view.facts.settings.timezone if view.facts.latest else ""
    one_room = next(iter(view.rooms)) if rooms == 1 else ""
    return [
        StepShown(
            "Where you are", zone, form_shown("settings", view, {"timezone": zone or own_zone()})
        ),
        StepShown(
            "A room in which boards stand",
            wording.counted(rooms, "room") if rooms else "",
            form_shown("room", view),
        ),
        StepShown(
            "Your boards",
            wording.counted(boards, "board") if boards else "",
            form_shown("boards", view, {"room": one_room}) if rooms else None,
        ),
        StepShown(
            "When you have time",
            wording.counted(len(view.sessions_ahead), "session") if view.sessions_ahead else "",
            form_shown("session", view),
        ),
        StepShown(
            "What waits",
            wording.counted(waits, "specimen") if waits else "",
            form_shown("add", view),
        ),
    ]


def own_zone() -> str:
    """Return the name of this computer's time zone, "" where it is not known."""
    named = os.environ.get("TZ", "").lstrip(":")
    if "/" in named and not named.startswith("/"):
        return named
    place = Path("/etc/localtime")
    parts = str(place.resolve()).partition("zoneinfo/") if place.exists() else ("", "", "")
    return parts[2]
