"""The record and the kept plan as calendar bytes; what phones were told is kept in the ledger."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from scheduler.drying.bags import bags_of
from scheduler.drying.dates import body_on_board
from scheduler.drying.on_board import OnBoard
from scheduler.feed import ical as feed
from scheduler.feed import reminders
from scheduler.feed.bags import bag_reminders
from scheduler.feed.ical import Reminder
from scheduler.planner.problem import Planned
from scheduler.record import rows
from scheduler.record.kept import Kept, kept_plan
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words.problems import RecordBusy
from scheduler.words.records import Placement

NAME = "wingrest: boards and chamber"
SESSIONS_KEPT = timedelta(days=30)
LONGEST_ON_BOARD = timedelta(days=366)
PUBLISH_TRIES = 5


@dataclass(frozen=True, slots=True)
class Variant:
    """One calendar to subscribe to: a kind, or the releases of one room.

    `all` has releases, sessions and chamber times; `bench-days` is `all` with one release
    event per day, for a lab with many boards.
    """

    kind: str
    room: str | None = None

    @property
    def name(self) -> str:
        """Return the name under which it is kept."""
        return self.kind if self.room is None else f"{self.kind}/{self.room}"


ALL, BENCH_DAYS = Variant("all"), Variant("bench-days")
KINDS: Mapping[str, str] = {
    "all": NAME,
    "releases": "wingrest: boards",
    "chamber-and-sessions": "wingrest: chamber and sessions",
    "bench-days": "wingrest: bench days and chamber",
}
"""Every kind of calendar and what phones show as its name."""

Mark = tuple[int, int, str, int]


@dataclass(frozen=True, slots=True)
class Calendars:
    """What phones are told of the record at one moment, whichever variant they read."""

    releases: tuple[Reminder, ...]
    bench_days: tuple[Reminder, ...]
    work: tuple[Reminder, ...]
    ledger: Mapping[str, feed.LedgerRow]
    namespace: UUID
    rooms: tuple[str, ...]

    def reminders(self, variant: Variant) -> tuple[Reminder, ...]:
        """Return the events of a variant; those of a room are its boards' releases."""
        if variant.room is not None:
            room = feed.one_line(variant.room)
            return tuple(r for r in self.releases if r.location == room)
        parts = {
            "all": self.releases + self.work,
            "releases": self.releases,
            "chamber-and-sessions": self.work,
            "bench-days": self.bench_days + self.work,
        }
        return parts[variant.kind]

    def as_bytes(self, variant: Variant) -> bytes:
        """Return a variant as a calendar; the same record and plan give the same bytes."""
        name = KINDS[variant.kind] if variant.room is None else f"wingrest: {variant.room}"
        return feed.calendar_bytes(self.reminders(variant), self.ledger, self.namespace, name)

    @property
    def mark(self) -> Mark:
        """Return what `ledger_mark` gives while the ledger is as these calendars tell it."""
        told = self.ledger.values()
        stamps = (rows.moment_text(row.changed) for row in told)
        return (
            len(told),
            sum(row.sequence for row in told),
            max(stamps, default=""),
            sum(row.gone for row in told),
        )


def record_calendar(store: Store, rules: Rulebook, *, by_bench_day: bool = False) -> bytes:
    """Return the calendar of the record as it stands, and note in the ledger what it tells."""
    return calendars(store, rules).as_bytes(BENCH_DAYS if by_bench_day else ALL)


def calendars(store: Store, rules: Rulebook) -> Calendars:
    """Return every variant of the record as it stands; the ledger is told of all at once.

    Nothing is written where nothing changed. Raises RecordBusy when other programs keep
    publishing the same record in between.
    """
    for _ in range(PUBLISH_TRIES):
        snap, kept, ledger = _read(store)
        found = _calendars(snap, kept, ledger, rules)
        if _keep_ledger(store, ledger, found.ledger):
            return found
    raise RecordBusy(
        f"other programs keep publishing the record {store.path}. Stop all but one of them"
    )


def ledger_mark(db: sqlite3.Connection) -> Mark:
    """Return counts that differ whenever phones were told something else."""
    told: tuple[int, int, str, int] = tuple(
        db.execute(
            "SELECT count(*), coalesce(sum(sequence), 0), coalesce(max(changed), ''),"
            " coalesce(sum(gone), 0) FROM event"
        ).fetchone()
    )
    return told


def _read(store: Store) -> tuple[Snapshot, Kept | None, dict[str, feed.LedgerRow]]:
    facts = store.facts()
    source = facts if isinstance(facts, Recorded) else store
    return facts, kept_plan(source), _ledger(source)


def _calendars(
    snap: Snapshot, kept: Kept | None, ledger: Mapping[str, feed.LedgerRow], rules: Rulebook
) -> Calendars:
    latest = snap.latest or ALWAYS
    view = View(snap, rules, latest)
    releases = [release_of(view.of(p)) for p in _told_of(snap, latest)]
    by_board = reminders.release_reminders(releases, latest)
    by_day = reminders.bench_day_reminders(releases, latest)
    sessions = _sessions(snap, kept, latest, rules)
    work = (
        *reminders.session_reminders(sessions),
        *reminders.chamber_reminders(sessions),
        *bag_reminders(bags_of(snap.afterwards, rules, snap.zone), latest),
    )
    namespace = UUID(snap.namespace)
    changed = max(latest, kept.kept_at) if kept else latest
    return Calendars(
        releases=by_board,
        bench_days=by_day,
        work=work,
        ledger=feed.update_ledger([*by_board, *by_day, *work], ledger, namespace, changed),
        namespace=namespace,
        rooms=tuple(snap.rooms),
    )


def _told_of(snap: Snapshot, latest: datetime) -> tuple[Placement, ...]:
    """Return what events may be about: what stands or came off lately, and its companions.

    Who shares a due date with one of them was mounted at most the longest time on a board
    before it.
    """
    shown = snap.placements_from(latest - reminders.KEPT_AFTER_RELEASE)
    first = min((p.mounted_at for p in shown), default=latest)
    return snap.placements_from(first - LONGEST_ON_BOARD)


def release_of(one: OnBoard) -> reminders.Release:
    """Return a placement as the calendar needs it."""
    placement, dates, air = one.placement, one.dates, one.air
    return reminders.Release(
        placement=placement.id,
        specimen=placement.specimen,
        board=placement.board,
        room=air[-1].room.room if air else "",
        due=dates.due,
        clear=dates.clear,
        released_at=placement.released_at,
        taxon=one.specimen.taxon,
        body_mm=one.body_mm,
        estimated=one.size.estimated,
        basis=one.time.basis if one.time else "",
    )


def _sessions(
    snap: Snapshot, kept: Kept | None, latest: datetime, rules: Rulebook
) -> list[reminders.BenchSession]:
    # A load may have been taken back since the plan was kept.
    planned = [p for p in kept.placements if p.specimen in snap.specimens] if kept else []
    planned = [p for p in planned if p.board in snap.boards]
    return [
        reminders.BenchSession(
            session=s.session,
            start=snap.local(s.start),
            minutes=s.minutes,
            lines=tuple(_line(p, snap, rules) for p in planned if p.session == s.session),
            test_first=tuple(
                sorted({a for p in planned if p.session == s.session for a in p.after})
            ),
        )
        for s in snap.sessions.values()
        if s.start >= latest - SESSIONS_KEPT
    ]


def _line(planned: Planned, snap: Snapshot, rules: Rulebook) -> reminders.SessionLine:
    specimen = snap.specimens[planned.specimen]
    size = body_on_board(specimen, snap.boards[planned.board].groove_mm, rules)
    return reminders.SessionLine(
        specimen=planned.specimen,
        board=planned.board,
        from_mm=planned.from_mm,
        to_mm=planned.to_mm,
        minutes=planned.minutes,
        due=planned.due,
        clear=planned.clear,
        taxon=specimen.taxon,
        pin=rules.pin(size.body_mm).pin,
        basis=planned.basis or "",
        relax_from=planned.relax_from and snap.local(planned.relax_from),
        out_by=planned.out_by and snap.local(planned.out_by),
    )


def _ledger(store: Store | Recorded) -> dict[str, feed.LedgerRow]:
    return {
        r["uid"]: feed.LedgerRow(
            r["uid"], r["sequence"], rows.moment_of(r["changed"]), r["digest"], bool(r["gone"])
        )
        for r in store.db.execute("SELECT * FROM event")
    }


def _keep_ledger(
    store: Store, known: Mapping[str, feed.LedgerRow], told: Mapping[str, feed.LedgerRow]
) -> bool:
    """Keep what differs; False when another program published since `known` was read."""
    differing = [row for uid, row in told.items() if known.get(uid) != row]
    if not differing:
        return True
    with store.transaction():
        if _ledger(store) != known:
            return False
        store.db.executemany(
            "INSERT INTO event(uid, sequence, changed, digest, gone) VALUES (?, ?, ?, ?, ?)"
            " ON CONFLICT(uid) DO UPDATE SET sequence = excluded.sequence,"
            " changed = excluded.changed, digest = excluded.digest, gone = excluded.gone",
            [
                (t.uid, t.sequence, rows.moment_text(t.changed), t.digest, int(t.gone))
                for t in differing
            ],
        )
    return True
