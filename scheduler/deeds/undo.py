"""Take back what was recorded."""

from __future__ import annotations

from collections import Counter
from typing import NamedTuple

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import with_plan_mended
from scheduler.record.deed import When
from scheduler.record.journal import JournalLine, take_back
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import wording
from scheduler.words.problems import Refused

THINGS = {
    "board": "board",
    "room": "room",
    "specimen": "specimen",
    "session": "session",
    "placement": "mounting",
    "chamber_stay": "chamber stay",
    "dryness_test": "dryness test",
    "dial": "dial reading",
    "room_day": "day of readings",
    "photo": "photo",
    "away": "stretch of days off",
}
"""Things that a line brought, by their table, where a person would count them."""


class TakenBack(NamedTuple):
    """A line that was taken back, and the line that did it."""

    line: int | None
    text: str


class AskFirst(Refused):
    """A line that a person must look at before it is taken back; `line` is its number."""

    def __init__(self, line: int, text: str) -> None:
        super().__init__(text)
        self.line = line


def undo(
    store: Store, rules: Rulebook, line: int | None, when: When, *, sure: bool = False
) -> Outcome:
    """Take back a journal line; None: one's own latest line that still stands.

    The kept plan is mended; if that line was the last for which it was mended, it becomes what it
    was before. Raises Refused when something else was built on the line, and, unless `sure`,
    AskFirst when somebody else recorded it or a whole load would go.
    """

    def ask(target: JournalLine) -> None:
        if not sure:
            _ask_first(store, target, when.who)

    taken, by = take_back(store, line, when, ask)
    done = TakenBack(by, f"took back line {taken.line} ({taken.command}): {taken.text}")
    outcome = Outcome((done.text,))
    return told(done, lambda: with_plan_mended(outcome, store, rules, when.now, taken=taken.line))


def _ask_first(store: Store, target: JournalLine, who: str | None) -> None:
    others = target.who is not None and not is_own(target, who)
    if not others and target.command != "load":
        return
    by = f", recorded by {target.who}" if others else ""
    goes = what_goes(store, target.line)
    more = f" What it brought goes with it: {goes}." if goes else ""
    raise AskFirst(
        target.line,
        f"line {target.line}{by}: {target.text}.{more} Nothing was taken back yet",
    )


def is_own(line: JournalLine, who: str | None) -> bool:
    """Say whether a line was recorded under this name; None stands for whoever gave none."""
    return (line.who or "").casefold() == (who or "").casefold()


def what_goes(store: Store, line: int) -> str:
    """Return what a line brought into the record, counted: "12 boards and 40 specimens"."""
    found = store.db.execute(
        "SELECT of_table FROM change WHERE line = ? AND before IS NULL", (line,)
    )
    many = Counter(THINGS[table] for (table,) in found if table in THINGS)
    return wording.listed(wording.counted(number, thing) for thing, number in many.items())
