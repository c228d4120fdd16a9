"""When what stands comes off, before anything is planned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduler.planner.bench import PlanBench

FOR_TAKING_OFF = 0.5
"""This part of a session what stands may take before anything is planned."""


def first_with_time(
    bench: PlanBench, left_min: Sequence[int], may: Iterable[int], most: float = FOR_TAKING_OFF
) -> int:
    """Return the first of the sessions of which one more taken off leaves 1 - `most`; -1 if none.

    Of the minutes that are left at each session.
    """
    each = bench.problem.take_off_min
    enough = (k for k in may if left_min[k] - each >= (1.0 - most) * bench.sessions[k].minutes)
    return next(enough, -1)


def spread(bench: PlanBench, wanted: Sequence[int] | None = None, most: float = 1.0) -> list[int]:
    """Return at which session each that stands comes off, and no session has too much to do.

    At the `wanted` one (-1: none) if it can, which takes `most` of a session at most. What was
    dry first goes first, and leaves time for mounting, even where it comes late by that. What
    finds no session stays to the end: their number.
    """
    sessions, each = len(bench.on), bench.problem.take_off_min
    left = [s.minutes for s in bench.sessions]
    offs = [first if first == sessions or not each else -1 for first in bench.stand_first]
    order = sorted((s for s, off in enumerate(offs) if off < 0), key=lambda s: bench.stand_first[s])

    def put(s: int, may: Iterable[int], most: float) -> None:
        k = first_with_time(bench, left, may, most) if offs[s] < 0 else -1
        if k >= 0:
            offs[s], left[k] = k, left[k] - each

    for s in order:
        if wanted is not None and wanted[s] == sessions:
            offs[s] = sessions
        elif wanted is not None and bench.stand_first[s] <= wanted[s]:
            put(s, (wanted[s],), most)
    for s in order:
        put(s, range(bench.stand_first[s], sessions), FOR_TAKING_OFF)
    return [sessions if off < 0 else off for off in offs]
