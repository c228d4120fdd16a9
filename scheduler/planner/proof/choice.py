"""The part of the proof that decides who is mounted when, and on which free stretch of a board.

Minutes, the chamber, and the slots of every free stretch in every session are checked as sums;
`positions` checks whether the slots can lie beside each other. Every specimen, standing ones too,
also gets the session at which it comes off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from typing import Any

from scheduler.planner.finish import tiers
from scheduler.planner.proof.chances import Chances, runs
from scheduler.planner.proof.positions import Use, quiet_solver
from scheduler.planner.state import PlanState

NO_TIME_MM = 1_000
"""A groove may be this much looser [mm] to be in air that gives a time."""

LOOK_S = 0.05
"""How many seconds pass between two questions whether to break off."""


class Master:
    """The choice as yes-or-no variables: is this offer used?

    The goal is the weighted waiting plus `spoiling` for every priority let spoil, which is more
    than any waiting could make up for. The goal is never below `low`.
    """

    def __init__(self, offers: Chances, better: Sequence[set[int]], least: int | None) -> None:
        from ortools.sat.python import cp_model

        self.offers, self.base, self.bench = offers, offers.base, offers.bench
        self.model = cp_model.CpModel()
        everything = offers.of + offers.standing
        self.used = {use: self.model.new_bool_var("") for uses in everything for use in uses}
        self.spoiling = 1 + sum(map(self._range, everything))
        self.mounted = [self._mounted(uses) for uses in offers.of]
        self.still: dict[tuple[int, int], Any] = {}
        for uses in offers.standing:
            if uses:
                self.model.add_exactly_one(self.used[use] for use in uses)
        for n, others in enumerate(better):
            # What is better than a better one follows from that one's own constraint.
            for m in others.difference(*(better[m] for m in others)):
                self.model.add_implication(self.mounted[n], self.mounted[m])
        self._lengths()
        self._minutes()
        self._chamber()
        self._whole_boards()
        goal = self.goal = self.goal_of(self.base) - sum(
            self._saved(use) * used for use, used in self.used.items()
        )
        most_saved = sum(max([0, *map(self._saved, uses)]) for uses in offers.of)
        self.low = self.goal_of(self.base) - most_saved if least is None else least
        self.model.add(goal >= self.low)
        self.model.minimize(goal)

    def settle(self, goal: int, best: PlanState) -> None:
        """Fix the goal at a value, and from now on minimise air without a time and loose grooves.

        What stands comes off when it does in the best plan.
        """
        self.model.add(self.goal == goal)
        for use in (use for uses in self.offers.standing for use in uses):
            self.model.add(self.used[use] == _is_used(best, use))
        self.model.minimize(sum(_loose(use) * used for use, used in self.used.items()))

    def goal_of(self, state: PlanState) -> int:
        """Return the value of the goal for a plan."""
        spoiled, waits = tiers(state)
        return self.spoiling * spoiled + waits

    def _range(self, uses: Sequence[Use]) -> int:
        """Return by how much the weighted waiting of a specimen can differ."""
        days = [0, *(self.offers.saves(use)[1] for use in uses)]
        return max(days) - min(days)

    def _saved(self, use: Use) -> int:
        priority, days = self.offers.saves(use)
        return self.spoiling * priority + days

    def _mounted(self, uses: Sequence[Use]) -> Any:
        mounted = self.model.new_bool_var("")
        self.model.add(sum(self.used[use] for use in uses) == mounted)
        return mounted

    def _lengths(self) -> None:
        """Keep the slots on a free stretch at a session within its length."""
        lying: dict[tuple[int, int], list[Use]] = {}
        for use in self.used:
            for k in range(max(0, use.session), use.off_at):
                lying.setdefault((use.choice.board, k), []).append(use)
        seen: set[tuple[int, frozenset[Use]]] = set()
        for (board, k), uses in sorted(lying.items(), reverse=True):
            for from_mm, to_mm in runs(self.offers.free_at(board, k)):
                here = [use for use in uses if from_mm <= use.from_mm < to_mm]
                key = to_mm - from_mm, frozenset(here)
                if key not in seen:
                    seen.add(key)
                    self._within(here, [use.slot_mm for use in here], to_mm - from_mm)

    def _minutes(self) -> None:
        """Keep within the minutes that the fixed ones leave."""
        left, take_off_min = self.base.left_min, self.bench.problem.take_off_min
        for k, most in enumerate(left):
            there = [use for use in self.used if k in (use.session, use.off_at)]
            minutes = [
                self.bench.waiting[use.number].minutes if use.session == k else take_off_min
                for use in there
            ]
            self._within(there, minutes, most)

    def _within(self, uses: Sequence[Use], sizes: Sequence[int], most: int) -> None:
        """Keep a sum, with one use of each specimen at most, within the largest reachable one."""
        steps = {(use.number, size) for use, size in zip(uses, sizes, strict=True)}
        if uses and sum(size for _, size in steps) > most:
            most = largest_sum([size for _, size in sorted(steps)], most)
            chosen = (size * self.used[use] for use, size in zip(uses, sizes, strict=True))
            self.model.add(sum(chosen) <= most)

    def _chamber(self) -> None:
        """Keep within the places of the chamber at each moment when something is put in."""
        chamber, mounted = self.base.chamber, self._mounted_at()
        spells = [spell for row in self.bench.in_chamber for spell in row if spell is not None]
        # What went in before the plan's moment is counted from that moment on.
        begins = {*chamber.moments[:1], *(since for since, _ in spells)}
        for moment, inside in zip(chamber.moments, chamber.inside, strict=True):
            if chamber.places is not None and moment in begins:
                self._places(mounted, moment, inside, chamber.places)

    def _mounted_at(self) -> dict[tuple[int, int], list[Any]]:
        found: dict[tuple[int, int], list[Any]] = {}
        for use, used in self.used.items():
            if use.session >= 0:
                found.setdefault((use.number, use.session), []).append(used)
        return found

    def _places(
        self, mounted: dict[tuple[int, int], list[Any]], moment: float, inside: int, places: int
    ) -> None:
        put_in: list[Any] = []
        taken_out: list[Any] = []
        for (n, k), used in mounted.items():
            spell, stay = self.bench.in_chamber[n][k], self.bench.stay[n]
            relaxes = spell is not None and spell[0] <= moment < spell[1]
            if stay is None and relaxes:
                put_in += used
            if stay is not None and stay[0] <= moment < stay[1] and not relaxes:
                taken_out += used
        if not put_in or inside + len(put_in) <= places:
            return
        keep = self.model.add(inside + sum(put_in) - sum(taken_out) <= places)
        if inside > places:  # too many are inside already, which is a fault only if more are put in
            busy = self.model.new_bool_var("")
            self.model.add_max_equality(busy, put_in)
            keep.only_enforce_if(busy)

    def _whole_boards(self) -> None:
        """Let nothing join what dries on a board that is filled only when it is empty."""
        begun: dict[tuple[int, int], Any] = {}
        for use, used in self.used.items():
            if self.bench.refill[use.choice.board] == "whole":
                key = use.choice.board, use.session
                if key not in begun:
                    begun[key] = self.model.new_bool_var("")
                self.model.add_implication(used, begun[key])
        for use, used in self.used.items():
            for k in range(use.session + 1, use.off_at):
                if (use.choice.board, k) in begun:
                    self.model.add_implication(used, ~begun[use.choice.board, k])

    def forbid(self, clash: Sequence[Use]) -> None:
        """Forbid these uses together, and also any that would lie there as long or longer.

        Where standing ones are among them, it holds as long as these stay at least as long.
        """
        people, free = len(self.bench.waiting), self.bench.refill[clash[0].choice.board] != "end"
        stands = [use for use in clash if use.number >= people]
        mounted = [use for use in clash if use.number < people]
        wide = max((use.slot_mm for use in mounted), default=0)
        at, root = {use.number: use for use in clash}, self.offers.root(clash[0])
        together = []
        for n, uses in enumerate(self.offers.of):
            mine = at.get(n)
            instead_of = mounted if mine is None else [mine]
            for use in uses:
                longer = mine is not None or use.slot_mm >= wide
                covers = free and longer and all(_covers(use, u) for u in instead_of)
                if self.offers.root(use) == root and (use == mine or covers):
                    together.append(self.used[use])
        keep = self.model.add(sum(together) <= len(mounted) - 1)
        if stands:
            keep.only_enforce_if([self._still(use.number - people, use.off_at) for use in stands])

    def _still(self, s: int, off: int) -> Any:
        """Return the variable that says whether a standing one comes off at `off` or later."""
        if (s, off) not in self.still:
            self.still[s, off] = self.model.new_bool_var("")
            late = (self.used[use] for use in self.offers.standing[s] if use.off_at >= off)
            self.model.add(sum(late) == self.still[s, off])
        return self.still[s, off]

    def choose(
        self, best: PlanState, effort: float, stop: Callable[[], bool]
    ) -> tuple[list[Use] | None, int, float]:
        """Return the best choice found, a lower bound on the goal, and the work spent.

        The choice is None where none was found.
        """
        from ortools.sat.python import cp_model

        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for use, used in self.used.items():
            self.model.add_hint(used, _is_used(best, use))
        solver = quiet_solver(effort)
        solver.parameters.linearization_level = 2
        solver.parameters.use_objective_lb_search = True  # raising the bound first proves sooner
        status = _solved(solver, self.model, stop)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, 0, solver.deterministic_time
        chosen = [use for use, used in self.used.items() if solver.value(used)]
        return chosen, round(solver.best_objective_bound), solver.deterministic_time


def _is_used(plan: PlanState, use: Use) -> bool:
    stands = use.number - len(plan.spots)
    if stands >= 0:
        return plan.stand_off[stands] == use.off_at
    spot = plan.spots[use.number]
    if spot is None or not use.from_mm <= spot.from_mm < use.to_mm:
        return False
    return (spot.session, spot.off_at, spot.choice) == (use.session, use.off_at, use.choice)


def _loose(use: Use) -> int:
    """Return the spare groove in tenths of a mm, and far more where the air gives no time."""
    no_time = NO_TIME_MM if use.choice.plan_days is None and use.session >= 0 else 0
    return round(10 * (use.choice.spare_mm + no_time))


def _solved(solver: Any, model: Any, stop: Callable[[], bool]) -> Any:
    """Run the solver in a thread of its own, break off on `stop`, and return its status."""
    with ThreadPoolExecutor(1) as pool:
        status = pool.submit(solver.solve, model)
        while wait([status], LOOK_S).not_done:
            if stop():
                solver.stop_search()
        return status.result()


def _covers(use: Use, other: Use) -> bool:
    """Say whether a use lasts at least as long as another, within the other's stretch."""
    return (
        use.session <= other.session
        and use.off_at >= other.off_at
        and other.from_mm <= use.from_mm
        and use.to_mm <= other.to_mm
    )


def largest_sum(sizes: Iterable[int], most: int) -> int:
    """Return the largest sum not above `most` of some of the sizes, each used once at most."""
    sums, whole = 1, (1 << (most + 1)) - 1
    for size in sizes:
        sums |= (sums << size) & whole
    return sums.bit_length() - 1
