"""What of the kept plan still holds against the record, session by session.

A deed need not plan again: from that moment on, whatever it took away is no longer said.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from scheduler.view import View
from scheduler.words.records import Session
from scheduler.words.tuples import NamedTuple
from scheduler.words.wording import listed, moment

if TYPE_CHECKING:
    from scheduler.planner.problem import Planned


class Holding(NamedTuple):
    """What is still to be mounted in a session; `stale` says why a new plan is needed."""

    lines: tuple[Planned, ...]
    planned: bool
    stale: str = ""


def holding(view: View, session: Session) -> Holding:
    """Return what of a session's plan still holds, without specimens that are mounted or gone."""
    kept = view.kept
    if kept is None or session.session not in kept.sessions:
        return Holding((), planned=False)
    waits = {one.specimen.specimen for one in view.waiting}
    planned = [p for p in kept.placements if p.session == session.session and p.specimen in waits]
    lost = {p.specimen: why for p in planned if (why := _why_not(view, p, session))}
    lines = tuple(p for p in planned if p.specimen not in lost)
    reasons = [*_of_session(view, session, planned), *dict.fromkeys(lost.values())]
    return Holding(lines, planned=True, stale="; ".join(reasons))


def _of_session(view: View, session: Session, planned: list[Planned]) -> Iterator[str]:
    assert view.kept is not None
    was, start = view.kept.sessions[session.session], view.local(session.start)
    if was != session.start and planned:
        yield f"it was made for {moment(view.local(was), view.now)}"
    after = {name for p in planned for name in p.after if view.on_board(name) is not None}
    off = after - _off_before(view, session)
    needed = sum(p.minutes for p in planned) + view.rules.take_off_min * len(off)
    if planned and needed > session.minutes:
        yield f"it takes {needed} min, but {start:%a} has only {session.minutes}"


def _off_before(view: View, session: Session) -> set[str]:
    """Return what the plan takes off at sessions that are still to come before this one."""
    assert view.kept is not None
    days = [
        view.local(s.start).date()
        for s in view.sessions_ahead
        if s.session in view.kept.sessions and s.minutes and s.start < session.start
    ]
    last = max(days, default=None)
    standing = view.kept.standing
    return {s.specimen for s in standing if last and s.free_on and s.free_on <= last}


def _why_not(view: View, planned: Planned, session: Session) -> str:
    """Return why one cannot be mounted as planned; "" while it can."""
    board = view.boards.get(planned.board)
    if board is None or board.out:
        return f"{planned.board} is out of use"
    known = {s.specimen for s in view.kept.standing} if view.kept else set()
    day = view.local(session.start).date()
    there = [
        one
        for one in view.standing(planned.board)
        if one.placement.from_mm < planned.to_mm and planned.from_mm < one.placement.to_mm
    ]
    new = [
        o.specimen.specimen for o in there if o.specimen.specimen not in (*known, *planned.after)
    ]
    if new:
        return f"{listed(new)} stands in its slot on {planned.board}"
    late = [o.specimen.specimen for o in there if not o.stiff and not o.is_due(day)]
    if late:
        return f"{listed(late)} on {planned.board} is not due by then"
    return ""
