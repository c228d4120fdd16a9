"""The deeds that record something of specimens, each as a form with its fields."""

from __future__ import annotations

from scheduler.deeds.add import Typed, add
from scheduler.deeds.bag import bag
from scheduler.deeds.chamber import lose, put_back, relax, thaw
from scheduler.deeds.droop import drooped
from scheduler.deeds.lot import amend_lot, lots_of
from scheduler.deeds.mount import mount_one
from scheduler.deeds.mount_list import mount_after
from scheduler.deeds.outcome import Outcome
from scheduler.deeds.release import release
from scheduler.deeds.testing import record_test
from scheduler.page.bench.forms import WHICH, DeedForm, Field, Given, boards_of_record
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words import cautions
from scheduler.words.problems import BadInput
from scheduler.words.records import HOSTS_SEEN, SIZE_CLASSES, STATES, State

_STATES = {"fresh": "fresh", "frozen": "from the freezer", "dried": "papered or pinned dry"}
_SIZES = ("wingspan_mm", "body_mm", "forewing_mm", "size", "groove_mm")
_TEXTS = (*_SIZES, "taxon", "family", "priority", "wanted_by", "spoils_by", "box", "lot")
_LABEL = {
    "locality": "Place",
    "eventDate": "Date of the catch",
    "recordedBy": "Who caught it",
    "associatedTaxa": "Host plant",
}


def _add(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    states: tuple[State, ...] = tuple(s for s in STATES if s == given.text("state"))
    return add(
        store,
        rules,
        Typed(
            group=given.text("group"),
            count=given.text("count") or "1",
            states=states,
            frozen_on=given.text("frozen_on"),
            prefix=given.maybe("prefix"),
            texts=given.filled(_TEXTS),
            labels=tuple(f"{term}={text}" for term, text in given.filled(_LABEL).items()),
        ),
        when,
    )


def _put_back(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    place = given.text("place")
    if place == "fridge":
        return put_back(store, rules, given.those(), "fridge", when)
    if place == "freezer":
        return put_back(store, rules, given.those(), "freezer", when)
    raise BadInput("where to? Choose the fridge or the freezer")


def _test(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    if given.text("verdict") == "stiff":
        return record_test(store, rules, given.those(), "stiff", (), when)
    if given.text("verdict") == "soft":
        return record_test(store, rules, given.those(), "soft", (), when)
    raise BadInput("how was it? Choose stiff or soft")


def _release(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    return release(store, rules, given.those(), given.maybe("early"), when)


def _mount(store: Store, rules: Rulebook, given: Given, when: When) -> Outcome:
    specimen, board = given.text("specimen"), given.text("board")
    slot = given.whole("from_mm", "from"), given.whole("to_mm", "to")
    left = given.maybe("after")
    if left is None:
        return mount_one(store, rules, specimen, board, slot, when)
    if slot != (None, None):
        raise BadInput("say either where it lies, or to the right of which")
    return mount_after(store, rules, specimen, board, left, when)


def _lot(store: Store, _: Rulebook, given: Given, when: When) -> Outcome:
    names = (*_LABEL, "emerged_on", "host_seen", "lifeStage", "box", "priority")
    said = [f"{name}={text}" for name, text in given.filled(names).items()]
    if not said:
        raise BadInput("nothing was filled in. Fill in at least one field")
    return amend_lot(store, given.text("lot"), said, when)


def _lots(view: View) -> list[tuple[str, str]]:
    return [(lot, f"{lot}, {len(those)}") for lot, those in lots_of(view.facts).items()]


def _label_asks(*, more: bool) -> tuple[Field, ...]:
    return tuple(Field(term, words, more=more) for term, words in _LABEL.items())


SPECIMEN_FORMS: tuple[DeedForm, ...] = (
    DeedForm(
        "add",
        "Add specimens",
        "Add",
        (
            Field("group", "What they are", need=True, note="hawkmoth, owlet, or a family"),
            Field("count", "How many that are alike", "number"),
            Field("state", "They are", "choice", need=True, choices=lambda _: _STATES.items()),
            Field("wingspan_mm", "Wingspan, mm", "number", note="Tip to tip when spread."),
            Field("body_mm", "or width of the thorax, mm", "number"),
            Field("frozen_on", "Frozen since", "date", more=True),
            Field("forewing_mm", "Length of one forewing, mm", "number", more=True),
            Field("size", "or their build", "choice", more=True,
                choices=lambda _: [(s, s) for s in SIZE_CLASSES]),
            Field("groove_mm", "or the groove you would use, mm", "number", more=True),
            Field("taxon", "Species", more=True),
            Field("family", "Family, if the group does not tell", more=True),
            Field("priority", "Priority, 10 the most urgent", "number", more=True),
            Field("wanted_by", "Off the board by", "date", more=True),
            Field("spoils_by", "Mounted by", "date", more=True),
            Field("box", "Box, tray or bag", more=True),
            Field("lot", "Lot, as a brood that shares one label", more=True),
            Field("prefix", "Numbers begin with", more=True, note="S makes S-01."),
            *_label_asks(more=True),
        ),
        _add,
        lead="They are alike; each gets a number. Protected species and permits: local law first.",
    ),
    DeedForm(
        "relax", "Into the chamber", "In the chamber", (WHICH,),
        lambda s, r, g, w: relax(s, r, g.those(), w), caution=cautions.CHAMBER,
    ),
    DeedForm(
        "thaw", "Out of the cold", "Out now", (WHICH,),
        lambda s, r, g, w: thaw(s, r, g.those(), w),
        lead="Taken out of freezer, fridge or chamber, to lie in ordinary air.",
    ),
    DeedForm(
        "putback", "Back into the cold", "Put back",
        (
            WHICH,
            Field("place", "Where to", "choice", need=True,
                choices=lambda _: [("fridge", "the fridge"), ("freezer", "the freezer")]),
        ),
        _put_back,
    ),
    DeedForm(
        "mount", "Mounted", "Mounted",
        (
            Field("specimen", "Which", need=True, note="A number, or a lot: its next is taken."),
            Field("board", "On which board", "choice", need=True, choices=boards_of_record),
            Field("from_mm", "From, mm", "number", note="Empty: the first place that is free."),
            Field("to_mm", "To, mm", "number"),
            Field("after", "or to the right of", more=True),
        ),
        _mount, caution=cautions.BENCH,
    ),
    DeedForm(
        "test", "Tested", "Record the test",
        (
            WHICH,
            Field("verdict", "It was", "choice", need=True,
                choices=lambda _: [("stiff", "stiff: nothing gives"), ("soft", "soft")]),
        ),
        _test, lead=cautions.HOW_TO_TEST, caution=cautions.NOT_WHEN_DAMP,
    ),
    DeedForm(
        "release", "Took off", "Took off",
        (
            WHICH,
            Field("early", "Not due yet? Why it must come off now", more=True,
                note="Off too early, the wings droop."),
        ),
        _release, caution=cautions.NOT_WHEN_DAMP,
    ),
    DeedForm(
        "drooped", "A wing sank", "Record it",
        (
            Field("specimen", "Which", need=True),
            Field("note", "What is to be seen", note="left forewing"),
        ),
        lambda s, _, g, w: drooped(s, g.text("specimen"), g.text("note"), w),
        lead="It shows only days or weeks after coming off. A room's dates are judged by it.",
    ),
    DeedForm(
        "lost", "Lost", "Record the loss",
        (
            Field("specimen", "Which", need=True),
            Field("reason", "Why", need=True, note="abdomen broken"),
        ),
        lambda s, r, g, w: lose(s, r, g.text("specimen"), g.text("reason"), w),
    ),
    DeedForm(
        "bag", "Into the bag", "Bagged and frozen",
        (
            Field("ids", "Which", "ids",
                note="Numbers or lots; empty: all that came off and was in no bag yet."),
        ),
        lambda s, r, g, w: bag(s, r, g.those(need=False), w),
        lead="Dry specimens in a tight bag in the freezer, against pests, before the cabinet.",
    ),
    DeedForm(
        "lot", "A whole lot", "Say it of all",
        (
            Field("lot", "Lot", "choice", need=True, choices=_lots),
            *_label_asks(more=False),
            Field("emerged_on", "Emerged on", note="2027-07-18/22 for several days"),
            Field("host_seen", "The host was", "choice",
                choices=lambda _: [(h, h) for h in HOSTS_SEEN]),
            Field("lifeStage", "Found as", note="larva, pupa"),
            Field("box", "Box"),
            Field("priority", "Priority, 10 the most urgent", "number"),
        ),
        _lot,
        lead="What all of one rearing share. An empty field stays as it is.",
    ),
)  # fmt: skip
