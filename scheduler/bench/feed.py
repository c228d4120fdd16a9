"""The record and the kept plan as calendar bytes; what phones were told is kept in the ledger."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from uuid import UUID

from scheduler import drying, feed, reminders, rows
from scheduler.bench.kept import Kept, kept_plan
from scheduler.planner.problem import Planned
from scheduler.records import Placement
from scheduler.rulebook import Rulebook
from scheduler.snapshot import ALWAYS, Snapshot
from scheduler.store import Store

NAME = "wingrest: boards and chamber"
SESSIONS_KEPT = timedelta(days=30)


def publish(store: Store, rules: Rulebook, *, by_bench_day: bool = False) -> bytes:
    """Return the calendar of the record as it stands, and note in the ledger what it tells.

    The same record and plan give the same bytes. `by_bench_day` gives one release event per
    day instead of one per board and day.
    """
    snap = store.snapshot()
    kept = kept_plan(store)
    latest = snap.latest or ALWAYS
    changed = max(latest, kept.kept_at) if kept else latest
    releases = [release_of(p, snap, rules) for p in snap.placements]
    by_board = reminders.release_reminders(releases, latest)
    by_day = reminders.bench_day_reminders(releases, latest)
    sessions = _sessions(snap, kept, latest, rules)
    rest = [*reminders.session_reminders(sessions), *reminders.chamber_reminders(sessions)]
    namespace = UUID(snap.namespace)
    with store.transaction():
        told = feed.update_ledger([*by_board, *by_day, *rest], _ledger(store), namespace, changed)
        _keep_ledger(store, told.values())
    shown = [*(by_day if by_bench_day else by_board), *rest]
    return feed.calendar_bytes(shown, told, namespace, NAME)


def release_of(placement: Placement, snap: Snapshot, rules: Rulebook) -> reminders.Release:
    """Return a placement as the calendar needs it."""
    specimen = snap.specimens[placement.specimen]
    dates = drying.standing_dates(placement, snap, rules)
    size = drying.body_on_board(specimen, snap.boards[placement.board].groove_mm, rules)
    air = drying.stretches(placement, snap, rules)
    return reminders.Release(
        placement=placement.id,
        specimen=placement.specimen,
        board=placement.board,
        room=air[-1].room.room if air else "",
        due=dates.due,
        clear=dates.clear,
        released_at=placement.released_at,
        taxon=specimen.taxon,
        body_mm=size.body_mm,
        estimated=size.estimated,
        basis=air[-1].time.basis if air else "",
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
    size = drying.body_on_board(specimen, snap.boards[planned.board].groove_mm, rules)
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


def _ledger(store: Store) -> dict[str, feed.LedgerRow]:
    return {
        r["uid"]: feed.LedgerRow(
            r["uid"], r["sequence"], rows.moment_of(r["changed"]), r["digest"], bool(r["gone"])
        )
        for r in store.db.execute("SELECT * FROM event")
    }


def _keep_ledger(store: Store, told: Iterable[feed.LedgerRow]) -> None:
    store.db.executemany(
        "INSERT INTO event(uid, sequence, changed, digest, gone) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT(uid) DO UPDATE SET sequence = excluded.sequence,"
        " changed = excluded.changed, digest = excluded.digest, gone = excluded.gone",
        [
            (t.uid, t.sequence, rows.moment_text(t.changed.astimezone(UTC)), t.digest, int(t.gone))
            for t in told
        ],
    )
