"""A specimen's own page, and finding it: by words, or by the code on its slip."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from flask import abort, request
from werkzeug.wrappers import Response

from scheduler.deeds.photo import PHOTO_MOST, keep_photo
from scheduler.looks.find import find_specimens
from scheduler.looks.life import Life, Stage, lives
from scheduler.page import web
from scheduler.page.bench.deeds import did
from scheduler.page.bench.looks import blueprint, opened, page_shown
from scheduler.record.history import history
from scheduler.record.pictures import photos_folder
from scheduler.record.store import Store
from scheduler.rulebook.rulings import rows_behind, rows_said
from scheduler.words import names
from scheduler.words.label import SLIP_CODE, data_label, name_label

FOUND_MOST = 200
"""The most that are listed: nobody reads more on a phone. The page says how many there are."""
_SHOWN = {".jpg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}
FORM_MOST = PHOTO_MOST + 64 * 1024


@blueprint.get("/find", endpoint="find")
def find_page() -> str:
    """Find specimens by what is remembered of them, or by a slip's code."""
    asked = request.args.get("q", "")[:200].strip().removeprefix(SLIP_CODE)
    with Store(web().store_path) as store:
        line, view = opened(store)
        found = find_specimens(view, asked.split()) if asked else None
        return page_shown(
            store, "bench_find.html", line, view, back="find", asked=asked, found=found,
            most=FOUND_MOST, code=SLIP_CODE,
        )  # fmt: skip


@blueprint.get("/specimen", endpoint="specimen")
def specimen_page() -> str:
    """Show a specimen: where it is, what is next, its label, photos and history."""
    with Store(web().store_path) as store:
        line, view = opened(store)
        asked = names.lookup(request.args.get("name", ""), view.specimens)
        if asked is None:
            abort(404)
        (life,) = lives(view, [asked.specimen])
        ids = _rule_ids(life)
        return page_shown(
            store, "bench_specimen.html", line, view, back=f"specimen/{asked.specimen}",
            life=life, history=history(store, asked.specimen), label=data_label(asked).text,
            name=" ".join(part.text for part in name_label(asked)),
            photos=[p.file for p in life.photos if _ending(p.file) in _SHOWN],
            can=_CAN.get(life.stage, ()), behind=rows_behind(view.rules, ids),
            rows=dict(text.split(": ", 1) for text in rows_said(view.rules, ids)),
            sources=view.rules.sources,
        )  # fmt: skip


_WAITS = (
    ("relax", "Into the chamber"),
    ("thaw", "Out of the cold"),
    ("putback", "Back into the cold"),
    ("mount", "Mounted"),
    ("lost", "Lost"),
)
_CAN: Mapping[Stage, Sequence[tuple[str, str]]] = {
    "waits": _WAITS,
    "in the chamber": _WAITS[1:],
    "on a board": (("test", "Tested"), ("release", "Took off"), ("lost", "Lost")),
    "off": (
        ("drooped", "A wing sank"),
        ("labels", "Labels"),
        ("bag", "Into the bag"),
        ("handover", "Hand over"),
        ("mount", "Mounted again"),
        ("lost", "Lost"),
    ),
}
"""What can happen to a specimen at each stage: the deed's form, and its words."""


def _rule_ids(life: Life) -> tuple[str, ...]:
    """Return the rules behind its dates: on its board, else as planned, else as it was mounted."""
    if life.answer is not None:
        return life.answer.rule_ids
    if life.planned is not None:
        return life.planned.rule_ids
    return () if life.placement is None else life.placement.rule_ids


@blueprint.get("/photo", endpoint="photo")
def photo_shown() -> Response:
    """Send a picture that the record names, and no other file."""
    with Store(web().store_path) as store:
        known = {p.file for p in store.facts().photos}
    file = request.args.get("file", "")
    path = photos_folder(web().store_path) / file
    if file not in known or "/" in file or "\\" in file or not path.is_file():
        abort(404)
    return Response(path.read_bytes(), mimetype=_SHOWN.get(_ending(file)))


@blueprint.post("/photo", endpoint="photographed")
def photographed() -> Response:
    """Keep a picture that the phone's camera took."""
    request.max_content_length = FORM_MOST
    sent = request.files.get("picture")
    data = sent.read(FORM_MOST) if sent else b""
    if sent:
        sent.close()  # a large one is in a temporary file
    specimen = request.form.get("specimen", "")[:100]
    return did(lambda store, when: keep_photo(store, specimen, data, when))


def _ending(file: str) -> str:
    return file[file.rfind(".") :]
