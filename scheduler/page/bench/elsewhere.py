"""Another board for one that is planned: where it fits, chosen by a person, kept by the planner."""

from __future__ import annotations

from typing import NamedTuple

from flask import abort, redirect, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from scheduler.deeds.plan import PlanWish
from scheduler.looks.problem import build_problem
from scheduler.page import tap, web
from scheduler.page.bench.faces import place_drawing
from scheduler.page.bench.forms import Given
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.page.bench.plan_pages import search_going
from scheduler.planner.elsewhere import Elsewhere, places_for
from scheduler.planner.problem import PlanProblem
from scheduler.record.store import Store
from scheduler.view import View
from scheduler.words import names
from scheduler.words.records import Session, Specimen

DRAWN_MOST_PLACES = 12
"""So many boards are drawn; of more that fit, the tightest."""


class PlaceShown(NamedTuple):
    """A place as the page offers it; `here`: it is the one that is planned."""

    place: Elsewhere
    drawing: Markup
    here: bool


@blueprint.get("/elsewhere", endpoint="elsewhere")
def elsewhere_page() -> str:
    """Show the boards on which one may be mounted at a session, each with its place."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        specimen = names.lookup(request.args.get("specimen", ""), view.specimens)
        if specimen is None:
            abort(404)
        planned = view.planned_for(specimen.specimen)
        asked = request.args.get("session") or (planned.session if planned else "")
        session = _session(view, asked)
        problem = build_problem(view) if session and view.kept else None
        places = _places(view, specimen, session, problem) if session and problem else []
        back = f"session/{session.session}" if session else "plan"
        return page_shown(
            store, "bench_elsewhere.html", line, view, back=back, specimen=specimen,
            planned=planned, session=session, offered=places[:DRAWN_MOST_PLACES],
            snap_kept=view.kept is not None,
            soft=session is None or problem is None or _soft_by(problem, specimen, session),
            more=len(places) - DRAWN_MOST_PLACES,
            others=[s for s in view.sessions_ahead if s is not session],
            pin=view.rules.pin(size.body_mm).pin if (size := view.size(specimen)) else "",
        )  # fmt: skip


def _session(view: View, asked: str) -> Session | None:
    ahead = {s.session: s for s in view.sessions_ahead}
    return names.lookup(asked, ahead) if asked else next(iter(ahead.values()), None)


def _soft_by(problem: PlanProblem, specimen: Specimen, session: Session) -> bool:
    at = next((k for k, s in enumerate(problem.sessions) if s.session == session.session), -1)
    asked = (w for w in problem.waiting if w.specimen == specimen.specimen)
    return any(w.first <= at <= w.last for w in asked)


def _places(
    view: View, specimen: Specimen, session: Session, problem: PlanProblem
) -> list[PlaceShown]:
    if view.kept is None:
        return []
    name = specimen.specimen
    found = places_for(problem, view.kept.plan, name, session.session, view.kept.pinned - {name})
    planned = view.planned_for(name)
    now = planned and (planned.session, planned.board)
    return [
        PlaceShown(one, _drawing(view, specimen, one), now == (session.session, one.board))
        for one in found
    ]


def _drawing(view: View, specimen: Specimen, one: Elsewhere) -> Markup:
    gone = [
        s.specimen
        for s in view.answer(one.board).specimens
        if s.from_mm < one.to_mm and one.from_mm < s.to_mm
    ]
    return place_drawing(view, one.board, (one.from_mm, one.to_mm), specimen, gone)


@blueprint.post("/elsewhere", endpoint="put_elsewhere")
def put_elsewhere() -> Response:
    """Have the plan mended around one that is wanted on another board, and stays there."""
    given = Given(request.form)
    wish = PlanWish(put=(given.text("specimen"), given.text("session"), given.text("board")))
    with tap():  # only for a form of ours
        search_going().begin(web().store_path, web().rules, web().clock(), wish)
    return redirect(url_for(".plan"), 303)
