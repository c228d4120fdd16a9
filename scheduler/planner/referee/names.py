"""Whether a plan names only what exists, and everything that waits exactly once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from scheduler.planner.problem import Plan, PlanProblem
from scheduler.planner.referee.facts import Fault


def name_faults(problem: PlanProblem, plan: Plan) -> Iterator[Fault]:
    """Yield names that the problem does not know, and specimens planned or left out wrongly."""
    boards = {board.board for board in problem.boards}
    sessions = {session.session for session in problem.sessions}
    for one in plan.placements:
        if one.board not in boards:
            text = f"{one.specimen} is planned on {one.board}: there is no such board"
            yield Fault("unknown board", one.specimen, text)
        if one.session not in sessions:
            text = f"{one.specimen} is planned in {one.session}: there is no such session"
            yield Fault("unknown session", one.specimen, text)
    waiting = {one.specimen for one in problem.waiting}
    named = [one.specimen for one in plan.placements if one.specimen not in problem.misfits]
    named += [name for name, _ in plan.unplaced if name not in problem.misfits]
    for specimen in sorted(set(named) - waiting):
        text = f"{specimen} is in the plan, but does not wait to be mounted"
        yield Fault("unknown specimen", specimen, text)
    for one in plan.placements:
        if one.specimen in problem.misfits and one.specimen not in waiting:
            text = f"{one.specimen} is planned on {one.board}: {problem.misfits[one.specimen]}"
            yield Fault("wrong groove", one.specimen, text)
    yield from _naming_faults(problem, plan)


def _naming_faults(problem: PlanProblem, plan: Plan) -> Iterator[Fault]:
    """Check that each specimen is either planned once or left out once, with a reason."""
    planned = Counter(one.specimen for one in plan.placements)
    unplaced = Counter(name for name, _ in plan.unplaced)
    for verb, counts in (("planned", planned), ("left out", unplaced)):
        for specimen, times in sorted(counts.items()):
            if times > 1:
                yield Fault("named twice", specimen, f"{specimen} is {verb} {times} times")
    for specimen in sorted(planned.keys() & unplaced.keys()):
        text = f"{specimen} is both planned and left out"
        yield Fault("planned and unplaced", specimen, text)
    known = {one.specimen for one in problem.waiting} | problem.misfits.keys()
    for specimen in sorted(known - planned.keys() - unplaced.keys()):
        text = f"{specimen} waits, but is neither planned nor left out"
        yield Fault("forgotten", specimen, text)
    for specimen, reason in plan.unplaced:
        if not reason.strip():
            yield Fault("no reason", specimen, f"{specimen} is left out without a reason")
