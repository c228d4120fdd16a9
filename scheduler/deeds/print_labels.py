"""Record for which specimens labels were printed: they no longer count as without a label."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from scheduler.deeds.outcome import Outcome, told
from scheduler.looks.life import Life, lives
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Afterwards


def print_labels(
    store: Store,
    rules: Rulebook,
    asked: Sequence[str],
    write: Callable[[Sequence[Life]], None],
    when: When,
    *,
    incomplete: bool = False,
) -> Outcome:
    """Have labels written for specimens or lots, and record it.

    Where none are named, it is for all that are off and have no label yet. `write` makes the file
    before anything is recorded. Raises BadInput, naming all of them, for labels without locality,
    date or collector, unless `incomplete`; Refused when nothing is left to print.
    """
    with store.deed(when, "print") as deed:
        view = view_of(store, rules, when.now)
        found = _asked(view, asked)
        if not found:
            raise Refused("nothing has come off that has no label yet. Name specimens")
        lacking = [life for life in found if life.missing]
        if lacking and not incomplete:
            raise BadInput("\n".join([*_lacking_lines(lacking), _REMEDY]))
        write(found)
        deed.text = f"printed labels of {said_briefly([one.specimen.specimen for one in found])}"
        for life in found:
            done = Afterwards(life.specimen.specimen, "labelled", when.at)
            deed.insert("afterwards", rows.afterwards_row(done))

    return told(deed, lambda: Outcome((deed.text,), tuple(_lacking_lines(lacking))))


_REMEDY = (
    "Nothing was printed. Record what is missing (`wingrest amend M-14 locality=... eventDate=..."
    " recordedBy=...`), or print the labels without it: --incomplete"
)


def _lacking_lines(lacking: Sequence[Life]) -> list[str]:
    alike: dict[tuple[str, ...], list[str]] = {}
    for life in lacking:
        alike.setdefault(life.missing, []).append(life.specimen.specimen)
    return [
        f"{said_briefly(whose)}: no {wording.listed(what)} for the label"
        for what, whose in alike.items()
    ]


def _asked(view: View, asked: Sequence[str]) -> tuple[Life, ...]:
    if asked:
        return lives(view, specimens_of(view, asked))
    off = (life for life in lives(view) if life.stage == "off")
    return tuple(life for life in off if life.done("labelled") is None)


def specimens_of(view: View, asked: Sequence[str]) -> list[str]:
    """Return the ids of the specimens that are named, and of those in lots that are named."""
    lots: dict[str, list[str]] = {}
    for specimen in view.specimens.values():
        if specimen.lot:
            lots.setdefault(specimen.lot, []).append(specimen.specimen)
    found: list[str] = []
    for name in asked:
        alone = names.lookup(name, view.specimens)
        if alone is not None:
            found.append(alone.specimen)
        else:
            found += names.find(name, lots | {key: [] for key in view.specimens}, "specimen")
    return list(dict.fromkeys(found))


FEW = 6


def said_briefly(those: Sequence[str]) -> str:
    """Return a few ids as a list, many as their count with the first and the last."""
    if len(those) <= FEW:
        return wording.listed(those)
    return f"{wording.counted(len(those), 'specimen')}, {those[0]} to {those[-1]}"
