"""Pages for what waits, the air of every room, the record itself, and all that can be done."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import contextmanager
from typing import NamedTuple

from flask import request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from scheduler.deeds.outcome import Outcome
from scheduler.looks.check import ToAsk, check_record
from scheduler.looks.find import bare
from scheduler.looks.lists import ListRow, listing
from scheduler.page import web
from scheduler.page.bench.deed_pages import FORMS, form_shown
from scheduler.page.bench.deeds import did
from scheduler.page.bench.faces import chart_of
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.record.kept import kept_plan
from scheduler.record.snapshots import Snapshots, last_line
from scheduler.record.store import Store
from scheduler.view import View
from scheduler.words.records import Room

ROWS_SHOWN = 60
"""How many rows of a list are on one page; the others are a tap away."""

_SORTS = {
    "id": "by number",
    "longest": "longest frozen first",
    "session": "next session first",
}


class Chosen(NamedTuple):
    """Which waiting specimens are shown, in which order, and from which number on."""

    q: str
    where: str
    planned: str
    sort: str
    first: int


@blueprint.get("/waiting", endpoint="waiting")
def waiting_page() -> str:
    """Show what waits in freezer, fridge, papers and chamber: how long, and why not planned."""
    wanted = Chosen(
        request.args.get("q", "")[:200].strip(),
        request.args.get("where", "")[:60],
        request.args.get("planned", ""),
        request.args.get("sort", "id"),
        max(0, request.args.get("first", 0, int)),
    )
    with Store(web().store_path) as store:
        line, view = opened(store)
        every = listing(view, "waiting")
        found = _sorted([row for row in every if _is_wanted(row, wanted)], wanted.sort)
        shown = found[wanted.first : wanted.first + ROWS_SHOWN]
        return page_shown(
            store, "bench_waiting.html", line, view, back="waiting", wanted=wanted, rows=shown,
            found=len(found), every=len(every), sorts=_SORTS, further=_further(wanted, len(found)),
            where=sorted({str(row["place"]) for row in every if row["place"]}),
        )  # fmt: skip


def _is_wanted(row: ListRow, wanted: Chosen) -> bool:
    told = " ".join(bare(str(row[c])) for c in ("specimen", "lot", "taxon", "box") if row[c])
    return (
        all(f" {word}" in f" {told}" for word in bare(wanted.q).split())
        and wanted.where in ("", row["place"])
        and (wanted.planned == "" or (row["session"] is not None) == (wanted.planned == "yes"))
    )


def _sorted(rows: list[ListRow], sort: str) -> list[ListRow]:
    if sort == "longest":
        return sorted(rows, key=lambda r: -int(str(r["days_frozen"] or 0)))
    if sort == "session":
        return sorted(rows, key=lambda r: (r["session"] is None, str(r["session"])))
    return rows


def _further(wanted: Chosen, found: int) -> str | None:
    """Return the address of the rows after those shown, None where there are none."""
    after = wanted.first + ROWS_SHOWN
    return url_for(".waiting", **(wanted._asdict() | {"first": after})) if after < found else None


class RoomShown(NamedTuple):
    """A room: its air now in words, its chart, the boards in it, its loggers."""

    room: Room
    said: str
    chart: Markup | None
    boards: tuple[str, ...]
    loggers: tuple[str, ...]


@blueprint.get("/air", endpoint="air")
def air_page() -> str:
    """Show the air of every room, with forms to read it off, correct it, or bring in a file."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        rooms = [_room(view, room) for room in view.rooms.values()]
        asked = ("sensor", "room") if rooms else ("room",)  # without a room there is no sensor
        forms = [form_shown(name, view) for name in asked]
        return page_shown(store, "bench_air.html", line, view, back="air", rooms=rooms, forms=forms)


def _room(view: View, room: Room) -> RoomShown:
    air = view.air_now(room)
    standing = tuple(
        b for b in view.boards if (here := view.room_of(b)) is not None and here == room
    )
    loggers = tuple(view.facts.loggers_of(room.room))
    return RoomShown(room, str(air), chart_of(view, room), standing, loggers)


@blueprint.get("/record", endpoint="record")
def record_page() -> str:
    """Show whether the record and its snapshots are sound, and what can be downloaded."""
    with Store(web().store_path) as store:
        line, view = opened(store)

        @contextmanager
        def viewed():  # type: ignore[no-untyped-def]
            yield view

        asked = ToAsk(lambda: web().rules, lambda: kept_plan(store), viewed)
        return page_shown(
            store, "bench_record.html", line, view, back="record",
            checks=check_record(web().store_path, asked, view.now),
            snapshots=list(reversed(Snapshots(web().store_path).listed()))[:10],
            forms=[form_shown("settings", view, _settings(view))],
        )  # fmt: skip


def _settings(view: View) -> Mapping[str, str]:
    s = view.facts.settings
    return {
        "timezone": s.timezone,
        "chamber_places": "" if s.chamber_places is None else str(s.chamber_places),
        "chamber_time": f"{s.chamber_time:%H:%M}",
        "protected": ", ".join(s.protected),
    }


@blueprint.post("/snapshot", endpoint="snapshot")
def snapshot_taken() -> Response:
    """Take a snapshot of the record now."""

    def take(store: Store, _: object) -> Outcome:
        line, _at = last_line(store.db)
        if not line:
            return Outcome(("nothing is recorded yet, and so nothing to keep",))
        taken = Snapshots(store.path).take(store.db, web().clock())
        return Outcome(
            (f"a snapshot was taken, up to line {line}, and checked: {taken.file.name}",)
        )

    return did(take)


MORE: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Specimens", ("add", "relax", "thaw", "putback", "mount", "test", "release")),
    ("Afterwards", ("drooped", "lost", "bag", "lot", "labels", "handover")),
    ("Time", ("session", "minutes", "away")),
    ("Boards and rooms", ("boards", "room", "move", "use", "dial", "sensor")),
    ("For all", ("settings",)),
)
"""Every deed that has a form, grouped as the page More lists them."""


@blueprint.get("/more", endpoint="more")
def more_page() -> str:
    """Show everything that can be recorded and asked."""
    groups = [(title, [FORMS[name] for name in names]) for title, names in MORE]
    with Store(web().store_path) as store:
        line, view = opened(store)
        return page_shown(store, "bench_more.html", line, view, back="more", groups=groups)
