"""A lot: specimens that are alike and share one label, such as the brood of one rearing.

Their ids are made when the lot is entered (R-27-1, R-27-2, ...) and used one by one, in that order,
as specimens are mounted by the lot's name. What is said of the lot is recorded for each of them.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from scheduler.deeds.outcome import Outcome, told
from scheduler.intake.batch.columns import LABEL_TERMS, SPECIMENS
from scheduler.intake.typed import Words, perhaps, reader_by_column, spelt
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.words import names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Specimen

SHARED = (
    "family", "group", "taxon", "sex", "box", "frozen_on", "available", "wanted_by", "spoils_by",
    "priority", *LABEL_TERMS,
)  # fmt: skip
"""What the specimens of a lot have in common; each has its own size."""


def lots_of(snap: Snapshot) -> Mapping[str, tuple[Specimen, ...]]:
    """Return every lot with its specimens, ordered by their numbers."""
    found: dict[str, list[Specimen]] = {}
    spelling: dict[str, str] = {}
    for specimen in snap.specimens.values():
        if specimen.lot:
            lot = spelling.setdefault(specimen.lot.casefold(), specimen.lot)
            found.setdefault(lot, []).append(specimen)
    return {lot: tuple(sorted(those, key=_number)) for lot, those in found.items()}


def _number(specimen: Specimen) -> tuple[list[tuple[int, str]], str]:
    return names.natural_order(specimen.specimen)


def lots_spread(snap: Snapshot, asked: Sequence[str]) -> list[str]:
    """Return names; the name of a lot is replaced by those of its specimens that wait."""
    lots, waiting = lots_of(snap), {s.specimen for s in snap.waiting()}
    found: list[str] = []
    for name in asked:
        members = None if names.lookup(name, snap.specimens) else names.lookup(name, lots)
        if members is None:
            found.append(name)
        else:
            found += [s.specimen for s in members if s.specimen in waiting]
    return found


def specimen_meant(snap: Snapshot, typed: str, taken: Collection[str] = ()) -> Specimen:
    """Return the specimen with an id; for the name of a lot, its next one that waits.

    Specimens in the chamber come first; `taken` are ids that are already spoken for. Raises
    BadInput where there is neither specimen nor lot, Refused when none of a lot waits any more.
    """
    found = names.lookup(typed, snap.specimens)
    if found is not None:
        return found
    lots = lots_of(snap)
    members = names.lookup(typed, lots)
    if members is None:
        raise names.unknown([typed], [*snap.specimens, *lots], "specimen")
    waiting = {s.specimen for s in snap.waiting()} - set(taken)
    ready = [s for s in members if s.specimen in waiting]
    if not ready:
        raise Refused(f"none of lot {typed} waits any more")
    inside = [s for s in ready if snap.chamber_since(s.specimen)]
    return (inside or ready)[0]


def amend_lot(store: Store, typed: str, corrections: Sequence[str], when: When) -> Outcome:
    """Record something of every specimen of a lot: `column=value`, an empty value clears.

    Raises BadInput with everything that is wrong, or when there is no such lot.
    """
    words = Words(typed)
    texts = _typed(corrections, words)
    readers = reader_by_column(SPECIMENS)
    values = {c: words.read(c, text, readers[c]) for c, text in texts.items()}
    words.raise_if_any()
    with store.deed(when, "lot") as deed:
        members = names.find(typed, lots_of(store.facts()), "lot")
        said = ", ".join(f"{c} {t}" if t else f"{c} empty" for c, t in texts.items())
        deed.text = f"lot {members[0].lot}, {wording.counted(len(members), 'specimen')}: {said}"
        changed = 0
        for specimen in members:
            row = rows.specimen_row(_said_of(specimen, values))
            changed += deed.update("specimen", specimen.specimen, row)
    if not changed:
        return Outcome((f"lot {members[0].lot} is recorded like that already: nothing to record",))
    return told(deed, lambda: Outcome((deed.text,)))


def _said_of(specimen: Specimen, values: Mapping[str, Any]) -> Specimen:
    label = dict(specimen.label)
    own: dict[str, Any] = {}
    for column, value in values.items():
        if column not in LABEL_TERMS:
            own[column] = value
        elif value is None:
            label.pop(column, None)
        else:
            label[column] = str(value)
    if own.get("priority", 1) is None:
        own["priority"] = 1
    return specimen._replace(**own, label=label)


def _typed(corrections: Sequence[str], words: Words) -> dict[str, str]:
    texts: dict[str, str] = {}
    columns = dict.fromkeys(SHARED)
    for typed in corrections:
        name, equals, value = typed.partition("=")
        column = spelt(name, columns)
        if not equals:
            words.fault(None, typed, "is not column=value", "As in emerged_on=2027-07-18/22")
        elif column is None:
            remedy = perhaps(name, columns) or "Sizes are each one's own: `wingrest amend`"
            words.fault(name.strip(), None, "is nothing that a lot has in common", remedy)
        else:
            texts[column] = value.strip()
    if not texts and not words.problems:
        raise BadInput(f"what about lot {words.of}? Write column=value: emerged_on=2027-07-20")
    return texts
