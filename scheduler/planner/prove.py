"""Prove a small plan the best there is, or find a better one.

Exact: every specimen, board and session that fit make a rectangle of groove by time that may
be used or not; used ones never overlap (constraint programming, one worker, so that the same
problem gives the same plan). What is proven are the first two tiers; the others break ties.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from scheduler.planner.bench import Bench, Choice
from scheduler.planner.occupancy import State
from scheduler.planner.relax import Interval

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

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
    from ortools.sat.python import cp_model

    model = _Model(start, fixed)
    model.model.add(model.goal >= least)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.linearization_level = 2
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Proof(start, False, 0)
    low = round(solver.best_objective_bound) - model.spoiling * _spoiled(start)
    return Proof(model.state(solver), status == cp_model.OPTIMAL, max(0, low))


def _spoiled(state: State) -> int:
    bench = state.bench
    return sum(
        w.priority
        for n, w in enumerate(bench.waiting)
        if bench.would_spoil[n] and state.spots[n] is None
    )


class _Model:
    def __init__(self, start: State, fixed: frozenset[int]) -> None:
        from ortools.sat.python import cp_model

        self.start, self.fixed, self.bench = start, fixed, start.bench
        self.model = cp_model.CpModel()
        self.uses: dict[tuple[int, int, int], Any] = {}
        self.choice: dict[tuple[int, int], Choice] = {}
        self.place: dict[tuple[int, int], Any] = {}
        self.on_board: list[tuple[list[Any], list[Any]]] = [([], []) for _ in self.bench.boards]
        self.spoiling = 1 + sum(map(self.bench.waits_on, range(len(self.bench.waiting))))
        self._stand()
        goal = [self._specimen(n) for n in range(len(self.bench.waiting))]
        for across, along in self.on_board:
            self.model.add_no_overlap_2d(across, along)
        self._lengths()
        self._minutes()
        self._chamber()
        self.goal = sum(goal)
        self.model.minimize(self.goal)

    def _stand(self) -> None:
        """Put what stands now on the boards: the empty plan's taken mm, session by session."""
        empty = State(self.bench)
        for board, row in enumerate(empty.taken):
            for k, taken in enumerate(row):
                at = 0
                for mm, run in _runs(taken):
                    at = mm + run
                    self._rectangle(board, mm, at, k, k + 1)

    def _rectangle(self, board: int, from_mm: int, to_mm: int, k: int, off: int) -> None:
        across, along = self.on_board[board]
        across.append(self.model.new_fixed_size_interval_var(from_mm, to_mm - from_mm, ""))
        along.append(self.model.new_fixed_size_interval_var(k, off - k, ""))

    def _specimen(self, n: int) -> Any:
        """Add one specimen's rectangles; return what it adds to the goal."""
        bench, model, w = self.bench, self.model, self.bench.waiting[n]
        left_out = bench.waits_on(n) + (self.spoiling * w.priority if bench.would_spoil[n] else 0)
        uses: list[Any] = []
        goal: Any = left_out
        spot = self.start.spots[n]
        for choice in bench.choices[n] + bench.refused[n]:
            board = choice.board
            most = bench.boards[board].length_mm - w.slot_mm
            at = self.place[n, board] = model.new_int_var(0, most, "")
            self.choice[n, board] = choice
            here = spot if spot is not None and spot.choice.board == board else None
            model.add_hint(at, here.from_mm if here else 0)
            for k in range(w.first, w.last + 1):
                use = self.uses[n, board, k] = model.new_bool_var("")
                model.add_hint(use, here is not None and here.session == k)
                off = bench.off_at(k, choice.plan_days)
                across, along = self.on_board[board]
                across.append(model.new_optional_fixed_size_interval_var(at, w.slot_mm, use, ""))
                along.append(model.new_optional_fixed_size_interval_var(k, off - k, use, ""))
                goal += (bench.waits(n, k, choice.plan_days) - left_out) * use
                uses.append(use)
        model.add_at_most_one(uses)
        if n in self.fixed and spot is not None:
            model.add(self.uses[n, spot.choice.board, spot.session] == 1)
            model.add(self.place[n, spot.choice.board] == spot.from_mm)
        return goal

    def _lengths(self) -> None:
        """Say it once more in sums, which the solver's own bound understands."""
        bench, empty = self.bench, State(self.bench)
        lying: dict[tuple[int, int], list[Any]] = {}
        for (n, board, k), use in self.uses.items():
            for at in range(k, bench.off_at(k, self.choice[n, board].plan_days)):
                lying.setdefault((board, at), []).append(bench.waiting[n].slot_mm * use)
        for (board, at), slots in lying.items():
            self.model.add(sum(slots) <= empty.free(board, at, at).bit_count())

    def _minutes(self) -> None:
        """Keep the minutes that taking off the standing ones leaves."""
        bench, model = self.bench, self.model
        left = State(bench).left_min
        spent: list[list[Any]] = [[] for _ in left]
        for (n, board, k), use in self.uses.items():
            spent[k].append(bench.waiting[n].minutes * use)
            off = bench.off_at(k, self.choice[n, board].plan_days)
            if off < len(left):
                spent[off].append(bench.problem.take_off_min * use)
        for k, minutes in enumerate(left):
            model.add(sum(spent[k]) <= max(0, minutes))

    def _chamber(self) -> None:
        """Keep the places of the chamber whenever something is put in."""
        bench, places = self.bench, self.bench.problem.chamber_places
        if places is None:
            return
        stays: list[tuple[Interval, Any, bool]] = []
        for (n, _, k), use in self.uses.items():
            interval = bench.in_chamber[n][k]
            if interval is not None:
                stays.append((interval, use, bench.stay[n] is None))
        for n, stay in enumerate(bench.stay):
            if stay is not None:
                planned = [use for (m, _, _), use in self.uses.items() if m == n]
                stays.append((stay, 1 - sum(planned), False))
        for moment in sorted({interval[0] for interval, _, put_in in stays if put_in}):
            inside = [use for (since, until), use, _ in stays if since <= moment < until]
            busy = self.model.new_bool_var("")
            for (since, _), use, put_in in stays:
                if put_in and since == moment:
                    self.model.add_implication(use, busy)
            self.model.add(sum(inside) <= places).only_enforce_if(busy)

    def state(self, solver: cp_model.CpSolver) -> State:
        """Return the solver's plan."""
        state = State(self.bench)
        for (n, board, k), use in self.uses.items():
            if solver.value(use):
                state.insert(n, k, self.choice[n, board], solver.value(self.place[n, board]))
        return state


def _runs(taken: int) -> list[tuple[int, int]]:
    """Return where each run of bits begins, and its length."""
    found, at = [], 0
    while taken:
        skip = (taken & -taken).bit_length() - 1
        taken >>= skip
        run = ((~taken) & (taken + 1)).bit_length() - 1
        found.append((at + skip, run))
        taken >>= run
        at += skip + run
    return found
