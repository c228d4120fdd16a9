"""Who is mounted when, and on which free stretch of a board: the part of the proof that decides.

Minutes, the chamber, and the slots of every free stretch in every session are kept as sums;
whether slots can lie beside each other is asked in `prove_layout`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from typing import Any

from scheduler.planner.finish import tiers
from scheduler.planner.proof.positions import Use, quiet_solver
from scheduler.planner.state import PlanState

NO_TIME_MM = 1_000
"""A groove may be this much looser [mm] if its room's air gives a time."""

LOOK_S = 0.05
"""How often it is asked whether to break off."""


class Chances:
    """All that may be chosen beside what stands and is fixed (`base`)."""

    def __init__(self, base: PlanState) -> None:
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
        days = bench.waits_on(n) - bench.waits(n, use.session, use.choice)
        return bench.would_spoil[n] * bench.waiting[n].priority, days


class Master:
    """The choice as yes-or-no questions: is this offer used?

    The goal is weighted waiting, and `spoiling` for every priority let spoil: more than all
    waiting could make up for. It is never below `low`.
    """

    def __init__(self, offers: Chances, better: Sequence[set[int]], least: int | None) -> None:
        from ortools.sat.python import cp_model

        self.offers, self.base, self.bench = offers, offers.base, offers.bench
        self.model = cp_model.CpModel()
        self.used = {use: self.model.new_bool_var("") for uses in offers.of for use in uses}
        self.spoiling = 1 + sum(map(self._range, offers.of))
        self.mounted = [self._mounted(uses) for uses in offers.of]
        for n, others in enumerate(better):
            # Those better than a better one follow by themselves.
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

    def settle(self, goal: int) -> None:
        """Keep to a value of the goal, and ask for air that gives a time, then tight grooves."""
        self.model.add(self.goal == goal)
        self.model.minimize(sum(_loose(use) * used for use, used in self.used.items()))

    def goal_of(self, state: PlanState) -> int:
        """Return the goal's value for a plan."""
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
        """Keep the slots that lie on a free stretch together at a session within its length."""
        lying: dict[tuple[int, int], list[Use]] = {}
        for use in self.used:
            for k in range(use.session, use.off_at):
                lying.setdefault((use.choice.board, k), []).append(use)
        seen: set[tuple[int, frozenset[Use]]] = set()
        for (board, k), uses in sorted(lying.items(), reverse=True):
            for from_mm, to_mm in runs(self.offers.free_at(board, k)):
                here = [use for use in uses if from_mm <= use.from_mm < to_mm]
                key = to_mm - from_mm, frozenset(here)
                if key not in seen:
                    seen.add(key)
                    self._within(here, [self._slot(use) for use in here], to_mm - from_mm)

    def _slot(self, use: Use) -> int:
        return self.bench.waiting[use.number].slot_mm

    def _minutes(self) -> None:
        """Keep the minutes that standing and fixed ones leave."""
        left, take_off_min = self.base.left_min, self.bench.problem.take_off_min
        for k, most in enumerate(left):
            there = [use for use in self.used if k in (use.session, use.off_at)]
            minutes = [
                self.bench.waiting[use.number].minutes if use.session == k else take_off_min
                for use in there
            ]
            self._within(there, minutes, most)

    def _within(self, uses: Sequence[Use], sizes: Sequence[int], most: int) -> None:
        """Keep a sum, one use of each specimen at most, within what can be reached at all."""
        steps = {(use.number, size) for use, size in zip(uses, sizes, strict=True)}
        if uses and sum(size for _, size in steps) > most:
            most = largest_sum([size for _, size in sorted(steps)], most)
            chosen = (size * self.used[use] for use, size in zip(uses, sizes, strict=True))
            self.model.add(sum(chosen) <= most)

    def _chamber(self) -> None:
        """Keep the places of the chamber whenever something is put in."""
        chamber, mounted = self.base.chamber, self._mounted_at()
        spells = [spell for row in self.bench.in_chamber for spell in row if spell is not None]
        # What went in before the plan's moment counts from that moment on.
        begins = {*chamber.moments[:1], *(since for since, _ in spells)}
        for moment, inside in zip(chamber.moments, chamber.inside, strict=True):
            if chamber.places is not None and moment in begins:
                self._places(mounted, moment, inside, chamber.places)

    def _mounted_at(self) -> dict[tuple[int, int], list[Any]]:
        found: dict[tuple[int, int], list[Any]] = {}
        for use, used in self.used.items():
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
        if inside > places:  # a fact, as long as nothing is put in
            busy = self.model.new_bool_var("")
            self.model.add_max_equality(busy, put_in)
            keep.only_enforce_if(busy)

    def _whole_boards(self) -> None:
        """Let nothing join what dries on a board that is only filled when empty."""
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
        """Forbid these together, and with them whatever would lie there as long or longer."""
        free = self.bench.refill[clash[0].choice.board] != "end"
        wide = max(self._slot(use) for use in clash)
        at, root = {use.number: use for use in clash}, self.offers.root(clash[0])
        together = []
        for use, used in self.used.items():
            if self.offers.root(use) != root:
                continue
            mine = at.get(use.number)
            instead_of = clash if mine is None else [mine]
            longer = mine is not None or self._slot(use) >= wide
            if use == mine or (free and longer and all(_covers(use, u) for u in instead_of)):
                together.append(used)
        self.model.add(sum(together) <= len(clash) - 1)

    def choose(
        self, best: PlanState, effort: float, stop: Callable[[], bool]
    ) -> tuple[list[Use] | None, int, float]:
        """Return the best choice found, a bound on the goal of any, and the work spent."""
        from ortools.sat.python import cp_model

        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for use, used in self.used.items():
            spot = best.spots[use.number]
            here = (
                spot is not None
                and (spot.session, spot.choice) == (use.session, use.choice)
                and use.from_mm <= spot.from_mm < use.to_mm
            )
            self.model.add_hint(used, here)
        solver = quiet_solver(effort)
        solver.parameters.linearization_level = 2
        solver.parameters.use_objective_lb_search = True  # from the bound up: proofs come sooner
        status = _solved(solver, self.model, stop)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, 0, solver.deterministic_time
        chosen = [use for use, used in self.used.items() if solver.value(used)]
        return chosen, round(solver.best_objective_bound), solver.deterministic_time


def _loose(use: Use) -> int:
    """Return the spare groove in tenths of a mm, and far more where the air gives no time."""
    no_time = NO_TIME_MM if use.choice.plan_days is None else 0
    return round(10 * (use.choice.spare_mm + no_time))


def _solved(solver: Any, model: Any, stop: Callable[[], bool]) -> Any:
    """Return the solver's status; it works in a thread of its own and breaks off on `stop`."""
    with ThreadPoolExecutor(1) as pool:
        status = pool.submit(solver.solve, model)
        while wait([status], LOOK_S).not_done:
            if stop():
                solver.stop_search()
        return status.result()


def _covers(use: Use, other: Use) -> bool:
    """Say whether a use takes the stretch as long as another, with no more room to lie."""
    return (
        use.session <= other.session
        and use.off_at >= other.off_at
        and other.from_mm <= use.from_mm
        and use.to_mm <= other.to_mm
    )


def largest_sum(sizes: Iterable[int], most: int) -> int:
    """Return the largest sum of some of the sizes that is not above `most`."""
    sums, whole = 1, (1 << (most + 1)) - 1
    for size in sizes:
        sums |= (sums << size) & whole
    return sums.bit_length() - 1


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
