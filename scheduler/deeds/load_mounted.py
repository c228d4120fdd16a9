"""What stands on a board already in a loaded folder: each gets the slot told, or one found."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.deeds.mount import rule_ids
from scheduler.deeds.telling import keep_dates
from scheduler.deeds.whereabouts import end_chamber_stays
from scheduler.drying import fit
from scheduler.drying.layout import Piece, lay
from scheduler.intake.batch import Batch, Mounted
from scheduler.intake.batch.mounted import free_stretch, taken_slots
from scheduler.record import rows
from scheduler.record.deed import Deed
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words.records import Board, Placement, Specimen


def put_mounted(deed: Deed, view: View, batch: Batch, counts: dict[str, int]) -> list[Placement]:
    """Record what stands already; rows without a position go left to right on their board."""
    slots = _slots(batch.mounted, view.facts, view.rules)
    placed = [_placement(m, slots[m.specimen], view) for m in batch.mounted]
    numbered = {deed.insert("placement", rows.placement_row(p)): p for p in placed}
    keep_dates(deed, view, numbered)
    for placement in placed:
        end_chamber_stays(deed, [placement.specimen], placement.mounted_at)
    if placed:
        counts["placement"] = len(placed)
    return placed


def _slots(
    mounted: Sequence[Mounted], snap: Snapshot, rules: Rulebook
) -> dict[str, tuple[int, int]]:
    """Return the slots by specimen, as given or laid into what is free.

    A fact is not refused because the rules would give it more groove: what does not fit is
    squeezed, and `fit_warnings` says so.
    """
    slots: dict[str, tuple[int, int]] = {}
    loose: dict[str, list[Mounted]] = {}
    for m in mounted:
        if m.from_mm is not None and m.to_mm is not None:
            slots[m.specimen] = m.from_mm, m.to_mm
        else:
            loose.setdefault(m.board, []).append(m)
    for name, those in loose.items():
        board = snap.boards[name]
        pieces = [
            Piece(m.specimen, _length(snap.specimens[m.specimen], board, rules)) for m in those
        ]
        since = min(m.mounted_at for m in those)
        taken = taken_slots(name, since, mounted, snap.placements)
        wanted = sum(piece.length_mm for piece in pieces)
        begin, end = free_stretch(board.length_mm, taken, wanted)
        for slot in lay(pieces, end - begin):
            slots[slot.specimen] = begin + slot.from_mm, begin + slot.to_mm
    return slots


def _placement(m: Mounted, slot: tuple[int, int], view: View) -> Placement:
    specimen, board = view.specimens[m.specimen], view.boards[m.board]
    return Placement(
        id=0,
        specimen=m.specimen,
        board=m.board,
        from_mm=slot[0],
        to_mm=slot[1],
        mounted_at=m.mounted_at,
        mounted_on=m.mounted_on,
        estimated=m.from_mm is None,
        rule_ids=rule_ids(view, specimen, board),
    )


def _length(specimen: Specimen, board: Board, rules: Rulebook) -> int:
    size = fit.size_of(specimen, rules)
    if size is None:
        # A body of which nothing is known counts as thick as the groove in which it lies.
        size = fit.size_of(specimen._replace(body_mm=board.groove_mm), rules)
    assert size is not None
    return fit.slot_mm(size, rules.kin(specimen).row, rules)
