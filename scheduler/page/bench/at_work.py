"""The page At work: one card at a time, to be read at arm's length and tapped with a thumb."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from flask import request
from markupsafe import Markup

from scheduler.drying.answer import SpecimenAnswer
from scheduler.looks.session_day import PaperSlip, slip_of
from scheduler.page import web
from scheduler.page.bench.faces import place_drawing
from scheduler.page.bench.looks import (
    asked_person,
    blueprint,
    label_data_of,
    opened,
    page_shown,
)
from scheduler.page.bench.remembered import remembered
from scheduler.page.bench.work_cards import WorkCard, turned_to, work_cards
from scheduler.record.store import Store
from scheduler.view import View
from scheduler.words.label import sex_sign
from scheduler.words.people import people_of
from scheduler.words.records import Specimen
from scheduler.words.wording import label_date


class CardShown(NamedTuple):
    """A card with what it shows; `then` are the ids of the next two cards, "" where there is none.

    `before` is the id of the card before it, `place` the slot [mm], `soft` how far it is soft.
    """

    card: WorkCard
    number: int
    then: tuple[str, str]
    before: str
    specimen: Specimen
    place: tuple[int, int] | None
    drawing: Markup | None
    answer: SpecimenAnswer | None
    slip: PaperSlip | None
    soft: tuple[str, datetime | None]


@blueprint.get("/work", endpoint="work")
def work_page() -> str:
    """Show one card; those next to it are in the page already, hidden."""
    given = request.args
    with Store(web().store_path) as store:
        line, view = opened(store)
        who = asked_person(view)
        cards = work_cards(view, remembered().today(view, who, worried=False))
        turned = turned_to(
            cards, given.get("at", ""), given.get("then", ""), over=given.get("over") == "1"
        )
        shown = [
            _card_shown(view, cards, turned.first + n, card) for n, card in enumerate(turned.cards)
        ]
        return page_shown(
            store, "bench_work.html", line, view, back="work", turned=turned, shown=shown,
            who=who, day_of=who or "", people=people_of(view.sessions.values()),
            whose={"who": who or ""} if "who" in given else {},
            label_data=label_data_of, strip_said=_strip_said, left=[c.specimen for c in cards],
        )  # fmt: skip


def _card_shown(view: View, cards: tuple[WorkCard, ...], number: int, card: WorkCard) -> CardShown:
    specimen = view.specimens[card.specimen]
    after = [c.at for c in cards[number + 1 : number + 3]]
    then = (after[0] if after else "", after[1] if len(after) > 1 else "")
    before = cards[number - 1].at if number else ""
    step = card.step
    # The board's answer is kept in memory; to look at all that stands takes long in a museum.
    standing = view.answer(card.board).specimens if card.board and not step else ()
    answer = next((s for s in standing if s.specimen == card.specimen), None)
    place = (
        (step.from_mm, step.to_mm) if step else (answer.from_mm, answer.to_mm) if answer else None
    )
    planned = view.planned_for(card.specimen) if step else None
    return CardShown(
        card, number, then, before, specimen, place,
        place and place_drawing(
            view, card.board, place, specimen if step else None, step.after if step else ()
        ),
        answer, slip_of(view, planned) if planned else None, _softening(view, card),
    )  # fmt: skip


def _strip_said(slip: PaperSlip) -> tuple[str, str]:
    """Return the two lines of the strip for one to be mounted, as they are printed."""
    s, on = slip.specimen, slip.mounted_on
    test = f"test from {label_date(slip.test_from)}" if slip.test_from else "no date"
    who = " ".join(filter(None, (s.specimen, sex_sign(s.sex))))
    return who, f"{label_date(on)}{on.year} · {test}"


def _softening(view: View, card: WorkCard) -> tuple[str, datetime | None]:
    """Return whether a card's specimen is soft: a word, and the moment that goes with it.

    The words: "limp" and "outside" (no moment), "soon" (soft from then), "soft" (inside since
    then), "" for a card that mounts nothing.
    """
    if card.step is None:
        return "", None
    soft = view.waits(view.specimens[card.specimen]).softening
    if card.step.limp or not soft.chamber:
        return "limp", None
    if soft.since is None:
        return "outside", None
    at = view.local(soft.soft_at(soft.since))
    return ("soon", at) if at > view.now else ("soft", view.local(soft.since))
