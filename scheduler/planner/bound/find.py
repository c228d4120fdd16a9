"""The bound of a problem, found in the way that suits its size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.ascent import climb, heaped
from scheduler.planner.bound.market import market
from scheduler.planner.bound.priced import Bound
from scheduler.planner.bound.program import Program, best_prices, closer
from scheduler.planner.bound.stock import groove_counts

EXACTLY = 60_000
"""Up to so many offers times sessions, a linear program over all of them is quick."""

CLOSELY = 30_000
"""Up to so many offers times sessions, slots are also counted in several ways."""

HEAPS = 8_000
"""With more specimens than this, alike ones are put into so many heaps for the ascent."""


def find_bound(
    bench: PlanBench,
    spoiling: int,
    steps: int,
    stop: Callable[[], bool],
    *,
    closely: bool = True,
) -> Bound:
    """Return a bound for every plan in which no more than `spoiling` priority spoils.

    Its prices are those of summed lengths: they say what more minutes, groove or boards would
    save. With `closely`, a small problem also gets a closer bound.
    """
    full = market(bench)
    size = len(full.owner) * full.supply.sessions
    if size > EXACTLY:
        return climb(heaped(full, HEAPS), full, spoiling, steps, stop)
    program = Program(full, spoiling)
    found = best_prices(program, spoiling, max(8, steps // 10), stop)
    if not closely or size > CLOSELY or not program.columns or stop():
        return found
    days, guided = closer(program, groove_counts(bench), spoiling, max(3, steps // 60), stop)
    return replace(found, days=days, guided=guided) if days > found.days else found
