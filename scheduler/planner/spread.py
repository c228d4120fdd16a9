"""Decide when standing specimens come off, before anything is planned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduler.planner.bench import PlanBench

FOR_TAKING_OFF = 0.5
"""The part of a session's minutes that taking off may use before anything is planned."""


def first_with_time(
    bench: PlanBench, left_min: Sequence[int], may: Iterable[int], most: float = FOR_TAKING_OFF
) -> int:
    """Return the first session of `may` that has time to take one more off; -1 if none.

    It has time if at least a part 1 - `most` of its minutes is left afterwards; `left_min` is what
    is left of each session now.
    """
    each = bench.problem.take_off_min
    enough = (k for k in may if left_min[k] - each >= (1.0 - most) * bench.sessions[k].minutes)
    return next(enough, -1)


def spread(bench: PlanBench, wanted: Sequence[int] | None = None, most: float = 1.0) -> list[int]:
    """Return the session at which each standing one comes off, so that no session is overfull.

    It is the `wanted` one (-1: none wanted) where that is possible and taking off then uses no more
    than a part `most` of its minutes. The others follow, those that may come off first before the
    rest, and leave time for mounting even if some come off late. One that finds no session stays to
    the end, which is written as the number of sessions.
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
