"""What a person's own work shows: tests room by room, predicted and found; the season's summary."""

from __future__ import annotations

from typing import NamedTuple

from markupsafe import Markup
from werkzeug.wrappers import Response

from scheduler.faces.evidence import room_says_said, too_few_said
from scheduler.faces.summary import BOARDS_HEAD, boards_used, summary_head, summary_said
from scheduler.looks.predicted import foretold
from scheduler.looks.rooms import RoomLesson, rooms
from scheduler.looks.summary import SeasonSummary, summary, the_season
from scheduler.page import web
from scheduler.page.bench.dots import dots
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.record.history import known_since, lost_at
from scheduler.record.store import Store
from scheduler.view import View


class LessonShown(NamedTuple):
    """What a room's tests say, what in them does not fit, and their picture."""

    room: str
    said: str
    doubts: tuple[str, ...]
    picture: Markup


@blueprint.get("/tests", endpoint="lessons")
def lessons_page() -> str:
    """Show for each room what its own dryness tests say about the table's days."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        shown = [_shown(lesson, view) for room in rooms(view) for lesson in room.lessons]
        least = round(view.rules.limit("learn_least_tests"))
        share = view.facts.settings.dry_share_pct
        return page_shown(
            store,
            "bench_lessons.html",
            line,
            view,
            back="lessons",
            lessons=shown,
            least=least,
            share=share,
        )


@blueprint.get("/season", endpoint="season")
def season_page() -> str:
    """Show the summary of the season."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        found = _season(store, view)
        return page_shown(
            store,
            "bench_season.html",
            line,
            view,
            back="season",
            head=summary_head(found),
            said_of_it=summary_said(found),
            boards_head=BOARDS_HEAD,
            boards=boards_used(found),
        )


@blueprint.get("/season.pdf", endpoint="season_printed")
def season_pdf() -> Response:
    """Send the summary of the season as PDF."""
    from scheduler.paper.summary import summary_pages

    with Store(web().store_path) as store:
        _, view = opened(store)
        found = _season(store, view)
    return Response(summary_pages(found).to_bytes(), mimetype="application/pdf")


def _season(store: Store, view: View) -> SeasonSummary:
    return summary(view, *the_season(view, view.now.date()), lost_at(store), known_since(store))


def _shown(lesson: RoomLesson, view: View) -> LessonShown:
    assert view.lessons is not None
    says = lesson.says
    tested = next(one for d, one in view.lessons.rooms.items() if d.said == says.room)
    least = view.rules.limit("learn_least_tests")
    said = room_says_said(says) if lesson.enough else too_few_said(says, least)
    picture = dots(says.room, foretold(tested, view.rules))
    return LessonShown(says.room, said, tuple(d.text for d in lesson.doubts), picture)
