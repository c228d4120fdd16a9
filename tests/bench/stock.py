"""The invented boards of `instances`, and which bodies fit them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from random import Random
from typing import Literal, NamedTuple

from scheduler.planner.problem import PlanBoard

Stock = Literal["sets", "odd"]
"""Boards bought in sets, or built one by one: each with a groove and a length of its own."""


class BoardType(NamedTuple):
    """A set's boards: a groove goes with a span and a length (mm)."""

    share: int
    groove_mm: float
    span_mm: int
    length_mm: int


BOARD_TYPES = (
    BoardType(6, 3.0, 60, 300),
    BoardType(14, 5.0, 90, 300),
    BoardType(20, 7.0, 90, 350),
    BoardType(22, 9.0, 130, 350),
    BoardType(16, 11.0, 130, 400),
    BoardType(12, 14.0, 200, 400),
    BoardType(10, 18.0, 250, 400),
)
ODD_LENGTHS_MM = (180, 450)
"""Shortest and longest board that somebody built for the wood there was."""

SPANS_MM = (60, 90, 130, 200, 250)
ROOMS: Mapping[str, float] = {"attic": 1.0, "cellar": 1.5, "study": 1.15}
"""Rooms and how much longer their air takes; stout bodies get no time in the cellar."""


class Board(NamedTuple):
    """A board as the planner knows it, with what decides who fits it (mm)."""

    board: PlanBoard
    groove_mm: float
    span_mm: int


def boards_of(rng: Random, number: int, length: float, stock: Stock) -> list[Board]:
    """Return boards of every type by its share, in a room each."""
    rooms = list(ROOMS)
    total = sum(t.share for t in BOARD_TYPES)
    found = []
    for n in range(number):
        at = (n + 0.5) * total / number
        of = next(t for m, t in enumerate(BOARD_TYPES) if at < _shares_to(m))
        room = rng.choices(rooms, (5, 2, 4))[0]
        if stock == "odd":
            of = _odd(rng, of)
        board = PlanBoard(f"B{n + 1:04d}", max(60, int(of.length_mm * length)), room)
        found.append(Board(board, of.groove_mm, of.span_mm))
    return found


def _odd(rng: Random, of: BoardType) -> BoardType:
    """Return a board built for what the type holds: groove within a mm in half mm, any length."""
    groove = of.groove_mm + rng.randint(-2, 2) / 2
    return of._replace(groove_mm=groove, length_mm=rng.randint(*ODD_LENGTHS_MM))


def _shares_to(n: int) -> int:
    return sum(t.share for t in BOARD_TYPES[: n + 1])


class Fits:
    """Which boards fit which bodies, by a rule of thumb made up here."""

    def __init__(self, boards: Sequence[Board]) -> None:
        self.boards = boards
        self.lengths = sorted({one.board.length_mm for one in boards})
        self.known: dict[tuple[float, int, int], tuple[dict[str, float], frozenset[str]]] = {}

    def of(self, body: float, wingspan: int, slot: int) -> tuple[dict[str, float], frozenset[str]]:
        """Return the spare groove (mm) by board, and the boards to pack; shared by the alike."""
        span = next((s for s in SPANS_MM if s >= wingspan + 5), 1_000)
        key = (body, span, bisect_left(self.lengths, slot))
        if key not in self.known:
            clearance, wide = (0.5, 1.5) if body < 3 else (1.0, 2.5) if body < 6 else (1.0, 3.0)
            spare: dict[str, float] = {}
            pack = set()
            for one in self.boards:
                over = round(one.groove_mm - body - clearance, 2)
                if over < 0 or one.span_mm < span or one.board.length_mm < slot:
                    continue
                spare[one.board.board] = over
                if one.groove_mm > body + wide:
                    pack.add(one.board.board)
            self.known[key] = spare, frozenset(pack)
        return self.known[key]
