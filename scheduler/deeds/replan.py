"""After something changed: plan again, and tell only what differs."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from scheduler.deeds.outcome import Outcome
from scheduler.deeds.plan import plan
from scheduler.faces.moved import moved_lines
from scheduler.looks.planning import Planning, refuse_faulty
from scheduler.looks.problem import build_problem, groove_widths
from scheduler.planner.make import mend, what_moved
from scheduler.planner.problem import PlanProblem
from scheduler.planner.referee.verdict import judge
from scheduler.record.kept import Kept, basis, keep_plan, kept_plan, resting_on
from scheduler.record.plan_text import kept_of, text_of
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words.wording import counted

AT_ONCE = 8_000
"""Up to so many specimens x sessions (a season's) a plan is mended in about 0.2 s."""

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
    outcome: Outcome,
    store: Store,
    rules: Rulebook,
    now: datetime,
    rounds: int = 5,
    *,
    taken: int | None = None,
) -> Outcome:
    """Return what a deed did and what that moved in the kept plan, which is mended at once.

    Nothing is searched: `wingrest plan` does that next time. The plan stays as it was, and older
    than the record, where mending takes long, or while people are at the bench or have not yet
    recorded what they did there. `taken` is a line that was taken back: if the plan was last mended
    for it, the plan becomes what it was before that, if the record allows it.
    """
    on = basis(store)
    view = view_of(store, rules, now)
    size = len(view.facts.waiting()) * len(view.sessions_ahead)
    if on.kept is None or size > AT_ONCE or _at_the_bench(view):
        return outcome
    problem, kept = build_problem(view), on.kept
    if resting_on(problem) == kept.rests_on:
        return outcome
    mended, as_before = _mended(view, problem, kept, taken)
    moved = what_moved(problem, kept.plan, mended.plan, kept.pinned)
    mended = mended._replace(line=on.line, before=text_of(kept._replace(before="")))
    if not keep_plan(store, mended, on):  # another was quicker
        if not rounds:
            return outcome
        return with_plan_mended(outcome, store, rules, now, rounds - 1, taken=taken)
    if not moved:
        return outcome
    if as_before:
        said = f"The plan is as it was before: {counted(len(moved), 'specimen')} moved back"
        return replace(outcome, done=(*outcome.done, said))
    made = Planning(view, problem, mended.plan, moved)
    return replace(outcome, done=(*outcome.done, *_said(made)))


def _mended(view: View, problem: PlanProblem, kept: Kept, taken: int | None) -> tuple[Kept, bool]:
    """Return the mended plan, and whether it is the one from before the line `taken` back."""
    back = taken == kept.line and bool(kept.before)
    start = kept_of(kept.before, kept.kept_at) if back else kept
    if back and not judge(problem, start.plan):
        again = Kept.of(problem, start.plan, view.now, kept.pinned)
        return (again if start.rests_on else again._replace(rests_on="")), True
    grooves = groove_widths(view)
    made = mend(problem, start.plan, grooves=grooves, keep=kept.pinned, rounds=0, with_bound=False)
    refuse_faulty(problem, made)
    return Kept.of(problem, made, view.now, kept.pinned)._replace(rests_on=""), False


def _said(made: Planning) -> list[str]:
    lines = moved_lines(replace(made, moved=made.moved[:MOST_MOVED]))
    lines[0] = f"The plan was mended: {counted(len(made.moved), 'specimen')} moved"
    more = len(made.moved) - MOST_MOVED
    return lines + ([f"  and {more} more: `wingrest plan` shows it all"] if more > 0 else [])


def _at_the_bench(view: View) -> bool:
    """Say whether a session has begun whose planned mountings are not all recorded yet."""
    begun = {s.session for s in view.sessions.values() if s.start <= view.now}
    waits = {one.specimen.specimen for one in view.waiting}
    placements = view.kept.placements if view.kept else ()
    return any(p.session in begun and p.specimen in waits for p in placements)
