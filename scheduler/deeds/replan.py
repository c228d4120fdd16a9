"""After something changed: plan again, and say only what is different."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from scheduler.deeds.outcome import Outcome
from scheduler.deeds.plan import plan
from scheduler.faces.moved import moved_lines
from scheduler.looks.planning import Planning, refuse_faulty
from scheduler.looks.problem import build_problem, groove_widths
from scheduler.planner.make import mend, what_moved
from scheduler.record.kept import Kept, basis, keep_plan, kept_plan, resting_on
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words.wording import counted

AT_ONCE = 8_000
"""Up to so many specimens x sessions, a season's, a plan is mended in about 0.2 s."""

MOST_MOVED = 3
"""So many of those that moved are named."""


def replan(store: Store, rules: Rulebook, now: datetime) -> Planning | None:
    """Bring the kept plan up to the record; None when no plan is kept or all of it is over."""
    kept = kept_plan(store)
    if kept is None:
        return None
    made = plan(store, rules, now)
    return made if made.problem.sessions else None


def with_plan_mended(
    outcome: Outcome, store: Store, rules: Rulebook, now: datetime, rounds: int = 5
) -> Outcome:
    """Return what a deed did, and what that moved in the kept plan, which is mended at once.

    Nothing is searched: `wingrest plan` does that next time. Where mending takes long, or while
    people are at the bench or have not recorded yet what they did there, the plan stays as it
    was, and is said to be older than the record.
    """
    on = basis(store)
    view = view_of(store, rules, now)
    size = len(view.facts.waiting()) * len(view.sessions_ahead)
    if on.kept is None or size > AT_ONCE or _at_the_bench(view):
        return outcome
    problem, kept = build_problem(view), on.kept
    if resting_on(problem) == kept.rests_on:
        return outcome
    made = mend(
        problem,
        kept.plan,
        grooves=groove_widths(view),
        keep=kept.pinned,
        rounds=0,
        with_bound=False,
    )
    refuse_faulty(problem, made)
    moved = what_moved(problem, kept.plan, made, kept.pinned)
    mended = replace(Kept.of(problem, made, now, kept.pinned), rests_on="")
    if not keep_plan(store, mended, on):  # another was quicker
        return with_plan_mended(outcome, store, rules, now, rounds - 1) if rounds else outcome
    if not moved:
        return outcome
    lines = moved_lines(Planning(view, problem, made, moved[:MOST_MOVED]))
    lines[0] = f"The plan was mended: {counted(len(moved), 'specimen')} moved"
    more = len(moved) - MOST_MOVED
    lines += [f"  and {more} more: `wingrest plan` shows it all"] if more > 0 else []
    return replace(outcome, done=(*outcome.done, *lines))


def _at_the_bench(view: View) -> bool:
    """Say whether a session has begun of which not all is recorded that was planned for it."""
    begun = {s.session for s in view.sessions.values() if s.start <= view.now}
    waits = {one.specimen.specimen for one in view.waiting}
    placements = view.kept.placements if view.kept else ()
    return any(p.session in begun and p.specimen in waits for p in placements)
