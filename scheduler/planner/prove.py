"""Prove a small plan the best there is, or find a better one.

In two parts. The first decides who is mounted when, and on which free stretch of which board:
minutes, chamber and summed slots of every stretch count, positions do not yet (constraint
programming, one worker, so that the same problem gives the same plan). The second
(`prove_layout`) lays each board's slots beside each other. Where they do not fit, the first
is told that these do not go together, and decides again. What is proven are the first two
tiers; the others break ties.

What makes it quick is the order of the alike: of two specimens of which one can take the
other's place for no more groove, minutes and waiting, the other is never mounted alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from scheduler.planner.bench import Bench
from scheduler.planner.by_hand import fill_up
from scheduler.planner.occupancy import State
from scheduler.planner.prove_layout import Layout, Use, lay, quiet_solver, smallest_clash

MOST_RECTANGLES = 4_000
"""Problems with more are too large to be proven in a second or so."""


@dataclass(frozen=True)
class Proof:
    """The best plan found; with `proven` there is none better on the first two tiers.

    Otherwise no plan that spoils no more waits less than `waits` weighted days.
    """

    state: State
    proven: bool
    waits: int


def rectangles(bench: Bench) -> int:
    """Return how many rectangles the problem has."""
    return sum(
        (len(bench.choices[n]) + len(bench.refused[n])) * max(0, w.last - w.first + 1)
        for n, w in enumerate(bench.waiting)
    )


def prove(start: State, fixed: frozenset[int], effort: float, least: int = 0) -> Proof:
    """Look for a better plan than `start` that leaves the `fixed` where they are.

    `effort` is the solver's own count of work, about a second each, the same everywhere.
    `least` is a known bound on the weighted waiting.
    """
    return _Proving(start, fixed, least).proof(effort)


class _Proving:
    """The two parts in turn, until they agree or the work is spent."""

    def __init__(self, start: State, fixed: frozenset[int], least: int) -> None:
        self.bench, self.low = start.bench, least
        kept = frozenset(n for n in fixed if start.spots[n] is not None)
        self.base = _copied(State(self.bench), start, kept)
        self.offers = _Offers(self.base)
        self.better = _betters(self.offers)
        self.best = _swapped(start, self.base, self.offers, self.better)
        self.known: dict[tuple[Use, ...], Layout] = {}

    def proof(self, effort: float) -> Proof:
        master = _Master(self.base, self.offers, self.better, self.low)
        while effort > 0 and master.goal_of(self.best) > self.low:
            chosen, low, spent = master.choose(self.best, effort)
            effort -= spent
            self.low = max(self.low, low)
            if chosen is None:
                break
            effort -= self._lay(master, chosen, effort)
        goal, spoiling = master.goal_of(self.best), master.spoiling * _spoiled(self.best)
        return Proof(self.best, goal <= self.low, max(0, min(goal, self.low) - spoiling))

    def _lay(self, master: _Master, chosen: list[Use], effort: float) -> float:
        """Lay what was chosen, tell the master what does not fit; return the work spent."""
        places: dict[int, int] = {}
        spent = 0.0
        for together in self.offers.by_root(chosen):
            key = tuple(together)
            found = self.known.get(key)
            if found is None:
                found = lay(self.bench, together, max(0.0, effort - spent))
                spent += found.spent
            if found.places is not None:
                self.known[key] = found
                places.update(found.places)
            elif found.decided:
                clash, more = smallest_clash(self.bench, together, max(0.0, effort - spent))
                spent += more
                master.forbid(clash)
        state = self.base.copy()
        for use in chosen:
            if use.number in places:
                state.insert(use.number, use.session, use.choice, places[use.number])
        if len(places) < len(chosen):
            fill_up(state, anyway=True)
        self.best = min(self.best, state, key=master.goal_of)
        return spent


def _copied(to: State, of: State, numbers: Iterable[int]) -> State:
    for n in sorted(numbers):
        spot = of.spots[n]
        if spot is not None:
            to.insert(n, spot.session, spot.choice, spot.from_mm)
    return to


def _spoiled(state: State) -> int:
    bench = state.bench
    return sum(
        w.priority
        for n, w in enumerate(bench.waiting)
        if bench.would_spoil[n] and state.spots[n] is None
    )


def _waits(state: State) -> int:
    bench = state.bench
    return sum(
        bench.waits_on(n)
        if spot is None
        else bench.waits(n, spot.session, spot.choice.plan_days)
        for n, spot in enumerate(state.spots)
    )


class _Offers:
    """All that may be chosen beside what stands and is fixed (`base`)."""

    def __init__(self, base: State) -> None:
        self.base, self.bench = base, base.bench
        self._runs: dict[tuple[int, int, int], list[tuple[int, int]]] = {}
        self.of = [
            list(self._offers(n)) if base.spots[n] is None else []
            for n in range(len(self.bench.waiting))
        ]
        self.roots = [runs(self._ever_free(board)) for board in range(len(self.bench.boards))]

    def _offers(self, n: int) -> Iterator[Use]:
        bench, base, w = self.bench, self.base, self.bench.waiting[n]
        for choice in bench.choices[n] + bench.refused[n]:
            for k in range(w.first, w.last + 1):
                off = bench.off_at(k, choice.plan_days)
                if base.has_minutes(n, k) and base.may_take_off(off):
                    for from_mm, to_mm in self._free(choice.board, k, off):
                        if to_mm - from_mm >= w.slot_mm:
                            yield Use(n, k, off, choice, from_mm, to_mm)

    def _free(self, board: int, session: int, off_at: int) -> list[tuple[int, int]]:
        key = board, session, off_at
        if key not in self._runs:
            self._runs[key] = runs(self.base.free(*key))
        return self._runs[key]

    def free_at(self, board: int, session: int) -> int:
        """Return what nothing that stands or is fixed takes at a session, as bits."""
        return self.bench.whole[board] & ~self.base.taken[board][session]

    def _ever_free(self, board: int) -> int:
        bits = 0
        for session in range(len(self.bench.sessions)):
            bits |= self.free_at(board, session)
        return bits

    def root(self, use: Use) -> tuple[int, int]:
        """Return the board and first mm of what is free at any session around the stretch.

        Slots of different roots never meet; on a board refilled at its end all belong together.
        """
        board = use.choice.board
        if self.bench.refill[board] == "end":
            return board, 0
        return board, max(mm for mm, _ in self.roots[board] if mm <= use.from_mm)

    def by_root(self, uses: Iterable[Use]) -> list[list[Use]]:
        """Return the uses of each root together, in order."""
        found: dict[tuple[int, int], list[Use]] = {}
        for use in uses:
            found.setdefault(self.root(use), []).append(use)
        return [found[key] for key in sorted(found)]

    def saves(self, use: Use) -> tuple[int, int]:
        """Return priority saved, and weighted days, against leaving the specimen out."""
        bench, n = self.bench, use.number
        days = bench.waits_on(n) - bench.waits(n, use.session, use.choice.plan_days)
        return bench.would_spoil[n] * bench.waiting[n].priority, days


def runs(bits: int) -> list[tuple[int, int]]:
    """Return where each run of bits begins (included) and ends (excluded)."""
    found, at = [], 0
    while bits:
        skip = (bits & -bits).bit_length() - 1
        bits >>= skip
        run = (~bits & (bits + 1)).bit_length() - 1
        found.append((at + skip, at + skip + run))
        bits >>= run
        at += skip + run
    return found


_Places = dict[tuple[int, int], tuple[int, int, int]]
"""By board and session: when it comes off, priority and days saved."""


def _betters(offers: _Offers) -> list[set[int]]:
    """Return for each specimen those that are mounted whenever it is.

    Each of them can take its place in any plan that has no place for it, and the plan is no
    worse; of two that can take each other's, the first.
    """
    bench = offers.bench
    places: list[_Places] = [
        {(u.choice.board, u.session): (u.off_at, *offers.saves(u)) for u in uses}
        for uses in offers.of
    ]
    return [
        {
            n
            for n in range(len(places))
            if _replaces(bench, n, other, places)
            and (n < other or not _replaces(bench, other, n, places))
        }
        for other in range(len(places))
    ]


def _replaces(bench: Bench, n: int, other: int, places: Sequence[_Places]) -> bool:
    """Say whether a specimen could take the other's place wherever that may be."""
    w, v = bench.waiting[n], bench.waiting[other]
    if n == other or w.slot_mm > v.slot_mm or w.minutes > v.minutes or not places[other]:
        return False
    for key, (off_at, priority, days) in places[other].items():
        mine = places[n].get(key)
        # Taken off at the same session: minutes for it may be found in no other.
        if mine is None or mine[0] != off_at or mine[1] < priority:
            return False
        if mine[1] == priority and mine[2] < days:
            return False
        if not _relaxes_no_longer(bench, n, other, key[1]):
            return False
    return True


def _relaxes_no_longer(bench: Bench, n: int, other: int, session: int) -> bool:
    """Say whether the chamber has room for it where it has for the other."""
    if bench.problem.chamber_places is None:
        return True
    if bench.stay[other] is not None:
        return False  # not mounted, it would stay in the chamber
    mine, its = bench.in_chamber[n][session], bench.in_chamber[other][session]
    if mine is None or bench.stay[n] is not None:
        return True
    return its is not None and its[0] <= mine[0] and mine[1] <= its[1]


def _swapped(start: State, base: State, offers: _Offers, better: Sequence[set[int]]) -> State:
    """Return the plan with everyone replaced by who is better there and was left out."""
    spots = list(start.spots)
    todo = [n for n, spot in enumerate(spots) if spot is not None and base.spots[n] is None]
    while todo:
        n = todo.pop()
        spot = spots[n]
        for other in sorted(better[n]):
            if spots[other] is None and spot is not None:
                here = spot.choice.board, spot.session
                choice = next(
                    u.choice for u in offers.of[other] if (u.choice.board, u.session) == here
                )
                spots[other], spots[n] = spot._replace(choice=choice), None
                todo.append(other)
                break
    state = base.copy()
    moved = start.copy()
    moved.spots = spots
    return _copied(state, moved, (n for n in range(len(spots)) if base.spots[n] is None))
