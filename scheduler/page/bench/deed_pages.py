"""A page for each deed: its form, and why it was refused if it was."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from flask import abort, request
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response

from scheduler.deeds.amend import amend, correctable
from scheduler.deeds.outcome import Outcome
from scheduler.page import web
from scheduler.page.bench.deed_forms import SPECIMEN_FORMS
from scheduler.page.bench.deeds import did
from scheduler.page.bench.forms import (
    WHICH,
    DeedForm,
    Field,
    Given,
    asked_in,
    choices_of,
)
from scheduler.page.bench.ground_forms import GROUND_FORMS
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.page.bench.printed import PAPER_FORMS
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.view import View
from scheduler.words import names
from scheduler.words.problems import BadInput

FORMS: Mapping[str, DeedForm] = {
    form.name: form for form in (*SPECIMEN_FORMS, *GROUND_FORMS, *PAPER_FORMS)
}
WITH_SPECIMENS = tuple(f.name for f in FORMS.values() if WHICH in f.asks)


class FormShown(NamedTuple):
    """A form as a page shows it: its deed, its choices, and what its fields hold already."""

    deed: DeedForm
    asks: Sequence[Field]
    choices: Mapping[str, Sequence[tuple[str, str]]]
    holds: Mapping[str, str]
    ticked: Sequence[str]


def form_shown(which: str, view: View, holds: Mapping[str, str] | None = None) -> FormShown:
    """Return a form for a page; `holds` is what its fields are filled with."""
    deed = FORMS[which]
    return FormShown(deed, asked_in(deed), choices_of(deed, view), holds or {}, ())


@blueprint.get("/do", endpoint="deed")
def deed_page() -> str:
    """Show the form of a deed, filled with what the address says."""
    form = FORMS.get(request.args.get("which", ""))
    if form is None:
        abort(404)
    with Store(web().store_path) as store:
        line, view = opened(store)
        return _shown(store, line, view, form, request.args)


@blueprint.post("/do/<which>", endpoint="do")
def deed_done(which: str) -> Response:
    """Record the deed of a form; where it is refused, show why, with what was typed."""
    form = FORMS.get(which)
    if form is None:
        abort(404)
    given = Given(request.form)

    def record(store: Store, when: When) -> Outcome:
        if form.when:
            when = when._replace(at=given.happened_at(when.now, store.zone))
        return form.record(store, web().rules, given, when)

    return did(record, refused=lambda told: _again(form, told))


def _again(form: DeedForm, told: Sequence[str]) -> str:
    with Store(web().store_path) as store:
        line, view = opened(store)
        return _shown(store, line, view, form, request.form, told)


def _shown(
    store: Store,
    line: int,
    view: View,
    form: DeedForm,
    held: MultiDict[str, str],
    told: Sequence[str] = (),
) -> str:
    ticked = [name for name in held.getlist("specimen") if name in view.specimens]
    shown = FormShown(form, asked_in(form), choices_of(form, view), held.to_dict(), ticked)
    return page_shown(
        store, "bench_deed.html", line, view, back=_back_of(held, ticked), form=shown, told=told,
        waiting=[one.specimen.specimen for one in view.waiting],
    )  # fmt: skip


def _back_of(held: MultiDict[str, str], ticked: Sequence[str]) -> str:
    """Return the page a form comes back to: the one it was called from, else its specimen's."""
    asked = held.get("back", "")
    return asked or (f"specimen/{ticked[0]}" if len(ticked) == 1 else "today")


@blueprint.get("/correct", endpoint="correct")
def correct_page() -> str:
    """Show what is recorded of a specimen, board, room or session, to be corrected."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        return _correct_shown(store, line, view, request.args)


@blueprint.post("/correct", endpoint="corrected")
def correct_done() -> Response:
    """Record the fields that differ from what is recorded."""
    given = Given(request.form)
    asked = given.text("name")

    def record(store: Store, when: When) -> Outcome:
        snap = store.facts()
        _, known = correctable(snap, asked)
        typed = {c: given.text(f"to-{c}", 2000) for c in known if f"to-{c}" in request.form}
        changed = [f"{c}={text}" for c, text in typed.items() if text != known[c]]
        if not changed:
            raise BadInput("nothing was changed. Change at least one of its fields")
        return amend(store, web().rules, asked, changed, when)

    return did(record, refused=_correct_again)


def _correct_again(told: Sequence[str]) -> str:
    with Store(web().store_path) as store:
        line, view = opened(store)
        return _correct_shown(store, line, view, request.form, told)


def _correct_shown(
    store: Store, line: int, view: View, held: MultiDict[str, str], told: Sequence[str] = ()
) -> str:
    asked = held.get("name", "")
    things = {**view.specimens, **view.boards, **view.rooms, **view.sessions}
    if names.lookup(asked, things) is None:
        abort(404)
    name, known = correctable(view.facts, asked)
    kind = "specimen" if name in view.specimens else "board" if name in view.boards else "today"
    columns = list(_columns(known, held))
    return page_shown(
        store, "bench_correct.html", line, view, name=name, told=told, columns=columns,
        back=f"{kind}/{name}" if kind != "today" else "plan",
    )  # fmt: skip


class ColumnShown(NamedTuple):
    """A column that can be corrected: its name, in words, its text, and whether it is folded."""

    name: str
    words: str
    text: str
    folded: bool


def _columns(known: Mapping[str, str], held: Mapping[str, str]) -> Iterable[ColumnShown]:
    for column, text in known.items():
        put = held.get(f"to-{column}", held.get(column, text))
        yield ColumnShown(column, column.replace("_", " "), put, not text and put == text)
