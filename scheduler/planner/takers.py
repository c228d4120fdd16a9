"""Which boards take a specimen and, where none does, what even the best of them lacks."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from scheduler.drying.fit import Fit, Size, fit
from scheduler.rulebook import Rulebook
from scheduler.words.records import Board, Room


class Taking(NamedTuple):
    """The boards that take a specimen, and their rooms.

    Specimens that fit the same boards alike share the same objects: that saves memory, and the
    search sees at once which specimens are alike.
    """

    spare_mm: Mapping[str, float]
    pack: frozenset[str]
    rooms: tuple[Room, ...]


class Takers:
    """Which boards take which specimen; equal boards and equal sizes are worked out once."""

    def __init__(self, boards: Sequence[tuple[Board, Room]], rules: Rulebook) -> None:
        self.boards, self.rules = boards, rules
        self.kinds = {_kind(board): board for board, _ in boards}
        self.lengths = sorted({board.length_mm for board, _ in boards})
        self.asked: dict[tuple[float, float, int], Taking] = {}
        self.known: dict[tuple[tuple[_Kind, float, bool], ...], Taking] = {}

    def of(self, size: Size, slot: int) -> Taking:
        """Return the boards that take a specimen of this size and slot [mm], if any."""
        too_short = bisect_left(self.lengths, slot)
        key = (size.body_mm, size.wingspan_mm, too_short)
        if key not in self.asked:
            fits = self._fits(size, slot)
            good = tuple((kind, f.spare_mm, f.pack) for kind, f in fits.items() if f.fits)
            if good not in self.known:
                self.known[good] = self._taking(fits)
            self.asked[key] = self.known[good]
        return self.asked[key]

    def fits(self, size: Size, slot: int) -> list[tuple[Board, Fit]]:
        """Return how each board fits a specimen of this size and slot [mm]."""
        fits = self._fits(size, slot)
        return [(board, fits[_kind(board)]) for board, _ in self.boards]

    def _fits(self, size: Size, slot: int) -> dict[_Kind, Fit]:
        return {kind: fit(size, slot, board, self.rules) for kind, board in self.kinds.items()}

    def _taking(self, fits: Mapping[_Kind, Fit]) -> Taking:
        good = [(board, room, fits[_kind(board)]) for board, room in self.boards]
        good = [entry for entry in good if entry[-1].fits]
        rooms = {room.room: room for _, room, _ in good}
        return Taking(
            {board.board: f.spare_mm for board, _, f in good},
            frozenset(board.board for board, _, f in good if f.pack),
            tuple(room for _, room in sorted(rooms.items())),
        )


_Kind = tuple[float, float, int]


def _kind(board: Board) -> _Kind:
    """Return all that decides whether, and how well, a specimen fits the board."""
    return board.groove_mm, board.span_mm, board.length_mm


def misfit(size: Size, slot: int, fits: Sequence[tuple[Board, Fit]]) -> str:
    """Return why no board fits, with how the size was estimated, if it was."""
    if not fits:
        return "there is no board in use"
    how = f" ({size.estimated})" if size.estimated else ""
    return _lacking(size, slot, fits) + how


def _lacking(size: Size, slot: int, fits: Sequence[tuple[Board, Fit]]) -> str:
    """Say what even the best board lacks: the groove, else the length, else the span."""
    wide = [board for board, f in fits if f.spare_mm >= 0]
    if not wide:
        best, near = max(fits, key=lambda one: one[0].groove_mm)
        said = f"body {size.body_mm:.3g} mm: the widest groove is {best.groove_mm:g} mm"
        least = best.groove_mm - near.spare_mm
        needs = f", it needs {least:.3g} mm" if best.groove_mm >= size.body_mm else ""
        return f"{said}, board {best.board}{needs}"
    long = [board for board in wide if board.length_mm >= slot]
    if not long:
        best = max(wide, key=lambda b: b.length_mm)
        return (
            f"needs {slot} mm of groove: the longest board with a groove wide enough has "
            f"{best.length_mm} mm, board {best.board}"
        )
    best = max(long, key=lambda b: b.span_mm)
    edge = ", and leaves too little edge" if best.span_mm >= size.wingspan_mm else ""
    return (
        f"wingspan {size.wingspan_mm:.4g} mm: the widest board with a groove wide enough is "
        f"{best.span_mm:g} mm, board {best.board}{edge}"
    )
