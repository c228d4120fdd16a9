"""After something changed: plan again, and say only what is different."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import NamedTuple

from scheduler.deeds.plan import Planning, Wish, plan
from scheduler.planner.problem import Planned
from scheduler.record.kept import Kept, kept_plan
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words import wording


class Change(NamedTuple):
    """How one specimen fares in the new plan; None: it had, or has, no place. `why` then."""

    specimen: str
    was: Planned | None
    now: Planned | None
    why: str = ""


class Replanned(NamedTuple):
    """What the kept plan became."""

    planning: Planning
    changes: tuple[Change, ...]


def replan(store: Store, rules: Rulebook, now: datetime) -> Replanned | None:
    """Bring the kept plan up to the record; None when no plan is kept or all of it is over."""
    kept = kept_plan(store)
    if kept is None:
        return None
    made = _mended(store, rules, now, kept)
    if not made.problem.sessions:
        return None
    return Replanned(made, changes(kept.placements, made))


def _mended(store: Store, rules: Rulebook, now: datetime, kept: Kept) -> Planning:
    """Return the kept plan mended, up to the same last session."""
    last = max((s.on for s in kept.problem.sessions), default=None)
    return plan(store, rules, now, Wish(until=last))


def changes(before: Iterable[Planned], made: Planning) -> tuple[Change, ...]:
    """Return who moved, lost or won a place, by id; what was mounted since is no change."""
    waits = {w.specimen for w in made.problem.waiting} | set(made.problem.misfits)
    was = {p.specimen: p for p in before if p.specimen in waits}
    now = {p.specimen: p for p in made.plan.placements}
    why = dict(made.plan.unplaced)
    return tuple(
        Change(name, was.get(name), now.get(name), why.get(name, ""))
        for name in sorted(was.keys() | now.keys())
        if _where(was.get(name)) != _where(now.get(name))
    )


def _where(planned: Planned | None) -> tuple[str, str, int] | None:
    return None if planned is None else (planned.session, planned.board, planned.from_mm)


def said(replanned: Replanned) -> list[str]:
    """Return what changed, for people."""
    found = replanned.changes
    if not found:
        return ["The plan stands as it was."]
    lines = [
        f"The plan was mended: {wording.counted(len(found), 'specimen')} otherwise than before"
    ]
    days = {s.session: wording.weekday(s.on) for s in replanned.planning.problem.sessions}
    for change in found:
        lines += wording.wrapped(_line(change, days), "  ", "    ")
    return lines


def _line(change: Change, days: Mapping[str, str]) -> str:
    if change.was is None and change.now is not None:
        return f"{change.specimen} wins a place: {_place(change.now, days)}"
    if change.was is not None and change.now is None:
        because = f": {change.why}" if change.why else ""
        return f"{change.specimen} loses {_place(change.was, days)}{because}"
    assert change.was is not None
    assert change.now is not None
    was = _place(change.was, days)
    if change.was.session == change.now.session:
        was = f"{change.was.board} {change.was.from_mm}-{change.was.to_mm} mm"
    return f"{change.specimen}: {was} -> {_place(change.now, days)}"


def _place(planned: Planned, days: Mapping[str, str]) -> str:
    day = days.get(planned.session, "")
    when = f"{planned.session} ({day})" if day else planned.session
    return f"{planned.board} {planned.from_mm}-{planned.to_mm} mm at {when}"
