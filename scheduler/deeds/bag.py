"""Record what went dry into a bag and the freezer, against pests, before the cabinet."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.print_labels import said_briefly, specimens_of
from scheduler.looks.life import Life, bags, lives
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import cautions, wording
from scheduler.words.problems import Refused
from scheduler.words.records import Afterwards


def bag(store: Store, rules: Rulebook, asked: Sequence[str], when: When) -> Outcome:
    """Record specimens or lots as bagged and frozen, and tell when the bag may be opened.

    Where none are named, it is all that came off and was in no bag yet. Raises Refused for what has
    not come off its board, or when nothing is left to bag.
    """
    with store.deed(when, "bag") as deed:
        view = view_of(store, rules, when.now)
        found = _asked(view, asked)
        ids = [life.specimen.specimen for life in found]
        deed.text = f"bagged and froze {said_briefly(ids)}"
        for name in ids:
            deed.insert("afterwards", rows.afterwards_row(Afterwards(name, "bagged", when.at)))
        after = view_of(store, rules, when.now)

    def tell() -> Outcome:
        mine = next(b for b in bags(after) if ids[0] in b.specimens and b.since == when.at)
        opened = f"  leave it shut until {wording.moment(mine.open_at, when.now)}"
        return Outcome((deed.text, opened, f"  {cautions.INTO_THE_CABINET}"))

    return told(deed, tell)


def _asked(view: View, asked: Sequence[str]) -> tuple[Life, ...]:
    found = lives(view, specimens_of(view, asked) if asked else None)
    if asked:
        other = [life for life in found if life.stage != "off"]
        if other:
            lines = [f"{life.specimen.specimen}: {life.place}" for life in other]
            raise Refused("\n".join([*lines, "Only what is dry and off its board is bagged"]))
        return found
    off = tuple(life for life in found if life.stage == "off" and life.bag is None)
    if not off:
        raise Refused("nothing has come off that was in no bag yet")
    return off
