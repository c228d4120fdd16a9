"""Pages for the plan, which is made in the background, a session's sheet, and a free evening."""

from __future__ import annotations

from copy import copy
from datetime import datetime, timedelta

from flask import abort, current_app, make_response, redirect, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from scheduler.deeds.mount import mount_session
from scheduler.deeds.plan import PlanWish
from scheduler.looks.evening import evening
from scheduler.looks.session_day import PaperSlip, SessionDay, board_then, session_day
from scheduler.looks.today import today
from scheduler.page import tap, web
from scheduler.page.bench.deed_pages import form_shown
from scheduler.page.bench.deeds import did
from scheduler.page.bench.drawing import Standing, board_drawing
from scheduler.page.bench.forms import Given
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.page.bench.searching import PlanSearch
from scheduler.planner.best import Effort
from scheduler.planner.problem import Planned
from scheduler.record.store import Store
from scheduler.view import View
from scheduler.words import names
from scheduler.words.problems import BadInput

EFFORTS: tuple[Effort, ...] = ("quick", "normal", "thorough")
LOOK_AGAIN_SECONDS = 2


def search_going() -> PlanSearch:
    """Return the search for a plan of this app."""
    kept: PlanSearch = current_app.extensions.setdefault("wingrest_search", PlanSearch())
    return kept


@blueprint.get("/plan", endpoint="plan")
def plan_page() -> Response:
    """Show the sessions ahead, what is planned for each, and how far a search is."""
    # It is copied before the record is read: a search shown as ended then has its plan shown.
    search = copy(search_going())
    with Store(web().store_path) as store:
        line, view = opened(store)
        ids = {one.specimen.specimen for one in view.waiting}
        page = page_shown(
            store, "bench_plan.html", line, view, back="plan", search=search,
            sessions=[(s, view.local(s.start), view.planned_at(s.session))
                      for s in view.sessions_ahead],
            reasons=_reasons(view, ids), waits=len(ids),
            left=len(ids - {p.specimen for p in view.planned}),
            kept=view.kept, why=[w.text for w in today(view).worries if w.kind == "plan"],
            away=[a for a in view.facts.away if a.to_day >= view.now.date()],
            forms=[form_shown("session", view), form_shown("away", view)],
        )  # fmt: skip
    answer = make_response(page)
    if search.running:
        answer.headers["Refresh"] = str(LOOK_AGAIN_SECONDS)
    return answer


def _reasons(view: View, ids: set[str]) -> list[tuple[str, list[str]]]:
    """Return each reason why specimens have no place, with these; the most frequent first."""
    found: dict[str, list[str]] = {}
    for name, why in view.kept.plan.unplaced if view.kept else ():
        if name in ids and view.planned_for(name) is None:
            found.setdefault(why, []).append(name)
    return sorted(found.items(), key=lambda one: -len(one[1]))


@blueprint.post("/plan", endpoint="planned")
def planned() -> Response:
    """Begin to plan; the page Plan shows how far it is."""
    given = Given(request.form)
    effort = next((e for e in EFFORTS if e == given.text("effort")), None)
    wish = PlanWish(effort=effort, anew=given.ticked("anew"), keep=tuple(given.those(need=False)))
    with tap():  # only for a form of ours
        search_going().begin(web().store_path, web().rules, web().clock(), wish)
    return redirect(url_for(".plan"), 303)


@blueprint.post("/plan/stop", endpoint="stopped")
def stopped() -> Response:
    """End the search with the best plan so far."""
    with tap():
        search_going().stop()
    return redirect(url_for(".plan"), 303)


@blueprint.get("/session", endpoint="session")
def session_page() -> str:
    """Show a session's sheet: chamber, tests, mounting order, the boards as they will lie."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        asked = names.lookup(request.args.get("name", ""), view.sessions)
        if asked is None:
            abort(404)
        day = session_day(view, asked)
        pins = {s.specimen.specimen: s.pin for s in day.slips}
        return page_shown(
            store, "bench_session.html", line, view, back=f"session/{asked.session}", day=day,
            pins=pins, drawn=_drawn(view, day), over=_over(view, day),
            inside={s.specimen for s in view.facts.in_chamber()},
            forms=[form_shown("minutes", view, {"session": asked.session})],
        )  # fmt: skip


@blueprint.post("/mounted-some", endpoint="mounted_some")
def mounted_some() -> Response:
    """Record that a session was mounted as planned, except for those that were not ticked."""
    given = Given(request.form)
    name, done = given.text("session"), set(given.those(need=False))

    with Store(web().store_path) as look:
        _, view = opened(look)
        left_out = [p.specimen for p in view.planned_at(name) if p.specimen not in done]
    return did(lambda s, when: mount_session(s, web().rules, name, left_out, when))


@blueprint.get("/evening", endpoint="evening")
def evening_page() -> str:
    """Show what could be mounted on a free evening, and how to record it. Nothing is kept."""
    given = Given(request.args)
    with Store(web().store_path) as store:
        line, view = opened(store)
        made, told = None, ""
        if given.text("day"):
            try:
                minutes = given.whole("minutes", "minutes") or 0
                if not minutes:
                    raise BadInput("how long is it? Give the minutes")
                made = evening(view, _moment(given, view), minutes)
            except BadInput as error:
                told = str(error)
        boards: dict[str, list[Planned]] = {}
        for p in made.planning.plan.placements if made else ():
            boards.setdefault(p.board, []).append(p)
        return page_shown(
            store, "bench_evening.html", line, view, back="plan", made=made, told=told,
            by_board={b: sorted(ps, key=lambda p: p.from_mm) for b, ps in boards.items()},
            asked={n: given.text(n) for n in ("day", "clock", "minutes")},
        )  # fmt: skip


def _moment(given: Given, view: View) -> datetime:
    text = f"{given.text('day')}T{given.text('clock') or '19:00'}"
    try:
        return datetime.fromisoformat(text).replace(tzinfo=view.zone)
    except ValueError:
        raise BadInput(f"{text.replace('T', ' ')} is no moment") from None


def _over(view: View, day: SessionDay) -> bool:
    return day.start + timedelta(minutes=day.session.minutes) <= view.now


def _drawn(view: View, day: SessionDay) -> dict[str, Markup]:
    """Return the boards of a session as they will lie once it is mounted."""
    longest = max((view.boards[b].length_mm for b in day.boards), default=0)
    return {
        name: board_drawing(
            view.boards[name],
            [_standing(n, s, view) for n, s in enumerate(_lies(view, day, name), 1)],
            longest,
        )
        for name in day.boards
    }


def _lies(view: View, day: SessionDay, board: str) -> tuple[PaperSlip, ...]:
    return board_then(view, board, day.slips, day.off.get(board, ()))


def _standing(number: int, s: PaperSlip, view: View) -> Standing:
    name = s.specimen.specimen
    size = view.size(s.specimen)
    body, span = (size.body_mm, size.wingspan_mm) if size else (3.0, 0.0)
    one = view.on_board(name)
    answer = view.answer_of(one) if one else None
    return Standing(
        number, name, s.from_mm, s.to_mm, body, span or 0.0,
        answer.answer if answer else "not yet", answer.progress_pct if answer else None,
        coming=answer is None,
    )  # fmt: skip
