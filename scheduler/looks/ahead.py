"""The kept plan held against the record: who still waits, what is still to be done."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import NamedTuple

from scheduler.drying import fit
from scheduler.drying.softening import Softening, softening
from scheduler.planner.problem import Planned
from scheduler.record.kept import Kept
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import Rulebook
from scheduler.words.records import Session, Specimen


class Ahead(NamedTuple):
    """What of the kept plan is still to be done; `now` is local."""

    snap: Snapshot
    rules: Rulebook
    now: datetime
    kept: Kept | None
    planned: tuple[Planned, ...]

    def of(self, specimen: str) -> Planned | None:
        """Return where a specimen is planned."""
        return next((p for p in self.planned if p.specimen == specimen), None)

    def at(self, session: str) -> tuple[Planned, ...]:
        """Return what is planned for a session."""
        return tuple(p for p in self.planned if p.session == session)

    def sessions(self) -> tuple[Session, ...]:
        """Return the sessions that are not over, the earliest first."""
        found = [s for s in self.snap.sessions.values() if s.minutes and ends_at(s) > self.now]
        return tuple(sorted(found, key=lambda s: (s.start, s.session)))

    def softening(self, specimen: Specimen) -> Softening:
        """Return how a specimen that waits becomes soft; of unknown size it counts as stout."""
        size = fit.size_of(specimen, self.rules)
        body = self.rules.limit("body_very_stout_mm") if size is None else size.body_mm
        return softening(specimen, body, self.snap, self.rules, self.now)


def waiting(snap: Snapshot) -> tuple[Specimen, ...]:
    """Return what was never mounted and is not gone, by id."""
    known = {p.specimen for p in snap.placements} | set(snap.gone)
    return tuple(s for name, s in sorted(snap.specimens.items()) if name not in known)


def ends_at(session: Session) -> datetime:
    """Return when a session is over; a cancelled one is over at its start."""
    return session.start + timedelta(minutes=session.minutes)


def look_ahead(snap: Snapshot, rules: Rulebook, kept: Kept | None, now: datetime) -> Ahead:
    """Hold the kept plan against the record: what still waits, in sessions that are not over."""
    bare = Ahead(snap, rules, snap.local(now), kept, ())
    waits = {s.specimen for s in waiting(snap)}
    open_sessions = {s.session for s in bare.sessions()}
    placements = kept.placements if kept else ()
    return bare._replace(
        planned=tuple(p for p in placements if p.specimen in waits and p.session in open_sessions)
    )
