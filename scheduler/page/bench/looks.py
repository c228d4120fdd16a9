"""The pages that show: today, the boards, the weeks, one board, the journal. None records."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from itertools import zip_longest

from flask import Blueprint, abort, current_app, render_template, request
from markupsafe import Markup

from scheduler.drying.answer import Answer
from scheduler.drying.evidence import evidence_of
from scheduler.looks.today import PutIn
from scheduler.looks.today import today as what_today_asks
from scheduler.page import latest_line, web
from scheduler.page.bench.faces import bars_by_board, chart_of, faces, span, waiting_names
from scheduler.page.bench.notices import Said, notice_for
from scheduler.page.bench.proof import proof_said
from scheduler.page.bench.symbols import papers, sign
from scheduler.page.bench.weeks import bar_said, weeks_head, weeks_row
from scheduler.record.journal import read_journal
from scheduler.record.kept import kept_plan
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.words import cautions, names, wording
from scheduler.words.records import Specimen

blueprint = Blueprint("bench", __name__)
JOURNAL_LINES = 40

ANSWERS_SAID: dict[Answer, str] = {
    "empty": "empty",
    "take off": "stiff: take off",
    "test it now": "test it now",
    "dry, but not today": "dry, but not today",
    "not yet": "not yet",
    "cannot say": "cannot say",
}


def said() -> Said:
    """Return what taps said lately, of the app that answers."""
    kept: Said = current_app.extensions.setdefault("wingrest_said", Said())
    return kept


@blueprint.app_template_filter("weekday")
def _weekday(when: date) -> str:
    return wording.weekday(when)


@blueprint.app_template_filter("day")
def _day(when: date) -> str:
    return wording.day(when)


@blueprint.app_template_filter("moment")
def _moment(when: datetime) -> str:
    return wording.moment(when)


@blueprint.app_template_filter("listed")
def _listed(those: Sequence[str]) -> Markup:
    # Ids are not torn at their hyphens.
    marks = wording.listed("\0" * len(those))
    parts = [Markup("{}").format(text) for text in marks.split("\0")]
    ids = [Markup('<span class="id">{}</span>').format(name) for name in those]
    return Markup("").join(p for pair in zip_longest(parts, ids, fillvalue="") for p in pair)


@blueprint.get("/", strict_slashes=False)
def today() -> str:
    """Show what the day asks for."""
    with Store(web().store_path) as store:
        line, snap, now = _opened(store)
        kept = kept_plan(store)
        day = what_today_asks(snap, web().rules, kept, now)
        found = {f.name: f for f in faces(snap, web().rules, now)}
        near, later = _near_and_later(day.put_in, day.at.date())
        return shown(
            store, "bench_today.html", line, snap, back="today", day=day, faces=found,
            near=near, later=later, boards_of=lambda named: _boards_of(snap, named),
        )  # fmt: skip


@blueprint.get("/boards")
def boards() -> str:
    """Show every board drawn to scale."""
    with Store(web().store_path) as store:
        line, snap, now = _opened(store)
        found = faces(snap, web().rules, now)
        return shown(store, "bench_boards.html", line, snap, back="boards", faces=found)


@blueprint.get("/weeks")
def weeks() -> str:
    """Show boards against weeks."""
    with Store(web().store_path) as store:
        line, snap, now = _opened(store)
        day = snap.local(now).date()
        found = faces(snap, web().rules, now)
        rows = bars_by_board(found, snap, web().rules, kept_plan(store), now)
        weeks_shown = span(rows, snap.local(now))
        return shown(
            store, "bench_weeks.html", line, snap, back="weeks", faces=found,
            head=weeks_head(weeks_shown, day),
            rows={name: weeks_row(name, bars, weeks_shown, day) for name, bars in rows.items()},
            words={name: [bar_said(b) for b in bars] for name, bars in rows.items()},
        )  # fmt: skip


@blueprint.get("/board")
def board() -> str:
    """Answer whether one board can be freed yet, with the evidence."""
    with Store(web().store_path) as store:
        line, snap, now = _opened(store)
        asked = names.lookup(request.args.get("name", ""), snap.boards)
        if asked is None:
            abort(404)
        every = faces(snap, web().rules, now)
        face = next(f for f in every if f.name == asked.board)
        here = snap.room_of(asked.board)
        rests_on = {
            p.specimen: evidence_of(p, snap, web().rules, now) for p in snap.standing(asked.board)
        }
        return shown(
            store, "bench_board.html", line, snap, back=f"board/{face.name}", face=face,
            rooms=[r for r in snap.rooms.values() if here is None or r.room != here.room],
            proof={s.specimen: proof_said(rests_on[s.specimen], s) for s in face.standing},
            label_data=_label_data, here=here, chart=chart_of(snap, web().rules, here, now),
            waiting=waiting_names(snap),
        )  # fmt: skip


@blueprint.get("/journal")
def journal() -> str:
    """Show what was recorded lately, each line with its undo."""
    with Store(web().store_path) as store:
        line, snap, _ = _opened(store)
        lines = tuple(reversed(read_journal(store, JOURNAL_LINES)))
        return shown(store, "bench_journal.html", line, snap, back="journal", lines=lines)


def shown(
    store: Store, template: str, line: int, snap: Snapshot, *, back: str, **more: object
) -> str:
    """Return a page made from a journal line; `back` is where its forms come back to."""
    return render_template(
        template,
        line=line,
        back=back,
        snap=snap,
        notice=notice_for(store, said(), request.args),
        said=ANSWERS_SAID,
        sign=sign,
        papers=papers,
        cautions=_cautions(),
        **more,
    )


def _opened(store: Store) -> tuple[int, Snapshot, datetime]:
    # The line first: what is recorded in between is then not missed, only looked at twice.
    line = latest_line(store)
    return line, store.snapshot(), web().clock()


def _near_and_later(
    put_in: Sequence[PutIn], day: date
) -> tuple[list[PutIn], list[tuple[date, int]]]:
    """Return what goes in by tomorrow night, and how many on each later date."""
    near = [p for p in put_in if p.by.date() <= day + timedelta(days=1)]
    later: Counter[date] = Counter()
    for p in put_in:
        if p not in near:
            later[p.by.date()] += len(p.specimens)
    return near, sorted(later.items())


def _boards_of(snap: Snapshot, named: Sequence[str]) -> list[str]:
    """Return the boards that names are about: boards, what stands on them, rooms they are in."""
    found = {name for name in named if name in snap.boards}
    for p in snap.standing():
        room = snap.room_of(p.board)
        if p.specimen in named or (room is not None and room.room in named):
            found.add(p.board)
    return sorted(found)


def _label_data(specimen: Specimen) -> list[str]:
    """Return what must come off the board with a specimen: where, when, who, host plant."""
    terms = ("locality", "eventDate", "recordedBy", "associatedTaxa")
    return [specimen.label[term] for term in terms if specimen.label.get(term)]


def _cautions() -> dict[str, str]:
    return {
        name.lower(): text
        for name, text in vars(cautions).items()
        if name.isupper() and isinstance(text, str)
    }
