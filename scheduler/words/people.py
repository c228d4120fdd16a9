"""Whose a session is: a name keeps its first spelling, and upper or lower case does not matter."""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.words import names, wording
from scheduler.words.problems import BadInput
from scheduler.words.records import Session


def people_of(sessions: Iterable[Session]) -> list[str]:
    """Return everybody who has a session, in the order of their names."""
    found: dict[str, str] = {}
    for session in sessions:
        if session.who is not None:
            found.setdefault(session.who.casefold(), session.who)
    return sorted(found.values(), key=str.casefold)


def usual_name(typed: str, sessions: Iterable[Session]) -> str:
    """Return a person's name as the sessions spell it, or as typed where no session has it."""
    known = {name: name for name in people_of(sessions)}
    return names.lookup(typed, known) or typed


def person(typed: str, sessions: Iterable[Session]) -> str:
    """Return a person's name as the sessions spell it; raise BadInput where none is theirs."""
    known = {name: name for name in people_of(sessions)}
    if not known:
        raise BadInput(
            f"{typed!r} has no session, and no session has a name on it yet: `wingrest session "
            f"SESSION --minutes N --who {typed}` says whose one is"
        )
    found = names.lookup(typed, known)
    if found is None:
        whose = wording.listed(f"{name}'s" for name in known)
        raise BadInput(f"{typed!r} has no session. Those with a name are {whose}")
    return found


def may_work_at(session: Session, who: str | None) -> bool:
    """Say whether `who` may work at a session, theirs or anybody's; None may work at all."""
    return who is None or session.who in (None, who)


def whose(session: Session) -> str:
    """Return ", Anke" to stand after a session's time, "" for a session that is anybody's."""
    return f", {session.who}" if session.who else ""
