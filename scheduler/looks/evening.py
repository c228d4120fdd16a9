"""A free evening: what can be mounted at a moment for which no session was set.

Nothing is kept or recorded. It is too late to put anything into the chamber for it, so it takes
what is soft by then, is limp out of the cold, or needs no chamber.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from scheduler.looks.planning import Planning, refuse_faulty
from scheduler.looks.problem import build_problem, groove_widths
from scheduler.planner.make import make_plan
from scheduler.planner.problem import Planned, PlanProblem, PlanWaiting
from scheduler.record.snapshot import Snapshot
from scheduler.view import View
from scheduler.words.problems import BadInput
from scheduler.words.records import Placement, Session

FREE = "free"
"""The name of the session while it is planned."""


@dataclass(frozen=True, slots=True)
class Evening:
    """The plan of one free evening, and how to record it.

    `gently` came out of the cold and not out of the chamber: only a touch shows whether it is limp.
    """

    planning: Planning
    gently: tuple[str, ...]
    commands: tuple[str, ...]


def evening(view: View, at: datetime, minutes: int) -> Evening:
    """Plan `minutes` of bench time from `at` on. Raises BadInput when that time is over.

    What the kept plan mounts in earlier sessions counts as mounted there.
    """
    if at + timedelta(minutes=minutes) <= view.now:
        raise BadInput(f"--at {at:%Y-%m-%dT%H:%M} is past. Give a moment still to come")
    then = _as_it_will_stand(view, at)
    alone = View(then.but(sessions={FREE: Session(FREE, at, minutes)}), view.rules, view.now)
    problem, gently = _only_soft(build_problem(alone), alone.facts)
    plan = make_plan(problem, groove_widths(alone))
    refuse_faulty(problem, plan)
    placements = plan.placements
    return Evening(
        planning=Planning(alone, problem, plan),
        gently=tuple(p.specimen for p in placements if p.specimen in gently),
        commands=_commands(placements),
    )


def _as_it_will_stand(view: View, at: datetime) -> Snapshot:
    """Return the record with what the kept plan mounts before `at` as mounted."""
    snap = view.facts
    before = [p for p in view.planned if p.mount_at < at]
    if not before:
        return snap
    off = {name: p.mount_at for p in before for name in p.after}
    stands = tuple(
        p._replace(released_at=off[p.specimen])
        if p.released_at is None and p.specimen in off
        else p
        for p in snap.placements
    )
    new = tuple(_placement(p, snap, -number) for number, p in enumerate(before, 1))
    return snap.but(placements=(*stands, *new))


def _placement(planned: Planned, snap: Snapshot, number: int) -> Placement:
    return Placement(
        id=number,
        specimen=planned.specimen,
        board=planned.board,
        from_mm=planned.from_mm,
        to_mm=planned.to_mm,
        mounted_at=planned.mount_at,
        mounted_on=snap.local(planned.mount_at).date(),
    )


def _only_soft(problem: PlanProblem, snap: Snapshot) -> tuple[PlanProblem, frozenset[str]]:
    """Return the problem without what still must soften, and whom only the cold has softened."""
    found = []
    gently = set()
    for w in problem.waiting:
        kept = next(reversed(snap.keeping_of(w.specimen)), None)
        then = w.phase(problem.sessions[0].start)
        if then.place is not None:
            # It will be lost by then where it is now; if it is put away, it comes out of the cold
            # on another day.
            lost = next(phase.since for phase in w.later if phase.place is not None)
            w = replace(w, lost_at=lost - timedelta(seconds=1), last=-1)
        if w.chamber_since is not None or not then.chamber:
            found.append(replace(w, later=()))
        elif kept is not None and kept.place != "freezer":
            found.append(_limp(w, problem))
            gently.add(w.specimen)
    inside = {s.specimen for s in snap.in_chamber()}
    misfits = {name: why for name, why in problem.misfits.items() if name in inside}
    return replace(problem, waiting=tuple(found), misfits=misfits), frozenset(gently)


def _limp(w: PlanWaiting, problem: PlanProblem) -> PlanWaiting:
    """Return a specimen taken as limp: open to the session unless it comes late or is lost."""
    start = problem.sessions[0].start.timestamp()
    lost = w.lost_at is not None and w.lost_at.timestamp() < start
    return replace(
        w,
        later=(),
        chamber=False,
        first_look_hours=0.0,
        soft_at=w.open_at,
        first=0 if w.open_at.timestamp() <= start else 1,
        last=-1 if lost else 0,
    )


def _commands(placements: Iterable[Planned]) -> tuple[str, ...]:
    """Return the commands that record the evening: what came off, then board by board."""
    boards: dict[str, list[Planned]] = {}
    off: list[str] = []
    for p in placements:
        boards.setdefault(p.board, []).append(p)
        off += p.after
    first = (f"wingrest release {' '.join(dict.fromkeys(off))}",) if off else ()
    return first + tuple(
        f"wingrest mount {board}: "
        + " ".join(
            f"{p.specimen}={p.from_mm}-{p.to_mm}" for p in sorted(here, key=lambda p: p.from_mm)
        )
        for board, here in boards.items()
    )
