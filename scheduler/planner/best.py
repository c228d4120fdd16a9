"""The planner: quick plans first, then a bound, a proof where the problem is small, a search.

Work is counted in steps and rounds, never in seconds, so that the same problem and the same
versions of the packages give the same plan. Breaking off (`stop`) gives the best plan so far.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.priced import Bound, in_whole_days
from scheduler.planner.finish import (
    Candidate,
    explained,
    kept_offs,
    kept_spots,
    made,
    scarce,
    state_of,
    tidied,
    tiers,
)
from scheduler.planner.problem import Plan, PlanProblem, Quality, Scarce, Status
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import (
    by_hand,
    due_date_greedy,
    fill_up,
    greedy_plans,
    keeping,
    perishables,
    unpack,
)
from scheduler.planner.state import PlanState, spread

Effort = Literal["quick", "normal", "thorough"]
SoFar = Callable[[float, Quality, float | None], None]

MANY = 20_000
"""With more specimens than this everything takes long, so less of it is done."""

SMALL = 1_000
"""Up to so many specimens every quick plan is tried, with more only one."""


@dataclass(frozen=True)
class Budget:
    """How much work to do: rounds of the search, steps of the bound, the proof's own measure."""

    rounds: int
    steps: int
    proof: float


def budget(effort: Effort, specimens: int) -> Budget:
    """Return the work for an effort: "normal" takes about 10 s for 400 specimens, 2 min at most."""
    if effort == "quick":
        return Budget(min(50_000, 200 * specimens), 60, 0.5)
    if effort == "normal":
        if specimens > MANY:
            return Budget(500_000, 400, 4.0)
        return Budget(min(1_600_000, 4_000 * specimens), 300, 4.0)
    return Budget(min(16_000_000, 40_000 * specimens), 800, 60.0)


def best_plan(
    problem: PlanProblem,
    *,
    grooves: Mapping[str, float] | None = None,
    effort: Effort = "normal",
    start: Plan | None = None,
    keep: frozenset[str] = frozenset(),
    progress: SoFar | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """Return the best plan found, with a bound on how good any plan can be.

    `grooves` are as in `make_plan`. `start` is a plan to begin with, as far as it still holds. Its
    placements of the specimens named in `keep` stay exactly where they are, as long as they can;
    the bound holds for all plans, even those that move them. `progress` is told the part done
    (0-1), the quality so far and the gap. `stop` is asked now and then whether to break off.
    """
    return _Planning(problem, effort, start, keep, progress, stop).result(grooves or {})


class _Planning:
    def __init__(
        self,
        problem: PlanProblem,
        effort: Effort,
        start: Plan | None,
        keep: frozenset[str],
        progress: SoFar | None,
        stop: Callable[[], bool] | None,
    ) -> None:
        self.bench = PlanBench(problem)
        self.lost = unsavable(self.bench)
        self.budget = budget(effort, len(self.bench.waiting))
        self.progress, self.stop = progress, stop
        self.kept = kept_spots(self.bench, start) if start is not None else {}
        self.offs = kept_offs(self.bench, start) if start is not None else spread(self.bench)
        self.fixed = frozenset(n for n in self.kept if self.bench.waiting[n].specimen in keep)
        self.bound: Bound | None = None
        self.low, self.proven, self.stopped = 0, False, False

    def _stop(self) -> bool:
        self.stopped = self.stopped or (self.stop is not None and self.stop())
        return self.stopped

    def result(self, grooves: Mapping[str, float]) -> Plan:
        """Return the plan."""
        self.hand = made("by hand", by_hand(self.bench), self.lost)
        self.best = self.hand if not self.fixed else self._made("kept", self._kept_state())
        self._tell(0.0)
        self._improve()
        # What was kept stays where it is; new placements move to the first free mm.
        tidy = tidied(self.best.state, frozenset(self.kept))
        unpack(tidy, frozenset(self.kept))
        fill_up(tidy, anyway=True)  # with its free mm in one piece a groove may hold one more
        self.best = self._made(self.best.name, tidy)
        if not self.fixed and self.hand.quality < self.best.quality:
            self.best = self.hand  # the plan by hand may win where the air gives no time
        spoiled, waits = self.best.quality.spoiled_priority, self.best.quality.weighted_waiting_days
        status: Status = "bounded"
        if self.bound is None:
            status = "heuristic"
        elif self.proven or (waits <= self.low and spoiled == self._least_spoiled()):
            status = "optimal"
        return explained(self.best, grooves)._replace(
            by_hand=self.hand.quality,
            status=status,
            bound=None if self.bound is None else self.low,
            scarce=self._scarce(),
            stopped=self.stopped,
        )

    def _least_spoiled(self) -> int:
        named = set(self.lost)
        return sum(w.priority for w in self.bench.waiting if w.specimen in named)

    def _gap(self) -> float | None:
        waits = self.best.quality.weighted_waiting_days
        if self.bound is None:
            return None
        return 0.0 if waits <= self.low else (waits - self.low) / waits

    def _made(self, name: str, state: PlanState) -> Candidate:
        return made(name, state, self.lost)

    def _tell(self, part: float) -> None:
        if self.progress is not None:
            self.progress(part, self.best.quality, self._gap())

    def _try(self, name: str, state: PlanState) -> None:
        """Fill a plan up, and keep it if it is the best so far."""
        fill_up(state, anyway=True)
        if tiers(state) <= tiers(self.best.state):
            self.best = min(self.best, self._made(name, state), key=lambda one: one.rank)

    def _kept_state(self) -> PlanState:
        """Return what still holds of the plan to begin with, filled up around it."""
        spots = [self.kept.get(n) for n in range(len(self.bench.waiting))]
        state = state_of(self.bench, spots, self.offs)
        return due_date_greedy(state)

    def _starts(self) -> Iterator[tuple[str, PlanState]]:
        if self.kept:
            yield "kept and filled up", self._kept_state()
        if self.fixed:
            return
        if len(self.bench.waiting) <= SMALL:
            yield from greedy_plans(self.bench)
        else:
            yield "due-date greedy", due_date_greedy(PlanState(self.bench))

    def _improve(self) -> None:
        from scheduler.planner.bound.find import find_bound

        if not self.bench.waiting or not self.bench.sessions:
            return
        for name, state in self._starts():
            self._try(name, state)
            if self._stop():
                return
        self._tell(0.02)
        spoiled = self.best.quality.spoiled_priority
        self.bound = find_bound(self.bench, spoiled, self.budget.steps, self._stop)
        self.low = max(0, in_whole_days(self.bound.days))
        self._tell(0.3)
        if self._provable():
            self._prove()
        if not self.proven and not self.known_best() and not self._stop():
            self._search()
        self._tell(1.0)

    def _provable(self) -> bool:
        """Say whether the problem is small, and something is left to prove.

        The proof cannot handle two sessions at the same time.
        """
        from scheduler.planner.proof.prove import MOST_RECTANGLES, rectangles

        small = rectangles(self.bench) <= MOST_RECTANGLES and not any(self.bench.beside)
        return small and not self.known_best() and not self._stop()

    def _prove(self) -> None:
        from scheduler.planner.proof.prove import prove

        proof = prove(self.best.state, self.fixed, self.budget.proof, self.low, self._stop)
        self._try("proof", proof.state)
        # With fixed ones the proof holds only for plans that keep them; the bound is for all plans.
        if not self.fixed:
            self.proven = proof.proven
            waits = self.best.quality.weighted_waiting_days
            self.low = waits if self.proven else max(self.low, proof.waits)
        self._tell(0.3)

    def known_best(self) -> bool:
        """Say whether the best plan so far is already known to be the best possible."""
        now = self.best.quality
        return now.weighted_waiting_days <= self.low and (
            now.spoiled_priority == self._least_spoiled()
        )

    def _search(self) -> None:
        """Search from a plan made by the prices or from the best so far, whichever is better."""
        from scheduler.planner.search.machine import is_fast, say_plainly
        from scheduler.planner.search.offers import offs_by_price
        from scheduler.planner.search.run import Search

        if self.bound is None:
            return
        if not is_fast():
            say_plainly()
        prices, bench = self.bound.guided, self.bench
        fixed = [self.kept[n] if n in self.fixed else None for n in range(len(bench.waiting))]
        offs = self.offs if self.fixed else offs_by_price(bench, prices)
        search = Search(bench, (fixed, offs), prices, self.fixed)
        search.fill(perishables(bench))
        search.fill(search.by_profit(keeping(bench)))
        if search.tiers > tiers(self.best.state):
            begun = self.best.state.spots, self.best.state.stand_off
            search = Search(bench, begun, prices, self.fixed)
        else:
            self._try("by price", state_of(bench, *search.best))

        def watch(turn: int) -> None:
            self._look(search.tiers, 0.3 + 0.6 * turn / max(1, self.budget.rounds))

        try:
            search.run(self.budget.rounds, watch if self.progress else None, self._stop)
        finally:
            self._try("ruin and recreate", state_of(bench, *search.best))

    def _look(self, found: tuple[int, int], part: float) -> None:
        """Report how far the search is; its third and fourth tier are those of the best plan."""
        if self.progress is None:
            return
        spoiled, waits = found
        gap = None if not waits else max(0.0, (waits - self.low) / waits)
        best = self.best.quality
        spare, blocked = best.spare_groove_mm, best.blocked_board_days
        known = Quality(spoiled, waits, spare, blocked, best.spoiled, best.unsavable)
        self.progress(part, known, gap)

    def _scarce(self) -> Scarce:
        if self.bound is None:
            return Scarce()
        return scarce(self.bench, self.bound.prices)
