"""The plan: which specimen in which session on which stretch of which board.

`make_plan` answers a `PlanProblem` with the best of several plans; the one made by hand is
always among them, so a plan is never worse than that. Same problem, same plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import NamedTuple

from scheduler.planner.by_hand import by_hand
from scheduler.planner.explain import reasons
from scheduler.planner.greedy import greedy_plans
from scheduler.planner.occupancy import Bench, Spot, State
from scheduler.planner.problem import Plan, Planned, PlanProblem, Quality
from scheduler.planner.quality import quality, unsavable
from scheduler.planner.relax import hours_after, mount_moment, relax_from

__all__ = ["Result", "as_placements", "make_plan"]


@dataclass(frozen=True, slots=True)
class Result:
    """The plan, how it was found, and the plan made by hand to measure it against."""

    plan: Plan
    method: str
    by_hand: Plan


class _Made(NamedTuple):
    name: str
    state: State
    placements: tuple[Planned, ...]
    quality: Quality


def make_plan(problem: PlanProblem, grooves: Mapping[str, float] | None = None) -> Result:
    """Return the best plan found.

    `grooves` are the boards' groove widths (mm), for the reasons why something waits;
    without them the boards are named.
    """
    bench = Bench(problem)
    lost = unsavable(bench)
    made = []
    for name, state in _candidates(bench):
        placements = as_placements(state)
        made.append(_Made(name, state, placements, quality(problem, placements, lost=lost)))
    best, hand = min(made, key=lambda one: one.quality), made[0]
    return Result(
        plan=_explained(best, grooves or {}),
        method=best.name,
        by_hand=_explained(hand, grooves or {}),
    )


def _candidates(bench: Bench) -> Iterator[tuple[str, State]]:
    yield "by hand", by_hand(bench)
    yield from greedy_plans(bench)


def _explained(made: _Made, grooves: Mapping[str, float]) -> Plan:
    return Plan(made.placements, reasons(made.state, grooves), made.quality)


def as_placements(state: State) -> tuple[Planned, ...]:
    """Return what is planned, by session, board and position."""
    planned = [(n, spot) for n, spot in enumerate(state.spots) if spot is not None]
    planned.sort(key=lambda entry: (entry[1].session, entry[1].choice.board, entry[1].from_mm))
    return tuple(_placement(state.bench, number, spot) for number, spot in planned)


def _placement(bench: Bench, number: int, spot: Spot) -> Planned:
    problem, w = bench.problem, bench.waiting[number]
    session = bench.sessions[spot.session]
    days = bench.days(number, spot.choice.board)
    since = relax_from(w, session, problem)
    to_mm = spot.from_mm + w.slot_mm
    return Planned(
        specimen=w.specimen,
        session=session.session,
        board=bench.boards[spot.choice.board].board,
        from_mm=spot.from_mm,
        to_mm=to_mm,
        relax_from=since,
        out_by=None if since is None else hours_after(since, w.most_hours),
        mount_at=mount_moment(session, problem.now),
        due=None if days is None else session.on + timedelta(days=days.min_days),
        clear=None if days is None else session.on + timedelta(days=days.plan_days),
        min_days=None if days is None else days.min_days,
        plan_days=None if days is None else days.plan_days,
        rule_ids=() if days is None else days.rule_ids,
        basis=None if days is None else days.basis,
        minutes=w.minutes,
        after=_after(bench, spot, to_mm),
    )


def _after(bench: Bench, spot: Spot, to_mm: int) -> tuple[str, ...]:
    """Return what stands on these mm now and is taken off first."""
    board = bench.boards[spot.choice.board].board
    return tuple(
        s.specimen
        for s in sorted(bench.problem.standing, key=lambda s: (s.from_mm, s.specimen))
        if s.board == board and s.from_mm < to_mm and spot.from_mm < s.to_mm
    )
