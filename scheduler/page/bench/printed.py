"""Paper and files: prints for a session, labels, what is handed over, the whole record."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

from flask import abort, g, request
from werkzeug.wrappers import Response

from scheduler.deeds.handover import Gift, hand_over
from scheduler.deeds.outcome import Outcome
from scheduler.deeds.photo import EXPORTED, copy_photos
from scheduler.deeds.print_labels import print_labels
from scheduler.looks.life import Life
from scheduler.looks.session_day import (
    board_then,
    pull_list,
    session_asked,
    session_day,
    slip_of,
    standing_slips,
)
from scheduler.page import web
from scheduler.page.bench.forms import DeedForm, Field, Given
from scheduler.page.bench.looks import blueprint, opened, page_shown, said_lately
from scheduler.page.bench.notices import PaperFile
from scheduler.record.deed import When
from scheduler.record.export import export
from scheduler.record.pictures import photos_folder
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words import cautions
from scheduler.words.problems import BadInput, Problem

PDF, ZIP = "application/pdf", "application/zip"
_KINDS = (("data", "place, date, collector"), ("name", "name"), ("number", "number"))


@blueprint.get("/paper", endpoint="paper")
def paper_page() -> str:
    """Show what can be printed, handed over and downloaded."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        return page_shown(
            store, "bench_paper.html", line, view, back="paper", kinds=list(_PRINTED),
            sessions=[s for s in view.sessions_ahead if view.planned_at(s.session)],
            standing=bool(view.standing()),
        )  # fmt: skip


@blueprint.get("/print/<kind>.pdf", endpoint="printed")
def printed_pdf(kind: str) -> Response:
    """Send a print for a session, or for all that stands, as PDF true to scale."""
    if kind not in _PRINTED:
        abort(404)
    with Store(web().store_path) as store:
        _, view = opened(store)
        data = _PRINTED[kind](view, request.args.get("session") or None)
    return _sent(PaperFile(f"{kind}.pdf", PDF, data))


@blueprint.get("/made", endpoint="made")
def made_file() -> Response:
    """Send a file that a deed made a moment ago."""
    paper = said_lately().paper(request.args.get("key", ""))
    if paper is None:
        abort(404)
    return _sent(paper)


@blueprint.get("/record.zip", endpoint="exported")
def exported_record() -> Response:
    """Send the whole record as plain tables, with the journal and the photos."""
    with tempfile.TemporaryDirectory() as place, Store(web().store_path) as store:
        folder = Path(place) / "record"
        export(store.db, folder, store.zone, web().clock())
        copy_photos(photos_folder(web().store_path), folder / EXPORTED)
        return _sent(PaperFile("record.zip", ZIP, _zipped(folder)))


def _sent(paper: PaperFile) -> Response:
    answer = Response(paper.data, mimetype=paper.kind)
    answer.headers["Content-Disposition"] = f'attachment; filename="{paper.name}"'
    return answer


def _zipped(folder: Path) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as into:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                into.write(path, path.relative_to(folder).as_posix())
    return packed.getvalue()


def _slips(view: View, session: str | None) -> bytes:
    from scheduler.paper.slips import slip_pages  # the PDF library only when something is printed

    return slip_pages(session_day(view, session_asked(view, session)).slips).to_bytes()


def _standing_slips(view: View, _: str | None) -> bytes:
    from scheduler.paper.slips import slip_pages

    found = standing_slips(view)
    if not found:
        raise BadInput("nothing stands on any board. Nothing was printed")
    return slip_pages(found).to_bytes()


def _strips(view: View, session: str | None) -> bytes:
    from scheduler.paper.slips import strip_pages

    found = dict(session_day(view, session_asked(view, session)).boards)
    return strip_pages(found, {b: view.boards[b].length_mm for b in found}).to_bytes()


def _standing_strips(view: View, _: str | None) -> bytes:
    from scheduler.paper.slips import strip_pages

    planned = [slip_of(view, p) for p in view.planned]
    boards = dict.fromkeys(one.board.board for one in view.standing())
    found = {board: board_then(view, board, planned) for board in boards}
    if not found:
        raise BadInput("nothing stands on any board. Nothing was printed")
    return strip_pages(found, {b: view.boards[b].length_mm for b in found}).to_bytes()


def _sheet(view: View, session: str | None) -> bytes:
    from scheduler.paper.sheets import session_pages

    return session_pages(session_day(view, session_asked(view, session))).to_bytes()


def _pull(view: View, session: str | None) -> bytes:
    from scheduler.paper.sheets import pull_pages

    which = session_asked(view, session).session if session else None
    found = pull_list(view, which)
    if not found:
        raise BadInput("nothing is planned to go into the chamber. Nothing was printed")
    return pull_pages(found).to_bytes()


_PRINTED: dict[str, Callable[[View, str | None], bytes]] = {
    "sheet": _sheet,
    "slips": _slips,
    "strips": _strips,
    "pull": _pull,
    "standing-slips": _standing_slips,
    "standing-strips": _standing_strips,
}


def _labels(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    kinds = [kind for kind, _ in _KINDS if given.ticked(kind)]
    whole = given.text("paper") or "a4"
    wide, high = _mm(given.text("wide") or "18"), _mm(given.text("high") or "8")
    if not (5 <= wide <= 100 and 3 <= high <= 60):
        raise BadInput(f"{wide:g} x {high:g} mm: a label is 5-100 mm wide and 3-60 mm high")
    size = wide, high

    def write(found: Sequence[Life]) -> None:
        from scheduler.paper.labels import LABEL_KINDS, LabelSize, label_pages, lay_labels

        mm = LabelSize(*size)
        wanted = [kind for kind in LABEL_KINDS if kind in (kinds or LABEL_KINDS)]
        laid, troubles = lay_labels([life.specimen for life in found], wanted, mm)
        if troubles:
            problems = [
                Problem(t.specimen, None, t.kind, None, t.reason, t.remedy) for t in troubles
            ]
            raise BadInput("some labels cannot be printed; nothing was printed", problems)
        pages = label_pages(laid, mm, "letter" if whole == "letter" else "a4")
        g.paper = PaperFile("labels.pdf", PDF, pages.to_bytes())

    incomplete = given.ticked("incomplete")
    asked = given.those(need=False)
    return print_labels(store, rules, asked, write, when, incomplete=incomplete)


def _mm(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise BadInput(f"{text!r} is no size. Write mm, as in 18") from None


def _hand_over(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    since = given.maybe("since")
    try:
        begin = date.fromisoformat(since) if since else None
    except ValueError:
        raise BadInput(f"{since!r} is no day. Write it as 2027-05-08") from None
    gift = Gift(
        whom=given.maybe("whom"),
        named=given.those(need=False),
        lot=given.maybe("lot"),
        since=begin,
        permit=given.maybe("permit"),
    )
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "handover"
        outcome = hand_over(store, rules, gift, folder, when)
        g.paper = PaperFile("handover.zip", ZIP, _zipped(folder))
    done = tuple(text for text in outcome.done if place not in text)
    return Outcome(done, outcome.warnings, outcome.line)


PAPER_FORMS: tuple[DeedForm, ...] = (
    DeedForm(
        "labels", "Labels", "Make the labels",
        (
            Field("ids", "Which", "ids",
                note="Numbers or lots; empty: all that came off and have none yet."),
            *(Field(kind, f"only: {words}", "tick", more=True) for kind, words in _KINDS),
            Field("incomplete", "Also without place, date or collector", "tick", more=True),
            Field("wide", "Wide, mm", "number", more=True, note="Empty: 18."),
            Field("high", "High, mm", "number", more=True, note="Empty: 8."),
            Field("paper", "Paper", "choice", more=True,
                choices=lambda _: [("a4", "A4"), ("letter", "Letter")]),
        ),
        _labels,
        lead="A PDF true to scale: print it at 100 % and measure the bar at its foot."
        " It is recorded that they have a label.",
    ),
    DeedForm(
        "handover", "Hand over", "Make the files",
        (
            Field("ids", "Which", "ids", note="Empty: all that came off and is still here."),
            Field("whom", "To whom", note="Without a name nothing is recorded."),
            Field("lot", "Only of the lot", more=True),
            Field("since", "Only what came off since", "date", more=True),
            Field("permit", "Permit, where protected species leave", more=True),
        ),
        _hand_over,
        lead="A Darwin Core Archive, a table and a workbook.",
        caution=cautions.PERMITS,
    ),
)  # fmt: skip
