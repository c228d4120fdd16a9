"""In whose hands a board is, where several people are at the bench at the same time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, time

from scheduler.view import View
from scheduler.words.names import natural_order
from scheduler.words.records import Session


def at_once(view: View, session: Session) -> tuple[Session, ...]:
    """Return a session with all that overlap it on its day, also through others, by id."""
    day = view.local(session.start).date()
    others = [
        s
        for s in view.facts.sessions_from(datetime.combine(day, time(), view.zone))
        if s.minutes and view.local(s.start).date() == day and not view.is_off(s)
    ]
    found = [session]
    for one in found:
        others = [s for s in others if s.session not in {f.session for f in found}]
        found += [s for s in others if s.start < one.end and one.start < s.end]
    return tuple(sorted(found, key=lambda s: s.session))


def hands(view: View, session: Session) -> Mapping[str, str]:
    """Return, by board, the session that handles it; empty where a session is alone.

    Whoever mounts on a board, or has mounted on it, also tests and takes off there. The other
    boards are dealt out in turn, by the minutes that mounting leaves to each. So the same boards
    stay in the same hands all day, also while work is being recorded.
    """
    there = {s.session: s for s in at_once(view, session)}
    if len(there) < 2:
        return {}
    left = {name: s.minutes for name, s in there.items()}
    owned = {}
    for one in view.standing():
        name = one.placement.session
        if name in there:
            owned[one.board.board] = name
            minutes = one.specimen.minutes
            left[name] -= view.rules.minutes(one.body_mm) if minutes is None else minutes
    stands = {one.specimen.specimen for one in view.standing()}
    for p in view.kept.placements if view.kept else ():
        if p.session in there:
            owned[p.board] = p.session
            left[p.session] -= 0 if p.specimen in stands else p.minutes
    if not any(minutes > 0 for minutes in left.values()):
        left = {name: s.minutes for name, s in there.items()}
    day = view.local(session.start).date()
    due = (
        {s.board for s in view.kept.standing if s.free_on and s.free_on <= day} if view.kept else ()
    )
    boards = [b.board for b in view.boards.values() if not b.out and b.board not in owned]
    return _dealt(sorted(boards, key=lambda b: (b not in due, natural_order(b))), left) | owned


def is_in_hands(board: str, session: Session, dealt: Mapping[str, str]) -> bool:
    """Say whether a board is one of a session's; a session that is alone has every board."""
    return dealt.get(board, session.session) == session.session


def _dealt(boards: Sequence[str], minutes: Mapping[str, int]) -> dict[str, str]:
    """Return who gets which board: at every turn the one who is furthest behind their share."""
    share = {name: max(0, left) for name, left in minutes.items()}
    whole = sum(share.values())
    given = dict.fromkeys(share, 0)
    found = {}
    for turn, board in enumerate(boards, 1):
        behind = max(share, key=lambda name: share[name] * turn / whole - given[name])
        given[behind] += 1
        found[board] = behind
    return found
