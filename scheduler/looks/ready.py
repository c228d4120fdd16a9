"""Can I free this board yet?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduler.drying.answer import BoardAnswer, answer_board
from scheduler.drying.evidence import Evidence
from scheduler.drying.on_board import OnBoard
from scheduler.view import View


def ready(view: View, asked: Sequence[str]) -> tuple[BoardAnswer, ...]:
    """Answer for the boards and specimens asked about; if none, for every occupied board.

    Boards come in the order in which they were asked about. Raises BadInput for ids that are
    unknown, and for specimens that stand on no board.
    """
    return tuple(
        answer_board(board, map(view.answer_of, those), len(view.standing(board)))
        for board, those in _wanted(view, asked).items()
    )


def evidence(view: View, found: Iterable[BoardAnswer]) -> dict[str, Evidence]:
    """Return, by specimen, what the dates of the answers rest on."""
    asked = (view.on_board(s.specimen) for board in found for s in board.specimens)
    return {one.specimen.specimen: view.evidence(one) for one in asked if one is not None}


def _wanted(view: View, asked: Sequence[str]) -> dict[str, list[OnBoard]]:
    wanted: dict[str, list[OnBoard]] = {}
    for one in view.named(asked) if asked else view.standing():
        if isinstance(one, OnBoard):
            on_board = wanted.setdefault(one.board.board, [])
            if one not in on_board:
                on_board.append(one)
        else:
            wanted[one.board] = list(view.standing(one.board))
    return wanted
