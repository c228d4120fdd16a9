"""Whose a session is: names as they were first written, blind to case."""

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
    """Return a person's name as sessions spell it, as it was typed where they do not know it."""
    known = {name: name for name in people_of(sessions)}
    return names.lookup(typed, known) or typed


def person(typed: str, sessions: Iterable[Session]) -> str:
    """Return the name of one who has sessions; raise BadInput for anybody else."""
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
    """Say whether a session is one of a person's, or anybody's; all are where `who` is None."""
    return who is None or session.who in (None, who)


def whose(session: Session) -> str:
    """Return ", Anke" for what follows a session's time, nothing where it is anybody's."""
    return f", {session.who}" if session.who else ""
