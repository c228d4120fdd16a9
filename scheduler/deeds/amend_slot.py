"""Correct where and since when a specimen stands: its board, its slot, its mounting."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from scheduler.deeds.mount import new_placement
from scheduler.deeds.slots import checked_slot
from scheduler.intake.typed import Words
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.rows import Value
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import names, wording
from scheduler.words.problems import Refused
from scheduler.words.records import Placement, Specimen

SLOT_COLUMNS = ("mounted", "board", "from_mm", "to_mm")
"""The columns of mounted.csv that can be corrected."""

Update = tuple[str, Value, Mapping[str, Value]]
"""A table of the record, a key in it, and what its row shall say."""


@dataclass(frozen=True, slots=True)
class Amending:
    """What every correction is checked against, and where its faults are noted."""

    store: Store
    snap: Snapshot
    rules: Rulebook
    words: Words
    when: When


def correct_slot(desk: Amending, specimen: Specimen, slot: Mapping[str, Any]) -> list[Update]:
    """Return the rows that correct the placement, and the chamber stay that led to it.

    Faults in the words are noted, and then nothing is returned. Raises Refused when another
    specimen stands or stood there.
    """
    name = specimen.specimen
    old = next((p for p in desk.snap.standing() if p.specimen == name), None)
    if old is None:
        reason = "cannot be amended: it stands on no board"
        desk.words.fault(next(iter(slot)), None, reason, f"Record it with: mount {name} --board B3")
        return []
    new = _corrected(desk, specimen, old, slot)
    if desk.words.problems or new is None:
        return []
    _refuse_taken(new, desk.snap)
    return [("placement", old.id, rows.placement_row(new)), *_chamber_rows(desk, old, new)]


def refuse_too_short(board: str, length_mm: int, snap: Snapshot) -> None:
    """Raise Refused when something stands or stood past the end that a board would get."""
    past = [p for p in snap.placements if p.board == board and p.to_mm > length_mm]
    if past:
        who = wording.listed(f"{p.specimen} ({p.from_mm}-{p.to_mm} mm)" for p in past)
        raise Refused(
            f"{board} cannot be {length_mm} mm long: {who} would be past its end."
            " Correct the slots first"
        )


def _corrected(
    desk: Amending, specimen: Specimen, old: Placement, slot: Mapping[str, Any]
) -> Placement | None:
    board = names.find(slot.get("board") or old.board, desk.snap.boards, "board")
    mounted_at = _mounted_at(desk, old, slot.get("mounted"))
    if mounted_at is None or desk.words.problems:
        return None
    ends = checked_slot(*_ends(slot, old), board)
    estimated = old.estimated and not {"from_mm", "to_mm"} & slot.keys()
    mounted = desk.when._replace(at=mounted_at)
    # As if it had been mounted there and then from the beginning.
    new = new_placement(desk.snap, desk.rules, specimen, board, ends, mounted, estimated)
    return old._replace(
        board=new.board,
        from_mm=new.from_mm,
        to_mm=new.to_mm,
        mounted_at=new.mounted_at,
        mounted_on=new.mounted_on,
        estimated=new.estimated,
        rule_ids=old.rule_ids if new.board == old.board else new.rule_ids,
    )


def _ends(slot: Mapping[str, Any], old: Placement) -> tuple[int, int]:
    """Return the slot; with only a new beginning it keeps its length."""
    from_mm, to_mm = slot.get("from_mm"), slot.get("to_mm")
    if from_mm is None:
        return old.from_mm, old.to_mm if to_mm is None else to_mm
    return from_mm, from_mm + old.to_mm - old.from_mm if to_mm is None else to_mm


def _mounted_at(desk: Amending, old: Placement, told: datetime | None) -> datetime | None:
    """Return when it was mounted; note a moment that cannot be true."""
    if told is None:
        return old.mounted_at
    at = desk.words.local("mounted", told, desk.snap.zone)
    if at is None:
        return None
    tests = desk.snap.tests_of(old.id)
    if at > desk.when.now:
        remedy = "Give a moment up to now"
        desk.words.fault("mounted", told.isoformat(), "has not happened yet", remedy)
    elif tests and tests[0].tested_at < at:
        tested = wording.moment(desk.snap.local(tests[0].tested_at), desk.when.now)
        remedy = "Correct the date, or take the test back (`wingrest undo`)"
        desk.words.fault("mounted", told.isoformat(), f"is after it was tested, {tested}", remedy)
    return at


def _refuse_taken(new: Placement, snap: Snapshot) -> None:
    """Raise Refused when another specimen stands or stood in that slot since then."""
    said = [
        f"{new.specimen} cannot have stood at {new.from_mm}-{new.to_mm} mm of {new.board}:"
        f" {p.specimen} {'stands' if p.released_at is None else 'stood'} at"
        f" {p.from_mm}-{p.to_mm} mm"
        for p in snap.placements
        if p.id != new.id
        and p.board == new.board
        and p.from_mm < new.to_mm
        and new.from_mm < p.to_mm
        and (p.released_at is None or p.released_at > new.mounted_at)
    ]
    if said:
        raise Refused("\n".join([*said, "Nothing was recorded. Correct the other one first"]))


def _chamber_rows(desk: Amending, old: Placement, new: Placement) -> list[Update]:
    """Return the chamber stay that ended with the mounting, ended at the corrected moment."""
    if old.mounted_at == new.mounted_at:
        return []
    stay = desk.store.db.execute(
        "SELECT id, since FROM chamber_stay WHERE specimen = ? AND until = ?",
        (old.specimen, rows.moment_text(old.mounted_at)),
    ).fetchone()
    if stay is None:
        return []
    since = rows.moment_of(stay["since"])
    if since > new.mounted_at:
        raise Refused(
            f"{old.specimen} went into the chamber after that, on"
            f" {wording.moment(desk.snap.local(since), desk.when.now)}. Check the date"
        )
    return [("chamber_stay", stay["id"], {"until": rows.moment_text(new.mounted_at)})]
