"""Play seasons in which drying takes longer or shorter than planned, and mend the plan each time.

    python tests/bench/seasons.py --seasons 200

After every session the kept plan is mended for what then stands on the boards and is in the
chamber. A specimen that is still soft when it should come off keeps its slot, and the one that was
to go there has to wait. The planner mends as `wingrest plan` does; by hand, what still holds stays
and the rest is filled in, first come first. What is counted is what really happened: weighted days
of waiting and of standing longer than wished, priority let spoil, planned placements that moved,
and those that found their slot taken at the bench. Everything is invented; that the true days
scatter by a fifth around the plan's (lognormal) is from memory.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent))

from instances import instance

from scheduler.planner.bench import PlanBench
from scheduler.planner.finish import explained, kept_offs, kept_spots, made, state_of
from scheduler.planner.make import best_plan, mend
from scheduler.planner.problem import Plan, Planned, PlanProblem, PlanStanding
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import by_hand, fill_up, keeping, perishables, place_first
from scheduler.planner.referee.verdict import judge

RECHECK_DAYS = 4
Mender = Callable[[PlanProblem, Plan], Plan]


def mended_by_hand(problem: PlanProblem, kept: Plan) -> Plan:
    """Keep what holds, then fill in first come first."""
    bench = PlanBench(problem)
    spots = kept_spots(bench, kept)
    placed = [spots.get(n) for n in range(len(bench.waiting))]
    state = state_of(bench, placed, kept_offs(bench, kept))
    for number in perishables(bench) + keeping(bench):
        if state.spots[number] is None:
            place_first(state, number, bench.menus[number])
    fill_up(state)
    return explained(made("by hand", state, unsavable(bench)), {})


def mended(problem: PlanProblem, kept: Plan) -> Plan:
    """Mend as the planner does."""
    return mend(problem, kept)


@dataclass
class Season:
    """What has happened so far."""

    problem: PlanProblem
    dry_on: dict[str, date] = field(default_factory=dict)
    mounted_on: dict[str, date] = field(default_factory=dict)
    standing: dict[str, PlanStanding] = field(default_factory=dict)
    moved: int = 0
    taken: int = 0


def play(
    problem: PlanProblem, first: Plan, mender: Mender, rng_of: Callable[[str], float]
) -> Season:
    """Carry a plan out session by session, and mend it after each."""
    season = Season(problem)
    for one in problem.standing:
        season.standing[one.specimen] = one
        usual = one.clear or problem.end
        late = round((rng_of(one.specimen) - 1.0) * 14)
        season.dry_on[one.specimen] = usual + timedelta(days=late)
    kept = first
    for k, session in enumerate(problem.sessions):
        todo = [p for p in kept.placements if p.session == session.session]
        _bench_time(season, session.on, todo, rng_of)
        if k + 1 < len(problem.sessions):
            now = session.start + timedelta(hours=6)
            relaxing = {
                p.specimen: p.relax_from
                for p in kept.placements
                if p.relax_from is not None and p.relax_from <= now
            }
            rest = _what_is_left(season, now, k + 1, relaxing)
            left = {w.specimen for w in rest.waiting}
            kept = kept._replace(placements=tuple(p for p in kept.placements if p.specimen in left))
            anew = mender(rest, kept)
            faults = judge(rest, anew)
            assert not faults, faults[0].message
            season.moved += _moved(kept, anew)
            kept = anew
    return season


def _bench_time(
    season: Season, today: date, todo: list[Planned], rng_of: Callable[[str], float]
) -> None:
    """Take off what is dry, then mount what finds its slot free."""
    for name in [n for n in season.standing if season.dry_on[n] <= today]:
        del season.standing[name]
    for one in todo:
        in_the_way = any(
            s.board == one.board and s.from_mm < one.to_mm and one.from_mm < s.to_mm
            for s in season.standing.values()
        )
        if in_the_way:
            season.taken += 1
            continue
        days = round((one.plan_days or 30) * rng_of(one.specimen))
        season.dry_on[one.specimen] = today + timedelta(days=max(1, days))
        season.mounted_on[one.specimen] = today
        season.standing[one.specimen] = PlanStanding(
            one.specimen, one.board, one.from_mm, one.to_mm, one.due, one.clear, one.clear
        )


def _what_is_left(
    season: Season, now: datetime, first: int, relaxing: dict[str, datetime]
) -> PlanProblem:
    """Return the problem as it is now: what is dry is known from its due date on.

    `relaxing` are in the chamber since; what decays before the next session goes back.
    """
    today = now.date()
    standing = []
    for one in season.standing.values():
        tested = one.due is not None and one.due <= today
        free = one.clear
        if tested and season.dry_on[one.specimen] <= today:
            free = today
        elif tested:
            free = max(one.clear or today, today + timedelta(days=RECHECK_DAYS))
        standing.append(one._replace(clear=free, free_on=free))
    sessions = season.problem.sessions[first:]
    waiting = []
    for w in season.problem.waiting:
        if w.specimen in season.mounted_on:
            continue
        open_at, since = max(w.open_at, now), relaxing.get(w.specimen)
        if since is not None and since + timedelta(hours=w.most_hours) < sessions[0].start:
            since = None
        soft = (since or open_at) + timedelta(hours=w.first_look_hours)
        lost = [w.lost_at, since and since + timedelta(hours=w.most_hours)]
        lost_at = min((at for at in lost if at is not None), default=None)
        begins = next((k for k, s in enumerate(sessions) if s.start >= soft), len(sessions))
        ends = sum(lost_at is None or s.start <= lost_at for s in sessions) - 1
        dates = replace(w, open_at=open_at, soft_at=soft, lost_at=lost_at)
        waiting.append(replace(dates, chamber_since=since, first=begins, last=ends))
    return replace(
        season.problem,
        now=now,
        sessions=sessions,
        standing=tuple(standing),
        waiting=tuple(waiting),
    )


def _moved(kept: Plan, anew: Plan) -> int:
    where = {p.specimen: (p.session, p.board, p.from_mm) for p in anew.placements}
    return sum(where.get(p.specimen) != (p.session, p.board, p.from_mm) for p in kept.placements)


def outcome(season: Season) -> tuple[int, int, int, int]:
    """Return priority let spoil, weighted days of waiting, moved, slots found taken."""
    spoiled = waits = 0
    for w in season.problem.waiting:
        on = season.mounted_on.get(w.specimen)
        day = on or season.problem.end
        off = season.dry_on[w.specimen] if on else season.problem.end
        late = 0 if w.wanted_by is None else max(0, (off - w.wanted_by).days)
        waits += w.priority * ((day - w.soft_at.date()).days + 2 * late)
        if on is None and w.lost_at is not None and w.lost_at.date() < season.problem.end:
            spoiled += w.priority
    return spoiled, waits, season.moved, season.taken


@cache
def planned(number: int) -> tuple[PlanProblem, Plan, Plan]:
    """Return an invented problem, the planner's plan and the one made by hand."""
    problem = instance("played", number + 1)
    hand = explained(made("by hand", by_hand(PlanBench(problem)), ()), {})
    return problem, best_plan(problem, effort="quick"), hand


def played(season: tuple[int, int, float]) -> dict[str, tuple[int, int, int, int]]:
    """Play a season (its number, how many problems there are, the scatter) both ways."""
    n, instances, spread = season
    problem, best, hand = planned(n % instances)

    def scatter(specimen: str) -> float:
        return Random(f"{n}/{specimen}").lognormvariate(0, spread)

    return {
        "planner": outcome(play(problem, best, mended, scatter)),
        "by hand": outcome(play(problem, hand, mended_by_hand, scatter)),
    }


def main() -> int:
    """Play and print the means."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seasons", type=int, default=200)
    parser.add_argument("--scatter", type=float, default=0.2)
    parser.add_argument("--instances", type=int, default=5)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    sums = {"planner": [0] * 4, "by hand": [0] * 4}
    seasons = [(n, given.instances, given.scatter) for n in range(given.seasons)]
    with multiprocessing.get_context("spawn").Pool(given.workers) as pool:
        for outcomes in pool.imap(played, seasons):
            for name, found in outcomes.items():
                sums[name] = [a + b for a, b in zip(sums[name], found, strict=True)]
    print(f"means of {given.seasons} seasons, drying days scattered by {given.scatter}")
    print("by  spoiled_priority  weighted_waiting_days  moved_placements  slots_found_taken")
    for name, total in sums.items():
        print(name, *(round(x / given.seasons, 2) for x in total), sep="  ")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
