"""Compare the disk space and reading time of the kept plan with those of plan and whole problem.

Run from the checkout: `python tests/bench/kept_plan.py [--size museum]`. It checks that both ways
give the same plan back.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from typing import TypeVar

from instances import SIZES, instance

from scheduler.planner.make import hand_plan
from scheduler.planner.problem_json import (
    plan_from_json,
    plan_to_json,
    problem_from_json,
    problem_to_json,
)
from scheduler.record.plan_text import Kept, kept_of, text_of

_Read = TypeVar("_Read")


def timed(read: Callable[[], _Read], times: int = 5) -> tuple[float, _Read]:
    """Return the least milliseconds that something takes, and what it gives."""
    least = float("inf")
    for _ in range(times):
        began = time.perf_counter()
        found = read()
        least = min(least, 1000 * (time.perf_counter() - began))
    return least, found


def main() -> None:
    """Measure and print both ways side by side."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", choices=sorted(SIZES), default="museum")
    size = parser.parse_args().size
    problem = instance(size, 1)
    plan = hand_plan(problem)
    kept = Kept.of(problem, plan, problem.now)
    small = text_of(kept)
    large = json.dumps([problem_to_json(problem), plan_to_json(problem, plan)])

    def read_large() -> object:
        read = json.loads(large)
        return problem_from_json(read[0]), plan_from_json(problem.timezone, read[1])

    small_ms, again = timed(lambda: kept_of(small, problem.now))
    large_ms, both = timed(read_large, 1)
    assert again == kept
    assert both == (problem, plan)
    print(f"{size}: {len(plan.placements)} placed, {len(plan.unplaced)} not")
    print(f"alone         {len(small) / 1e6:8.2f} MB {small_ms:9.1f} ms")
    print(f"with problem  {len(large) / 1e6:8.2f} MB {large_ms:9.1f} ms")
    print(f"ratio         {len(large) / len(small):8.1f}    {large_ms / small_ms:9.1f}")


if __name__ == "__main__":
    main()
