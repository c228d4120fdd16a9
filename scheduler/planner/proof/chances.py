"""All that the proof may choose from: who is mounted when and where, and when each comes off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from scheduler.planner.bench import Choice
from scheduler.planner.bits import lowest
from scheduler.planner.proof.positions import Use
from scheduler.planner.state import PlanState


class Chances:
    """All that may be chosen beside what is fixed.

    `base` is a plan with the fixed ones alone, in which what stands comes off as soon as it may
    and that takes no minutes.
    """

    def __init__(self, base: PlanState) -> None:
        self.base, self.bench = base, base.bench
        self._runs: dict[tuple[int, int, int], list[tuple[int, int]]] = {}
        self.of = [
            list(self._offers(n)) if base.spots[n] is None else []
            for n in range(len(self.bench.waiting))
        ]
        self.standing = [self._stays(s) for s in range(len(self.bench.stands))]
        self.roots = [runs(self._ever_free(board)) for board in range(len(self.bench.boards))]

    def _offers(self, n: int) -> Iterator[Use]:
        bench, base, w = self.bench, self.base, self.bench.waiting[n]
        for choice in bench.choices[n] + bench.refused[n]:
            for k in range(w.first, w.last + 1):
                first = bench.off_at(k, choice.plan_days)
                for off in range(first, bench.latest[first] + 1):
                    if base.has_minutes(n, k) and base.may_take_off(off):
                        for from_mm, to_mm in self._free(choice.board, k, off):
                            if to_mm - from_mm >= w.slot_mm:
                                yield Use(n, k, off, choice, from_mm, to_mm, w.slot_mm)

    def _stays(self, s: int) -> list[Use]:
        """Return until when a standing one may stay; its number follows those that wait."""
        bench, base, number = self.bench, self.base, len(self.bench.waiting) + s
        slot, board, first = bench.stands[s], bench.stand_board[s], bench.stand_first[s]
        here, mm = Choice(board, 0.0, None), slot.to_mm - slot.from_mm
        return [
            Use(number, -1, off, here, slot.from_mm, slot.to_mm, mm)
            for off in range(first, len(bench.on) + (first < len(bench.on)))
            if base.may_take_off(off) and (off == first or base.may_shift(s, off))
        ]

    def _free(self, board: int, session: int, off_at: int) -> list[tuple[int, int]]:
        key = board, session, off_at
        if key not in self._runs:
            self._runs[key] = runs(self.base.free(*key))
        return self._runs[key]

    def free_at(self, board: int, session: int) -> int:
        """Return, as bits, the mm of a board that nothing standing or fixed takes at a session."""
        return self.bench.whole[board] & ~self.base.taken[board][session]

    def _ever_free(self, board: int) -> int:
        bits = 0
        for session in range(len(self.bench.sessions)):
            bits |= self.free_at(board, session)
        return bits

    def root(self, use: Use) -> tuple[int, int]:
        """Return the root of a use: its board, and the first mm of the run around its stretch.

        A run are the mm that are free at some session. Slots of different roots never meet; on a
        board that is refilled at its end all slots belong together.
        """
        board = use.choice.board
        if self.bench.refill[board] == "end":
            return board, 0
        # A standing one whose slot a fixed one takes at once has no free run around it: 0 then.
        return board, max((mm for mm, _ in self.roots[board] if mm <= use.from_mm), default=0)

    def by_root(self, uses: Iterable[Use]) -> list[list[Use]]:
        """Return the uses grouped by their root, in its order."""
        found: dict[tuple[int, int], list[Use]] = {}
        for use in uses:
            found.setdefault(self.root(use), []).append(use)
        return [found[key] for key in sorted(found)]

    def saves(self, use: Use) -> tuple[int, int]:
        """Return the priority and the weighted days saved, compared with leaving it out.

        For a standing one it is compared with taking it off in time.
        """
        bench, n = self.bench, use.number
        if n >= len(bench.waiting):
            return 0, -bench.left_days(n - len(bench.waiting), use.off_at)
        days = bench.waits_on(n) - bench.waits(n, use.session, use.choice)
        return bench.would_spoil[n] * bench.waiting[n].priority, days


def runs(bits: int) -> list[tuple[int, int]]:
    """Return where each run of bits begins (included) and ends (excluded)."""
    found, at = [], 0
    while bits:
        skip = lowest(bits)
        bits >>= skip
        run = lowest(~bits)
        found.append((at + skip, at + skip + run))
        bits >>= run
        at += skip + run
    return found
