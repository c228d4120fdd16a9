"""Another board for a planned specimen: where it fits; the plan keeps what a person chooses."""

from __future__ import annotations

from collections.abc import Sequence
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
"""The most boards that are drawn; where more fit, the tightest are."""


class PlaceShown(NamedTuple):
    """A place as the page offers it; `here` says that it is the planned one."""

    place: Elsewhere
    drawing: Markup
    here: bool


@blueprint.get("/elsewhere", endpoint="elsewhere")
def elsewhere_page() -> str:
    """Show the boards on which a specimen can be mounted at a session, each with its place."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        specimen = names.lookup(request.args.get("specimen", ""), view.specimens)
        if specimen is None:
            abort(404)
        planned = view.planned_for(specimen.specimen)
        problem = build_problem(view) if view.kept and view.sessions_ahead else None
        asked = request.args.get("session") or (planned.session if planned else "")
        session = _session(view, asked, _window(problem, specimen))
        places = _places(view, specimen, session, problem) if session and problem else []
        back = f"session/{session.session}" if session else "plan"
        return page_shown(
            store, "bench_elsewhere.html", line, view, back=back, specimen=specimen,
            planned=planned, session=session, offered=places[:DRAWN_MOST_PLACES],
            snap_kept=view.kept is not None,
            soft=session is None or session.session in _window(problem, specimen),
            waits=any(one.specimen is specimen for one in view.waiting),
            misfit=problem.misfits.get(specimen.specimen, "") if problem else "",
            more=len(places) - DRAWN_MOST_PLACES,
            others=[s for s in view.sessions_ahead if s is not session],
            pin=view.rules.pin(size.body_mm).pin if (size := view.size(specimen)) else "",
        )  # fmt: skip


def _session(view: View, asked: str, window: Sequence[str]) -> Session | None:
    """Return the session that is asked for, else the first at which it may be mounted."""
    ahead = {s.session: s for s in view.sessions_ahead}
    if asked:
        return names.lookup(asked, ahead)
    return next((ahead[name] for name in (*window, *ahead) if name in ahead), None)


def _window(problem: PlanProblem | None, specimen: Specimen) -> Sequence[str]:
    """Return the sessions at which it is soft and not lost yet."""
    for w in problem.waiting if problem else ():
        if problem and w.specimen == specimen.specimen:
            return [s.session for s in problem.sessions[w.first : w.last + 1]]
    return ()


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
    """Begin to mend the plan so that a specimen is on the wished board, and stays there."""
    given = Given(request.form)
    wish = PlanWish(put=(given.text("specimen"), given.text("session"), given.text("board")))
    with tap():  # only for a form of ours
        search_going().begin(web().store_path, web().rules, web().clock(), wish)
    return redirect(url_for(".plan"), 303)
