"""Where on its board a specimen lies: where it was measured, else by the rules' length."""

from __future__ import annotations

from scheduler.drying import fit
from scheduler.looks.boards import free_stretches
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import Rulebook
from scheduler.words.problems import BadInput
from scheduler.words.records import Board, Placement, Specimen


def slot_for(
    snap: Snapshot,
    rules: Rulebook,
    specimen: Specimen,
    board: Board,
    given: tuple[int | None, int | None],
) -> tuple[int, int]:
    """Return the slot [mm] of one mounted by hand; what was not said comes from the rules.

    Raises BadInput when there is no such stretch, or when nothing tells how long it must be.
    """
    from_mm, to_mm = given
    if from_mm is not None and to_mm is not None:
        return checked_slot(from_mm, to_mm, board)
    length = wanted_mm(rules, specimen)
    if from_mm is not None:
        return checked_slot(from_mm, from_mm + length, board)
    if to_mm is not None:
        raise BadInput("an end without a beginning. Give --from-mm too")
    free = free_stretches(snap.standing(board.board), board)
    for begin, end in free:
        if end - begin >= length:
            return begin, begin + length
    widest = max(free, key=lambda s: s[1] - s[0], default=None)
    room = f"its longest free stretch is {widest[1] - widest[0]} mm" if widest else "it is full"
    raise BadInput(
        f"{specimen.specimen} would take {length} mm of {board.board}, but {room}."
        " Say where it stands: --from-mm and --to-mm"
    )


def checked_slot(from_mm: int, to_mm: int, board: Board) -> tuple[int, int]:
    """Return a slot that somebody gave. Raises BadInput when it is not on the board."""
    if not 0 <= from_mm < to_mm <= board.length_mm:
        raise BadInput(
            f"{from_mm}-{to_mm} mm is no stretch of {board.board}, which is {board.length_mm} mm"
            " long. Give whole mm from its left end"
        )
    return from_mm, to_mm


def wanted_mm(rules: Rulebook, specimen: Specimen) -> int:
    """Return the length of groove [mm] that the rules give a specimen.

    Raises BadInput when its size is unknown.
    """
    size = fit.size_of(specimen, rules)
    if size is None:
        raise BadInput(
            f"nothing tells the size of {specimen.specimen}. Say where it stands:"
            " --from-mm and --to-mm"
        )
    return fit.slot_mm(size, rules.kin(specimen).row, rules)


def fit_warnings(placement: Placement, snap: Snapshot, rules: Rulebook) -> list[str]:
    """Return in words where a placement disagrees with the rules of fit."""
    specimen, board = snap.specimens[placement.specimen], snap.boards[placement.board]
    size = fit.size_of(specimen, rules)
    if size is None:
        return [
            f"{specimen.specimen}: nothing tells its size; its days count as for a body of"
            f" {board.groove_mm:g} mm, the groove"
        ]
    rules_mm = fit.slot_mm(size, rules.kin(specimen).row, rules)
    found = fit.fit(size, rules_mm, board, rules)
    said = []
    if not found.fits or found.pack:
        said.append(f"{specimen.specimen} on {board.board}: {found.reason}")
    taken_mm = placement.to_mm - placement.from_mm
    if taken_mm < rules_mm:
        said.append(
            f"{specimen.specimen} has {taken_mm} mm of {board.board}; the rules would give it"
            f" {rules_mm} mm"
        )
    return said
