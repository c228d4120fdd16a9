"""Measure the planner on invented problems: how good, how fast, how far from the best possible.

Run from the checkout, for example:

    python tests/bench/planner.py --size season --seeds 1 2 3 --effort normal

The usual problems are kind to the planner. Make them harder:

    python tests/bench/planner.py --size season --boards odd --minutes 1.0 --length 0.7
    python tests/bench/planner.py --size season --places 8

--boards odd: every board has a groove and a length of its own, as if somebody had built them one
by one (invented). --minutes: the more minutes there are, the more the boards are the limit.
--places: the fewer there are, the more the chamber is.

Each size and seed runs in a process of its own, so that the memory is its own. The plan made
by hand, the due-date greedy and the planner are shown side by side. The run fails where the referee
rejects one of them, or where bound <= planner <= by hand does not hold. Seconds are those of this
machine at this moment; all other figures are the same everywhere.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import resource
import sys
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from instances import SIZES, instance

from scheduler.planner.bench import PlanBench
from scheduler.planner.finish import explained, made
from scheduler.planner.make import best_plan, hand_plan
from scheduler.planner.problem import Quality
from scheduler.planner.quality import unsavable
from scheduler.planner.quick import due_date_greedy
from scheduler.planner.referee.verdict import judge
from scheduler.planner.state import PlanState

COLUMNS = (
    "size seed status gap_pct bound spoiled waiting greedy_spoiled greedy_waiting "
    "hand_spoiled hand_waiting first_s seconds peak_mb"
).split()


def measure(size: str, seed: int, effort: Any, **harder: Any) -> dict[str, Any]:
    """Return one row of the table, after the referee has passed every plan.

    `harder` is what `instance` takes beside size and seed.
    """
    problem = instance(size, seed, **harder)
    first: list[float] = []
    began = time.perf_counter()

    def progress(_part: float, _quality: Quality, _gap: float | None) -> None:
        if not first:
            first.append(time.perf_counter() - began)

    result = best_plan(problem, effort=effort, progress=progress)
    seconds = time.perf_counter() - began
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    bench = PlanBench(problem)
    greedy = explained(made("greedy", due_date_greedy(PlanState(bench)), unsavable(bench)), {})
    for name, one in (("plan", result), ("by hand", hand_plan(problem)), ("greedy", greedy)):
        if faults := judge(problem, one):
            raise AssertionError(f"{size} {seed}: {name}: {faults[0].message}")
    best, hand = result.quality, result.by_hand
    assert hand is not None
    bound = result.bound or 0
    assert best <= hand, f"{size} {seed}: worse than by hand"
    assert best.spoiled_priority <= greedy.quality.spoiled_priority
    assert bound <= best.weighted_waiting_days, f"{size} {seed}: bound above the plan"
    return {
        "size": size,
        "seed": seed,
        "status": result.status,
        "gap_pct": round(100 * (result.gap or 0.0), 2),
        "bound": bound,
        "spoiled": best.spoiled_priority,
        "waiting": best.weighted_waiting_days,
        "greedy_spoiled": greedy.quality.spoiled_priority,
        "greedy_waiting": greedy.quality.weighted_waiting_days,
        "hand_spoiled": hand.spoiled_priority,
        "hand_waiting": hand.weighted_waiting_days,
        "first_s": round(first[0], 2) if first else None,
        "seconds": round(seconds, 1),
        "peak_mb": round(peak),
    }


def main() -> int:
    """Measure and print a table, or JSON lines."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", nargs="+", choices=sorted(SIZES), default=["weekend"])
    parser.add_argument("--seeds", nargs="+", type=int, default=[1, 2, 3])
    parser.add_argument("--effort", choices=("quick", "normal", "thorough"), default="normal")
    parser.add_argument("--length", type=float, default=1.0, help="boards so many times as long")
    parser.add_argument("--minutes", type=float, metavar="SHARE", help="minutes per demand")
    parser.add_argument("--places", type=int, metavar="N", help="places in the chamber")
    parser.add_argument("--boards", choices=("sets", "odd"), default="sets")
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    harder = {
        "length": given.length,
        "minutes": given.minutes,
        "places": given.places,
        "stock": given.boards,
    }
    if not given.json:
        print("  ".join(COLUMNS))
    for size in given.size:
        for seed in given.seeds:
            context = multiprocessing.get_context("spawn")
            with context.Pool(1) as pool:
                row = pool.apply(measure, (size, seed, given.effort), harder)
            text = json.dumps(row) if given.json else "  ".join(str(row[c]) for c in COLUMNS)
            print(text, flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
