"""Record what was mounted from left to right: a whole board, or one specimen beside another.

Positions are optional. What nobody measured is estimated, and gives way to what was measured.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from scheduler.deeds.lot import lots_of, specimen_meant
from scheduler.deeds.mount import new_placement, record, refuse_taken
from scheduler.deeds.outcome import Outcome, Telling, told
from scheduler.deeds.slots import checked_slot, wanted_mm
from scheduler.drying.layout import NoRoom, Piece, Slot, join, lay, put_after
from scheduler.record.deed import Deed, When
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import names, wording
from scheduler.words.problems import BadInput, Refused
from scheduler.words.records import Board, Placement, Specimen

_ITEM = re.compile(r"(?P<specimen>[^=]+)(=(?P<from>\d+)(-(?P<to>\d+))?)?")


class Item(NamedTuple):
    """One specimen of a list, and where it lies if somebody measured it [mm]."""

    specimen: str
    from_mm: int | None = None
    to_mm: int | None = None


def read_list(words: Sequence[str]) -> tuple[str, tuple[Item, ...]]:
    """Read "B3: M-14 M-09=120 M-21=160-190". Raises BadInput with all that cannot be read."""
    board, _, rest = " ".join(words).partition(":")
    faults = []
    items = []
    for word in rest.split():
        read = _ITEM.fullmatch(word)
        if ":" in word:
            faults.append(f"{word!r}: one board at a time. Give each board a command of its own")
        elif read is None:
            faults.append(f"{word!r} is not read. Write M-14, M-14=120 or M-14=120-168 (mm)")
        else:
            items.append(Item(read["specimen"], _mm(read["from"]), _mm(read["to"])))
    if not items and not faults:
        faults.append(f"nothing is listed for {board}. Write `mount {board}: M-14 M-09`")
    if faults:
        raise BadInput("\n".join(faults))
    return board.strip(), tuple(items)


def _mm(text: str | None) -> int | None:
    return None if text is None else int(text)


def mount_list(
    store: Store, rules: Rulebook, board: str, items: Sequence[Item], when: When
) -> Outcome:
    """Record a board from left to right; what stands there already may be named for the order.

    Raises BadInput with everything that cannot be read, Refused where a slot is taken or the order
    contradicts the board.
    """
    with store.deed(when, "mount") as deed:
        snap = store.facts()
        where = names.find(board, snap.boards, "board")
        listed = _found(snap, where, items)
        new = [(s, item) for s, item in listed if not _stands(snap, s, where)]
        if not new:
            raise Refused(f"all of them stand on {where.board} already. Nothing was recorded")
        pieces = _pieces(snap, rules, where, new)
        standing = _standing(snap, rules, where)
        there = {p.specimen: p for p in standing}
        order = [there.get(s.specimen) or pieces[s.specimen] for s, _ in listed]
        try:
            row = join(standing, order, where.length_mm)
        except NoRoom as error:
            raise _refused(error, where) from error
        tell = _record_row(store, deed, snap, rules, where, row)
    return told(deed, tell)


def mount_after(
    store: Store, rules: Rulebook, specimen: str, board: str, after: str, when: When
) -> Outcome:
    """Record one specimen that was mounted directly to the right of another."""
    with store.deed(when, "mount") as deed:
        snap = store.facts()
        where = names.find(board, snap.boards, "board")
        who = specimen_meant(snap, specimen)
        here = {p.specimen: p for p in snap.standing(where.board)}
        neighbour = names.find(after, here, f"specimen on {where.board}")
        piece = Piece(who.specimen, wanted_mm(rules, who))
        _refuse_standing(snap, [who.specimen])
        row = put_after(_standing(snap, rules, where), piece, neighbour.specimen)
        tell = _record_row(store, deed, snap, rules, where, row)
    return told(deed, tell)


def _found(snap: Snapshot, board: Board, items: Sequence[Item]) -> list[tuple[Specimen, Item]]:
    lots = lots_of(snap)
    strange = [i.specimen for i in items if names.lookup(i.specimen, snap.specimens) is None]
    strange = [name for name in strange if names.lookup(name, lots) is None]
    if strange:
        raise names.unknown(strange, [*snap.specimens, *lots], "specimen")
    found: list[tuple[Specimen, Item]] = []
    for item in items:
        spoken_for = [i.specimen for i in items] + [s.specimen for s, _ in found]
        found.append((specimen_meant(snap, item.specimen, spoken_for), item))
    ids = [s.specimen for s, _ in found]
    faults = [f"{name} is listed twice" for name in dict.fromkeys(ids) if ids.count(name) > 1]
    faults += [
        f"{s.specimen} stands on {board.board} already: leave its position out"
        for s, item in found
        if item.from_mm is not None and _stands(snap, s, board)
    ]
    if faults:
        raise BadInput("\n".join(faults))
    _refuse_standing(snap, [s.specimen for s, _ in found if not _stands(snap, s, board)])
    return found


def _stands(snap: Snapshot, specimen: Specimen, board: Board) -> bool:
    return any(p.specimen == specimen.specimen for p in snap.standing(board.board))


def _refuse_standing(snap: Snapshot, specimens: Sequence[str]) -> None:
    on = {p.specimen: p.board for p in snap.standing()}
    said = [f"{name} stands on {on[name]} already" for name in specimens if name in on]
    if said:
        raise Refused("\n".join(said) + "\nNothing was recorded. `wingrest release` takes it off")


def _pieces(
    snap: Snapshot, rules: Rulebook, board: Board, new: Sequence[tuple[Specimen, Item]]
) -> dict[str, Piece]:
    """Return the new ones as pieces; one with a beginning only ends at the next measured one."""
    walls = [item.from_mm for _, item in new if item.from_mm is not None]
    walls += [p.from_mm for p in snap.standing(board.board) if not p.estimated]
    pieces = {}
    faults = []
    for specimen, item in new:
        try:
            slot = _reported(specimen, item, board, walls, rules)
            length = slot[1] - slot[0] if slot else wanted_mm(rules, specimen)
            pieces[specimen.specimen] = Piece(specimen.specimen, length, slot, slot is not None)
        except BadInput as error:
            faults.append(str(error))
    reported = sorted((p.at, p.specimen) for p in pieces.values() if p.at is not None)
    faults += [
        f"{right} at {b[0]}-{b[1]} mm lies over {left} at {a[0]}-{a[1]} mm"
        for (a, left), (b, right) in pairwise(reported)
        if b[0] < a[1]
    ]
    if faults:
        raise BadInput("\n".join(faults))
    return pieces


def _reported(
    specimen: Specimen, item: Item, board: Board, walls: Sequence[int], rules: Rulebook
) -> tuple[int, int] | None:
    begin = item.from_mm
    if begin is None:
        return None
    if item.to_mm is not None:
        return checked_slot(begin, item.to_mm, board)
    next_wall = min((w for w in walls if w > begin), default=board.length_mm)
    return checked_slot(begin, min(begin + wanted_mm(rules, specimen), next_wall), board)


def _standing(snap: Snapshot, rules: Rulebook, board: Board) -> list[Piece]:
    """Return what stands on the board; only what was estimated may be re-laid."""
    return [
        Piece(
            p.specimen,
            _length_mm(snap, rules, p),
            (p.from_mm, p.to_mm),
            fixed=not p.estimated or _shared_its_slot(snap, p),
        )
        for p in snap.standing(board.board)
    ]


def _length_mm(snap: Snapshot, rules: Rulebook, placement: Placement) -> int:
    try:
        return wanted_mm(rules, snap.specimens[placement.specimen])
    except BadInput:
        return placement.to_mm - placement.from_mm


def _shared_its_slot(snap: Snapshot, placement: Placement) -> bool:
    """Say whether another came off the board since then: re-laid, it could lie over that one."""
    return any(
        p.board == placement.board
        and p.released_at is not None
        and p.released_at > placement.mounted_at
        for p in snap.placements
    )


def _record_row(
    store: Store,
    deed: Deed,
    snap: Snapshot,
    rules: Rulebook,
    board: Board,
    row: Sequence[Piece],
) -> Telling:
    before = {p.specimen: p for p in snap.standing(board.board)}
    here = [p for p in row if p.specimen not in before]
    reported = [_placement(snap, rules, board, p, deed.when) for p in here]
    refuse_taken([p for p in reported if not p.estimated], _measured_only(snap))
    try:
        slots = {s.specimen: s for s in lay(row, board.length_mm)}
    except NoRoom as error:
        raise _refused(error, board) from error
    new = [_at(p, slots[p.specimen]) for p in reported]
    moved = [
        _at(old, slots[name])
        for name, old in before.items()
        if (old.from_mm, old.to_mm) != slots[name][1:]
    ]
    tell = record(store, deed, snap, rules, new, moved=moved)
    every = all(p.estimated for p in new)
    said = wording.listed(
        f"{p.specimen} {p.from_mm}-{p.to_mm}{' (estimated)' * (p.estimated and not every)}"
        for p in new
    )
    return lambda: tell([f"  on {board.board}, in mm: {said}{' (estimated)' * every}"])


def _placement(
    snap: Snapshot, rules: Rulebook, board: Board, piece: Piece, when: When
) -> Placement:
    slot = piece.at or (0, piece.length_mm)
    specimen = snap.specimens[piece.specimen]
    return new_placement(snap, rules, specimen, board, slot, when, piece.at is None)


def _at(placement: Placement, slot: Slot) -> Placement:
    return placement._replace(from_mm=slot.from_mm, to_mm=slot.to_mm)


def _measured_only(snap: Snapshot) -> Snapshot:
    """Return the record without the placements that give way."""
    return snap.but(placements=tuple(p for p in snap.placements if not p.estimated))


def _refused(error: NoRoom, board: Board) -> Refused:
    return Refused(
        f"{board.board}: {error}. Nothing was recorded. `wingrest boards` shows what stands"
        " there; release what came off, or say where they lie: M-14=120"
    )
