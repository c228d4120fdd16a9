"""The first hour: an empty record leads to a list, or by hand to rooms, boards and bench time."""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

from scheduler.page import web
from scheduler.page.bench.deed_pages import FormShown, form_shown
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.record.store import Store
from scheduler.view import View
from scheduler.words import wording


class StepShown(NamedTuple):
    """A step of the beginning: its form, and what is recorded of it already."""

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
    """Return the time zone that this computer keeps, "" where it does not say."""
    named = os.environ.get("TZ", "").lstrip(":")
    if "/" in named and not named.startswith("/"):
        return named
    place = Path("/etc/localtime")
    parts = str(place.resolve()).partition("zoneinfo/") if place.exists() else ("", "", "")
    return parts[2]
