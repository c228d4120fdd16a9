"""Whether everything is taken off at a session at which it may be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from scheduler.planner.referee.facts import Case, Fault


def off_faults(case: Case) -> Iterator[Fault]:
    """Check that nothing comes off too soon, and that planned ones do not come off too late."""
    sessions, wait = case.problem.sessions, case.problem.weights.off_sessions
    times = Counter(one.specimen for one in case.standing + case.planned)
    names = {session.session for session in sessions}
    for name, session in case.plan.off.items():
        if not times[name] or session not in names:
            yield Fault("taken off", name, f"{name} is said to come off at {session}")
    for one in case.standing + case.planned:
        if times[one.specimen] > 1:
            continue  # `name_faults` reports this
        said = "never" if one.off is None else f"at {sessions[one.off].session}"
        latest = len(sessions) if one.earliest is None else one.earliest + wait
        too_soon = one.off is not None and (one.earliest is None or one.off < one.earliest)
        too_late = one.off is None or one.off > latest
        if too_soon or (too_late and not one.stands and one.earliest is not None):
            text = f"{one.specimen} on {one.board} is free from {one.free_on}, it comes off {said}"
            yield Fault("taken off", one.specimen, text)
