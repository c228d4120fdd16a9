"""What stands where, how dry it is, and how much groove is free."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from scheduler.drying.answer import BoardAnswer
from scheduler.view import View
from scheduler.words.names import natural_order
from scheduler.words.records import Board, Placement


@dataclass(frozen=True, slots=True)
class BoardState:
    """A board, the room in which it stands, what stands on it and its free stretches in mm."""

    board: Board
    room: str | None
    answer: BoardAnswer
    free: tuple[tuple[int, int], ...]

    @property
    def free_mm(self) -> int:
        """Return the length of free groove in all [mm]."""
        return sum(b - a for a, b in self.free)


def free_stretches(standing: Iterable[Placement], board: Board) -> tuple[tuple[int, int], ...]:
    """Return the stretches of a board's groove on which nothing stands, from left to right."""
    free = []
    at = 0
    for p in standing:
        if p.from_mm > at:
            free.append((at, p.from_mm))
        at = max(at, p.to_mm)
    if at < board.length_mm:
        free.append((at, board.length_mm))
    return tuple(free)


def boards(view: View, only: Collection[str] | None = None) -> tuple[BoardState, ...]:
    """Return every board, or those with these ids; the narrowest groove comes first."""
    every = sorted(view.boards.values(), key=lambda b: (b.groove_mm, natural_order(b.board)))
    return tuple(_state(board, view) for board in every if only is None or board.board in only)


def _state(board: Board, view: View) -> BoardState:
    room = view.room_of(board.board)
    return BoardState(
        board,
        room.room if room else None,
        view.answer(board.board),
        free_stretches(view.facts.standing(board.board), board),
    )
