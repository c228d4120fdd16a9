"""Prove that a small plan is the best there is, or find a better one.

There are two parts. The first (`choice`) decides who is mounted when, and on which free stretch of
which board; it counts minutes, chamber and the summed slots of every stretch, but not yet
positions. The second (`positions`) lays the slots of each stretch beside each other. Where they do
not fit, the first is told that these do not go together, and decides again. Both are constraint
programming with one worker, so that the same problem gives the same plan. The proof is about the
first two tiers.

An order among alike specimens makes it quick. Where one can take another's place, with no more
groove, minutes or waiting, the other is never mounted without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import fsum

from scheduler.planner.bench import PlanBench
from scheduler.planner.finish import tiers
from scheduler.planner.proof.chances import Chances
from scheduler.planner.proof.choice import Master
from scheduler.planner.proof.positions import Layout, Use, laid, smallest_clash
from scheduler.planner.quick import fill_up
from scheduler.planner.state import PlanState, roomiest

TIGHTENING = 0.5
"""The most work spent on tighter grooves once the first two tiers cannot be better."""

MOST_RECTANGLES = 4_500
"""Problems with more rectangles are too large to be proven in about a second."""


@dataclass(frozen=True)
class Proof:
    """The best plan found; with `proven`, none is better on the first two tiers.

    Otherwise every plan that lets no more spoil waits at least `waits` weighted days.
    """

    state: PlanState
    proven: bool
    waits: int


def rectangles(bench: PlanBench) -> int:
    """Return how many rectangles of groove by time the proof would have to choose from."""
    return sum(
        bench.latest[off] - off + 1
        for n, w in enumerate(bench.waiting)
        for choice in bench.choices[n] + bench.refused[n]
        for off in (bench.off_at(k, choice.plan_days) for k in range(w.first, w.last + 1))
    )


def prove(
    start: PlanState,
    fixed: frozenset[int],
    effort: float,
    least: int = 0,
    stop: Callable[[], bool] = lambda: False,
) -> Proof:
    """Look for a better plan than `start` that leaves the `fixed` ones where they are.

    `effort` is in the solver's own measure of work, about a second for each unit and the same on
    every machine. `least` is a known lower bound on the weighted waiting, 0 if none is known.
    `stop` is asked now and then whether to break off.
    """
    return _Proving(start, fixed, least, stop).proof(effort)


class _Proving:
    """Runs the two parts in turn, until they agree or the allowed work is used up."""

    def __init__(
        self, start: PlanState, fixed: frozenset[int], least: int, stop: Callable[[], bool]
    ) -> None:
        self.bench, self.stop = start.bench, stop
        kept = frozenset(n for n in fixed if start.spots[n] is not None)
        self.base = _copied(roomiest(self.bench), start, kept)
        self.offers = Chances(self.base)
        self.better = _betters(self.offers)
        self.best = _swapped(start, self.base, self.offers, self.better)
        # Waiting can be negative, for one that is soft only after the end: 0 is no sure bound.
        self.master = Master(self.offers, self.better, least or None)
        self.low = self.master.low
        self.known: dict[tuple[Use, ...], Layout] = {}

    def proof(self, effort: float) -> Proof:
        master = self.master
        while effort > 0 and master.goal_of(self.best) > self.low and not self.stop():
            chosen, low, spent = master.choose(self.best, effort, self.stop)
            effort -= spent
            self.low = max(self.low, low)
            if chosen is None:
                break
            state, spent = self._laid(chosen, effort)
            effort -= spent
            self.best = min(self.best, state, key=master.goal_of)
        goal, spoiled = master.goal_of(self.best), tiers(self.best)[0]
        if goal <= self.low and effort > 0:
            self._tighten(goal, min(effort, TIGHTENING))
        waits = min(goal, self.low) - master.spoiling * spoiled
        return Proof(self.best, goal <= self.low, waits)

    def _tighten(self, goal: int, effort: float) -> None:
        """Look for tighter grooves among the plans with the same first two tiers."""
        self.master.settle(goal, self.best)
        while effort > 0 and not self.stop():
            chosen, _, spent = self.master.choose(self.best, effort, self.stop)
            effort -= spent
            if chosen is None:
                return
            state, more = self._laid(chosen, effort)
            effort -= more
            if self.master.goal_of(state) == goal:
                self.best = min(self.best, state, key=_looseness)
                return

    def _laid(self, chosen: list[Use], effort: float) -> tuple[PlanState, float]:
        """Return the plan with what was chosen, and the work spent.

        What does not fit together is forbidden in the first part, and left out of the plan.
        """
        places: dict[int, int] = {}
        spent = 0.0
        for together in self.offers.by_root(chosen):
            key = tuple(together)
            found = self.known.get(key)
            if found is None:
                found = laid(self.bench, together, max(0.0, effort - spent))
                spent += found.spent
            if found.places is not None:
                self.known[key] = found
                places.update(found.places)
            elif found.decided:
                clash, more = smallest_clash(self.bench, together, max(0.0, effort - spent))
                spent += more
                self.master.forbid(clash)
            else:
                spent = effort  # it is not known whether these fit, so there is no use to go on
        people, offs = len(self.bench.waiting), self.bench.stand_first[:]
        for use in chosen:
            if use.number >= people:
                offs[use.number - people] = use.off_at
        fixed = (n for n, spot in enumerate(self.base.spots) if spot is not None)
        state = _copied(PlanState(self.bench, offs), self.base, fixed)
        for use in chosen:
            if use.number in places and use.number < people:
                at = places[use.number]
                state.insert(use.number, use.session, use.choice, at, use.off_at)
        if len(places) < len(chosen):
            fill_up(state, anyway=True)
        return state, spent


def _looseness(state: PlanState) -> tuple[int, float]:
    """Return for how many the air gives no time, and the mean spare groove [mm]."""
    choices = [spot.choice for spot in state.spots if spot is not None]
    no_time = sum(choice.plan_days is None for choice in choices)
    return no_time, fsum(choice.spare_mm for choice in choices) / max(1, len(choices))


def _copied(to: PlanState, of: PlanState, numbers: Iterable[int]) -> PlanState:
    for n in sorted(numbers):
        spot = of.spots[n]
        if spot is not None:
            to.insert(n, *spot)
    return to


_Places = dict[tuple[int, int, int], tuple[int, int]]
"""Priority and days saved, by board, session of mounting, and session of taking off."""


def _betters(offers: Chances) -> list[set[int]]:
    """Return for each specimen the better ones: those that must be mounted whenever it is.

    A better one that a plan leaves out could take its place, and the plan would be no worse. Of
    two that could take each other's place, the one with the lower number is the better.
    """
    bench = offers.bench
    places: list[_Places] = [
        {(u.choice.board, u.session, u.off_at): offers.saves(u) for u in uses} for uses in offers.of
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


def _replaces(bench: PlanBench, n: int, other: int, places: Sequence[_Places]) -> bool:
    """Say whether specimen `n` could take the place of `other` wherever that may be."""
    w, v = bench.waiting[n], bench.waiting[other]
    if n == other or w.slot_mm > v.slot_mm or w.minutes > v.minutes or not places[other]:
        return False
    for key, (priority, days) in places[other].items():
        mine = places[n].get(key)
        # It must come off at the same session: no other may have minutes for that.
        if mine is None or mine[0] < priority:
            return False
        if mine[0] == priority and mine[1] < days:
            return False
        if not _relaxes_no_longer(bench, n, other, key[1]):
            return False
    return True


def _relaxes_no_longer(bench: PlanBench, n: int, other: int, session: int) -> bool:
    """Say whether the chamber has room for specimen `n` wherever it has for `other`."""
    if bench.problem.chamber_places is None:
        return True
    if bench.stay[other] is not None:
        return False  # not mounted, it would stay in the chamber
    mine, its = bench.in_chamber[n][session], bench.in_chamber[other][session]
    if mine is None or bench.stay[n] is not None:
        return True
    return its is not None and its[0] <= mine[0] and mine[1] <= its[1]


def _swapped(
    start: PlanState, base: PlanState, offers: Chances, better: Sequence[set[int]]
) -> PlanState:
    """Return the plan in which left-out specimens replace those that they are better than."""
    spots = list(start.spots)
    todo = [n for n, spot in enumerate(spots) if spot is not None and base.spots[n] is None]
    while todo:
        n = todo.pop()
        spot = spots[n]
        for other in sorted(better[n]):
            if spots[other] is None and spot is not None:
                choice = next(
                    u.choice for u in offers.of[other] if u.choice.board == spot.choice.board
                )
                spots[other], spots[n] = spot._replace(choice=choice), None
                todo.append(other)
                break
    moved = start.copy()
    moved.spots = spots
    return _copied(PlanState(start.bench, start.stand_off), moved, range(len(spots)))
