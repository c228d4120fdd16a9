"""When a specimen goes into the relaxing chamber, and how full the chamber is at each moment.

Hours in the chamber are hours that pass, not hours on the clock: every sum is made in UTC, so a
night on which the clocks change has its true length.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from scheduler.drying.softening import hours_after
from scheduler.planner.problem import PlanProblem, PlanSession, PlanWaiting

Interval = tuple[float, float]
"""Two moments in seconds since 1970: the first included, the second excluded."""


def mount_moment(session: PlanSession, now: datetime) -> datetime:
    """Return when a session begins to mount: at its start, or now where it is running."""
    if session.running and session.start.timestamp() < now.timestamp():
        return now
    return session.start


def beside(sessions: Sequence[PlanSession], now: datetime) -> list[tuple[int, ...]]:
    """Return for each session, in order of start, the numbers of those that overlap it."""
    begins = [mount_moment(s, now).timestamp() for s in sessions]
    found: list[list[int]] = [[] for _ in sessions]
    for k, session in enumerate(sessions):
        end = begins[k] + 60 * session.minutes
        for j in range(k + 1, len(sessions)):
            if begins[j] >= end:
                break
            found[k].append(j)
            found[j].append(k)
    return [tuple(others) for others in found]


def relax_from(w: PlanWaiting, session: PlanSession, problem: PlanProblem) -> datetime | None:
    """Return when the specimen goes into the chamber for this session; None where it need not.

    It is the latest daily `chamber_time` that leaves time for the first look and is not too long
    before the mounting; where no day's is, the latest moment that leaves time for the first look.
    For what is in the chamber already, it is the moment at which it went in.
    """
    start = mount_moment(session, problem.now)
    phase = w.phase(start)
    if w.chamber_since is not None and phase.place is None:
        return w.chamber_since
    if not phase.chamber:
        return None
    ready = start.timestamp() - phase.first_look_hours * 3600
    earliest = max(w.open_at.timestamp(), start.timestamp() - phase.most_hours * 3600)
    day = start.date()
    while True:
        clock = datetime.combine(day, problem.chamber_time, start.tzinfo)
        moment = clock.timestamp()
        if moment < earliest:
            return hours_after(start, -phase.first_look_hours)
        if moment <= ready:
            return hours_after(clock, 0)
        day -= timedelta(days=1)


def stays_until(w: PlanWaiting) -> datetime | None:
    """Return until when a specimen in the chamber stays if not mounted; None if not inside."""
    if w.chamber_since is None:
        return None
    decays = hours_after(w.chamber_since, w.most_hours)
    if w.lost_at is not None and w.lost_at.timestamp() < decays.timestamp():
        return w.lost_at
    return decays


class Chamber:
    """How many specimens are in the chamber, from each moment of change to the next.

    It is built once over every interval that may be asked about. What lies before the plan's
    moment is past and not counted.
    """

    def __init__(self, places: int | None, now: float, intervals: Iterable[Interval]) -> None:
        self.places = places
        moments = {now}
        for since, until in intervals:
            moments.update((since, until))
        self.moments = sorted(m for m in moments if m >= now)
        self.inside = [0] * len(self.moments)

    def copy(self) -> Chamber:
        """Return an independent copy."""
        twin = Chamber.__new__(Chamber)
        twin.places, twin.moments, twin.inside = self.places, self.moments, self.inside[:]
        return twin

    def _steps(self, interval: Interval) -> tuple[int, int]:
        return bisect_left(self.moments, interval[0]), bisect_left(self.moments, interval[1])

    def change(self, interval: Interval, by: int) -> None:
        """Count `by` more specimens in the chamber over the interval."""
        first, past = self._steps(interval)
        for step in range(first, past):
            self.inside[step] += by

    def full_at(self, interval: Interval) -> float | None:
        """Return the first moment of the interval at which every place is taken, None if none."""
        if self.places is None:
            return None
        first, past = self._steps(interval)
        for step in range(first, past):
            if self.inside[step] >= self.places:
                return self.moments[step]
        return None
