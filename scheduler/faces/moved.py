"""What moved, for people: dates of specimens on boards, and places in the plan."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING

from scheduler.words import wording

if TYPE_CHECKING:
    from scheduler.looks.moved import MovedDate
    from scheduler.looks.planning import Planning
    from scheduler.planner.make import Moved
    from scheduler.planner.problem import Planned


def moved_date_lines(moved: Iterable[MovedDate], today: date) -> list[str]:
    """Return a line for each specimen whose due date changed."""
    lines = []
    for one in moved:
        test = f"test from {wording.weekday(one.due, today)}" if one.due else None
        said = test or "no date yet in this air"
        was = wording.weekday(one.was, today) if one.was else "it had no date"
        lines.append(f"  {one.specimen}: {said} (before: {was})")
    return lines


NEAR_SESSIONS = 2
"""Moves from or to the next so many sessions are told; moves among later ones are counted."""

MOST_TOLD = 2
"""The short form tells so many moves."""


def moved_lines(made: Planning, *, far: bool = True) -> list[str]:
    """Return whose place changed since the last plan, and why, for people.

    Without `far`, at most `MOST_TOLD` moves of the next sessions are told and all others counted.
    """
    if not made.moved:
        return ["The plan stands as it was."]
    count = wording.counted(len(made.moved), "specimen")
    moved = "mended" if made.plan.status == "mended" else "searched on"
    lines = [f"The plan was {moved}: {count} moved"]
    days = {s.session: wording.weekday(s.on, made.view.now) for s in made.problem.sessions}
    why = dict(made.plan.unplaced)
    near = {s.session for s in made.problem.sessions[:NEAR_SESSIONS]}
    told = [one for one in made.moved if far or _matters(one, near)]
    later = len(made.moved) - len(told)
    told = told if far else told[:MOST_TOLD]
    for one in told:
        lines += wording.wrapped(_line(one, days, why.get(one.specimen, "")), "  ", "    ")
    more = len(made.moved) - later - len(told)
    parts = [f"{more} more of the next sessions"] if more else []
    parts += [f"{later} among later sessions"] if later else []
    if parts and not told:
        lines[0] += f", {parts.pop()}"
    return [*lines, f"  {', '.join(parts)}"] if parts else lines


def _matters(one: Moved, near: Collection[str]) -> bool:
    """Say whether a move concerns a near session, or a specimen that has no place any more."""
    return one.now is None or one.now.session in near or (one.was or one.now).session in near


def _line(one: Moved, days: Mapping[str, str], reason: str) -> str:
    if one.was is None:
        assert one.now is not None
        return f"{one.specimen} wins a place: {_place(one.now, days)}"
    was = _place(one.was, days)
    if one.now is None:
        return f"{one.specimen} loses {was}: {reason or one.why}"
    if one.was.session == one.now.session:
        was = f"{one.was.board} {one.was.from_mm}-{one.was.to_mm} mm"
    return f"{one.specimen}: {was} -> {_place(one.now, days)} ({one.why})"


def _place(planned: Planned, days: Mapping[str, str]) -> str:
    day = days.get(planned.session, "")
    when = f"{planned.session} ({day})" if day else planned.session
    return f"{planned.board} {planned.from_mm}-{planned.to_mm} mm at {when}"
