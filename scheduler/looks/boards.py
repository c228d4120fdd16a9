"""What stands where, how dry it is, and how much groove is free."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from scheduler.drying import answer as answers
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import Rulebook
from scheduler.words.records import Board


@dataclass(frozen=True, slots=True)
class BoardState:
    """A board, the room it stands in, what stands on it and its free stretches in mm."""

    board: Board
    room: str | None
    answer: answers.BoardAnswer
    free: tuple[tuple[int, int], ...]

    @property
    def free_mm(self) -> int:
        """Return the free groove altogether."""
        return sum(b - a for a, b in self.free)


def free_stretches(snap: Snapshot, board: Board) -> tuple[tuple[int, int], ...]:
    """Return the stretches of groove on which nothing stands, from left to right."""
    free = []
    at = 0
    for p in snap.standing(board.board):
        if p.from_mm > at:
            free.append((at, p.from_mm))
        at = max(at, p.to_mm)
    if at < board.length_mm:
        free.append((at, board.length_mm))
    return tuple(free)


def boards(snap: Snapshot, rules: Rulebook, now: datetime) -> tuple[BoardState, ...]:
    """Return every board, the narrowest groove first."""
    every = sorted(snap.boards.values(), key=lambda b: (b.groove_mm, b.board))
    states = []
    for board in every:
        room = snap.room_of(board.board)
        answer = answers.answer_board(board.board, snap.standing(board.board), snap, rules, now)
        states.append(
            BoardState(board, room.room if room else None, answer, free_stretches(snap, board))
        )
    return tuple(states)
