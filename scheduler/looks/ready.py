"""Can I free this board yet?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from scheduler.drying import answer as answers
from scheduler.drying.evidence import Evidence, evidence_of
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import Rulebook
from scheduler.words import names
from scheduler.words.records import Placement


def ready(
    snap: Snapshot, rules: Rulebook, asked: Sequence[str], now: datetime
) -> tuple[answers.BoardAnswer, ...]:
    """Answer for the boards and specimens asked about, for every occupied board when none.

    Boards come in the order asked. Raises BadInput for ids that are not known and for
    specimens that stand on no board.
    """
    wanted = _wanted(snap, asked)
    return tuple(
        answers.answer_board(board, placements, snap, rules, now)
        for board, placements in wanted.items()
    )


def evidence(
    snap: Snapshot, rules: Rulebook, found: Iterable[answers.BoardAnswer], now: datetime
) -> dict[str, Evidence]:
    """Return by specimen what the dates of the answers rest on."""
    standing = {p.specimen: p for p in snap.standing()}
    return {
        s.specimen: evidence_of(standing[s.specimen], snap, rules, now)
        for board in found
        for s in board.specimens
    }


def _wanted(snap: Snapshot, asked: Sequence[str]) -> dict[str, list[Placement]]:
    if not asked:
        wanted: dict[str, list[Placement]] = {}
        for placement in snap.standing():
            wanted.setdefault(placement.board, []).append(placement)
        return wanted
    return _by_name(snap, asked)


def _by_name(snap: Snapshot, asked: Sequence[str]) -> dict[str, list[Placement]]:
    wanted: dict[str, list[Placement]] = {}
    strange = []
    by_specimen = {p.specimen: p for p in snap.standing()}
    for name in asked:
        board = names.lookup(name, snap.boards)
        placement = names.lookup(name, by_specimen)
        if board is not None:
            wanted[board.board] = list(snap.standing(board.board))
        elif placement is not None:
            on_board = wanted.setdefault(placement.board, [])
            if placement not in on_board:
                on_board.append(placement)
        else:
            strange.append(name)
    if strange:
        raise names.unknown(strange, [*snap.boards, *by_specimen], "board or mounted specimen")
    return wanted
