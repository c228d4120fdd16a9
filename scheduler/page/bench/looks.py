"""The pages that only show: today, the boards, the weeks, one board, the journal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from flask import Blueprint, abort, current_app, render_template, request
from markupsafe import Markup, escape

from scheduler.drying.answer import Answer
from scheduler.drying.dates import DateSpan
from scheduler.faces.probes import probe_said
from scheduler.faces.slots_taken import held_said
from scheduler.looks.today import PutIn
from scheduler.page import web
from scheduler.page.bench.faces import bars_by_board, chart_of, faces, span
from scheduler.page.bench.notices import Said, notice_for
from scheduler.page.bench.proof import proof_said
from scheduler.page.bench.remembered import remembered
from scheduler.page.bench.sifting import Sifted, sift_choices, sift_of, sifted, sifted_boards
from scheduler.page.bench.symbols import papers, sign
from scheduler.page.bench.weeks import bar_said, weeks_head, weeks_row
from scheduler.page.bench.work_cards import how_many_cards
from scheduler.page.spoken import spoken, way_on
from scheduler.page.visitors import me
from scheduler.record.journal import read_journal
from scheduler.record.store import Store
from scheduler.view import View, view_of
from scheduler.words import cautions, names, wording
from scheduler.words.names import natural_order
from scheduler.words.people import people_of
from scheduler.words.records import Specimen

blueprint = Blueprint("bench", __name__)
JOURNAL_LINES = 40
DRAWN_MOST, ROWS_MOST = 24, 60
"""The most boards on a page where there are many: drawn with what stands on them, or as rows."""

PLACES_TO_GO = (
    ("today", "Today"),
    ("plan", "Plan"),
    ("boards", "Boards"),
    ("weeks", "Weeks"),
    ("waiting", "Waiting"),
    ("find", "Find"),
    ("journal", "Journal"),
    ("more", "More"),
)
"""The pages that every page links to, with their titles."""

ANSWERS_SAID: dict[Answer, str] = {
    "empty": "empty",
    "take off": "stiff: take off",
    "test it now": "test it now",
    "dry, but not today": "dry, but not today",
    "not yet": "not yet",
    "cannot say": "cannot say",
}


def said_lately() -> Said:
    """Return what was said after the latest taps of this app."""
    kept: Said = current_app.extensions.setdefault("wingrest_said", Said())
    return kept


blueprint.add_app_template_filter(spoken, "spoken")


@blueprint.context_processor
def _in_every_page() -> dict[str, object]:
    return {"places": PLACES_TO_GO, "way_on": way_on}


@blueprint.app_template_filter("weekday")
def _weekday(when: date) -> str:
    return wording.weekday(when, web().clock())


@blueprint.app_template_filter("day")
def _day(when: date) -> str:
    return wording.day(when, web().clock())


@blueprint.app_template_filter("dated")
def _dated(when: date) -> str:
    return wording.with_year(when)


@blueprint.app_template_filter("moment")
def _moment(when: datetime) -> str:
    return wording.moment(when, web().clock())


@blueprint.app_template_filter("between")
def _between(span: DateSpan) -> str:
    """Return in words between which dates a date lies, "" where both are the same."""
    return wording.between(*span, web().clock())


@blueprint.app_template_filter("from_boxes")
def _from_boxes(boxes: Sequence[tuple[str, Sequence[str]]]) -> str:
    return wording.from_boxes(boxes)


@blueprint.app_template_filter("listed")
def _listed(those: Sequence[str]) -> Markup:
    # The class keeps a line from breaking at the hyphens of an id.
    return Markup(wording.listed(f'<span class="id">{escape(name)}</span>' for name in those))


@blueprint.get("/", strict_slashes=False, endpoint="today")
def today_page() -> str:
    """Show what the day asks for."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        who, sift = asked_person(view), sift_of(request.args)
        day = remembered().today(view, who)
        shown = sifted(view, day, sift)
        found = {f.name: f for f in faces(view, shown.boards)}
        near, later = _near_and_later(day.put_in, day.at.date())
        return page_shown(
            store, "bench_today.html", line, view, back="today", day=day, faces=found,
            shown=shown, sift=sift, choices=sift_choices(view),
            who=who, day_of=who or "", people=people_of(view.sessions.values()),
            cards=how_many_cards(day), spots=_spots(shown),
            near=near, later=later, probes=[(probe_said(p), p.specimens) for p in day.probes],
            held_said=held_said,
            empty=not (view.boards or view.specimens or view.rooms),
            boards_of=lambda named: _boards_of(view, named),
        )  # fmt: skip


@blueprint.get("/boards", endpoint="boards")
def boards_page() -> str:
    """Show every board drawn to scale."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        sift = sift_of(request.args)
        shown = sifted_boards(view, sift, DRAWN_MOST)
        return page_shown(
            store, "bench_boards.html", line, view, back="boards",
            faces=faces(view, shown.boards), shown=shown, sift=sift, choices=sift_choices(view),
        )  # fmt: skip


@blueprint.get("/weeks", endpoint="weeks")
def weeks_page() -> str:
    """Show boards against weeks."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        day = view.now.date()
        sift = sift_of(request.args)
        shown = sifted_boards(view, sift, ROWS_MOST)
        found = faces(view, shown.boards)
        rows = bars_by_board(found, view)
        weeks_shown = span(rows, view.now)
        return page_shown(
            store, "bench_weeks.html", line, view, back="weeks", faces=found,
            shown=shown, sift=sift, choices=sift_choices(view),
            head=weeks_head(weeks_shown, day),
            rows={name: weeks_row(name, bars, weeks_shown, day) for name, bars in rows.items()},
            words={name: [bar_said(b, day) for b in bars] for name, bars in rows.items()},
        )  # fmt: skip


@blueprint.get("/board", endpoint="board")
def board_page() -> str:
    """Answer whether one board can be freed yet, with the evidence."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        asked = names.lookup(request.args.get("name", ""), view.boards)
        if asked is None:
            abort(404)
        face = next(f for f in faces(view) if f.name == asked.board)
        here = view.room_of(asked.board)
        rests_on = {o.specimen.specimen: view.evidence(o) for o in view.standing(asked.board)}
        return page_shown(
            store, "bench_board.html", line, view, back=f"board/{face.name}", face=face,
            rooms=[r for r in view.rooms.values() if here is None or r.room != here.room],
            proof={
                s.specimen: proof_said(rests_on[s.specimen], s, view.now.date())
                for s in face.standing
            },
            label_data=label_data_of, here=here, chart=chart_of(view, here),
            waiting=[one.specimen.specimen for one in view.waiting],
        )  # fmt: skip


@blueprint.get("/journal", endpoint="journal")
def journal_page() -> str:
    """Show what was recorded lately, each line with its undo."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        lines = tuple(reversed(read_journal(store, JOURNAL_LINES)))
        return page_shown(store, "bench_journal.html", line, view, back="journal", lines=lines)


def page_shown(
    store: Store, template: str, line: int, view: View, *, back: str, **more: object
) -> str:
    """Return a page; `line` is the latest journal line it shows, `back` where its forms lead."""
    return render_template(
        template,
        line=line,
        back=back,
        snap=view.facts,
        notice=notice_for(store, said_lately(), request.args),
        notice_key=request.args.get("said", ""),
        said=ANSWERS_SAID,
        sign=sign,
        papers=papers,
        cautions=_cautions(),
        **more,
    )


def opened(store: Store) -> tuple[int, View]:
    """Return the latest journal line and a view of the record.

    The line is read first: what is recorded in between is then seen, and only counts as new again.
    """
    line = store.latest_line()
    view = view_of(store, web().rules, web().clock())
    remembered().lend(view)
    return line, view


def asked_person(view: View) -> str | None:
    """Return whose day is asked for, by the address, else by the link; None for everybody's."""
    known = {name: name for name in people_of(view.sessions.values())}
    return names.lookup(request.args.get("who", me().name or ""), known)


def _spots(shown: Sifted) -> set[str]:
    """Return the ids that the entries of boards have on the page: the task and the board."""
    due = {"test": shown.test, "wait": shown.wait}
    found = {f"{kind}-{entry.board}" for kind, entries in due.items() for entry in entries}
    return found | {f"off-{entry.board}" for entry in shown.off}


def _near_and_later(
    put_in: Sequence[PutIn], day: date
) -> tuple[list[PutIn], list[tuple[date, int]]]:
    """Return what goes into the chamber by tomorrow night, and how many on each later date."""
    near = [p for p in put_in if p.by.date() <= day + timedelta(days=1)]
    later: Counter[date] = Counter()
    for p in put_in:
        if p not in near:
            later[p.by.date()] += len(p.specimens)
    return near, sorted(later.items())


def _boards_of(view: View, named: Sequence[str]) -> list[str]:
    """Return the boards that some names concern; they may name boards, specimens or rooms."""
    found = {name for name in named if name in view.boards}
    for one in view.standing():
        in_room = one.room is not None and one.room.room in named
        if in_room or one.specimen.specimen in named:
            found.add(one.board.board)
    return sorted(found, key=natural_order)


def label_data_of(specimen: Specimen) -> list[str]:
    """Return the label data that must stay with a specimen: where, when, who, host plant."""
    terms = ("locality", "eventDate", "recordedBy", "associatedTaxa")
    return [specimen.label[term] for term in terms if specimen.label.get(term)]


def _cautions() -> dict[str, str]:
    return {
        name.lower(): text
        for name, text in vars(cautions).items()
        if name.isupper() and isinstance(text, str)
    }
