"""Hand specimens over: files for the receiver; the journal says who got what, and when."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import mkdtemp

from scheduler.deeds.lot import lots_of
from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.print_labels import said_briefly, specimens_of
from scheduler.faces.archive import FLAT_COLUMNS, About, archive, flat_row
from scheduler.faces.tables import csv_text, xlsx_bytes
from scheduler.looks.life import Life, lives
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import cautions, names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Afterwards, Specimen

ARCHIVE, FLAT, BOOK = "archive.zip", "specimens.csv", "occurrences.xlsx"


@dataclass(frozen=True, slots=True)
class Gift:
    """What is to be handed over: `named`, of a `lot`, off `since` a date, or else all that is off.

    Without `whom` the files are written and nothing is recorded. `permit` says which permits were
    looked at.
    """

    whom: str | None = None
    named: Sequence[str] = ()
    lot: str | None = None
    since: date | None = None
    permit: str | None = None


def hand_over(store: Store, rules: Rulebook, gift: Gift, folder: Path, when: When) -> Outcome:
    """Write what is handed over into a new folder; with a receiver, record it.

    Raises Refused when protected species are among them and no permit is named (all are listed),
    when something named has not come off, or when nothing is left to hand over. Raises BadInput
    when the folder holds something.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadInput(f"{folder} is not empty. Name a new folder")
    with store.deed(when, "handover") as deed:
        view = view_of(store, rules, when.now)
        found = _given(view, gift)
        _refuse_protected(view, found, gift)
        _write(found, view, gift, folder, when)
        ids = [life.specimen.specimen for life in found]
        if gift.whom is not None:
            deed.text = f"handed {said_briefly(ids)} over to {gift.whom}"
            for name in ids:
                done = Afterwards(name, "handed over", when.at, gift.whom, gift.permit)
                deed.insert("afterwards", rows.afterwards_row(done))

    def tell() -> Outcome:
        said = deed.text or f"{said_briefly(ids)}: written, nothing recorded (no --to)"
        files = f"  {folder}: {ARCHIVE} (Darwin Core), {FLAT}, {BOOK}"
        return Outcome((said, files), tuple(_warnings(found)))

    return told(deed, tell)


def _given(view: View, gift: Gift) -> tuple[Life, ...]:
    found = lives(view, _named(view, gift))
    off = tuple(life for life in found if life.stage == "off")
    if gift.named:
        other = [life for life in found if life not in off]
        if other:
            lines = [f"{life.specimen.specimen}: {life.place}" for life in other]
            raise Refused("\n".join([*lines, "Only what has come off its board is handed over"]))
    if gift.since is not None:
        off = tuple(life for life in off if _off_on(life) >= gift.since)
    if not off:
        raise Refused("none of that has come off and is still here: nothing to hand over")
    return off


def _named(view: View, gift: Gift) -> list[str] | None:
    """Return the ids that were asked for, None for all."""
    if gift.lot is not None:
        lot = names.find(gift.lot, lots_of(view.facts), "lot")
        return [s.specimen for s in lot]
    return specimens_of(view, gift.named) if gift.named else None


def _off_on(life: Life) -> date:
    assert life.placement is not None
    assert life.placement.released_at is not None
    return life.view.local(life.placement.released_at).date()


def _refuse_protected(view: View, found: Sequence[Life], gift: Gift) -> None:
    those = [life for life in found if is_protected(life.specimen, view.facts.settings.protected)]
    if those and gift.permit is None:
        lines = [f"{one.specimen.specimen}: {one.specimen.taxon or one.specimen.family}"
                 for one in those]  # fmt: skip
        raise Refused(
            "\n".join(["On your list of protected species:", *lines, cautions.PERMITS])
            + "\nNothing was handed over. When the permits are in hand, name them: --permit TEXT"
        )


def is_protected(specimen: Specimen, protected: Sequence[str]) -> bool:
    """Say whether a specimen's species, genus or family is on a list."""
    taxa = (specimen.taxon, specimen.label.get("scientificName"), specimen.family)
    known = [t.casefold().split() for t in taxa if t]
    wanted = [p.casefold().split() for p in protected]
    return any(words[: len(p)] == p for words in known for p in wanted if p)


def _write(found: Sequence[Life], view: View, gift: Gift, folder: Path, when: When) -> None:
    """Write all files or none: the folder appears with everything in it."""
    specimens = [life.specimen for life in found]
    namespace = view.facts.namespace
    flat = [flat_row(s, namespace) for s in specimens]
    about = About(when.who or "the giver", gift.whom, view.local(when.at).date(), len(found))
    files = {
        ARCHIVE: archive(specimens, namespace, about),
        FLAT: csv_text(FLAT_COLUMNS, flat).encode(),
        BOOK: xlsx_bytes("occurrences", FLAT_COLUMNS, flat),
    }
    beside = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(mkdtemp(prefix=".handover-", dir=folder.parent))
        for name, data in files.items():
            (beside / name).write_bytes(data)
        beside.chmod(0o755)
        if folder.exists():
            folder.rmdir()
        beside.rename(folder)
    except OSError as error:
        if beside is not None:
            shutil.rmtree(beside, ignore_errors=True)
        raise BadInput(f"{folder} cannot be written ({error.strerror}). Name another") from error


def _warnings(found: Sequence[Life]) -> list[str]:
    alike: dict[tuple[str, ...], list[str]] = {}
    for life in found:
        if life.missing:
            alike.setdefault(life.missing, []).append(life.specimen.specimen)
    said = [f"{said_briefly(w)}: no {wording.listed(what)}" for what, w in alike.items()]
    unfrozen = [one.specimen.specimen for one in found if one.bag is None]
    if unfrozen:
        said.append(f"{said_briefly(unfrozen)} not frozen against pests yet (`wingrest bag`)")
    shut = [one.specimen.specimen for one in found if one.bag and one.bag.shut(one.view.now)]
    if shut:
        said.append(f"{said_briefly(shut)} still in a bag that is to stay shut")
    said.append(f"{cautions.PERMITS}")
    return said
