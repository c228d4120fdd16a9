"""The record and the kept plan as calendar bytes; the ledger keeps what phones were told.

The bytes depend on the record and the local date: the same record gives the same all day.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from scheduler.drying.bags import bags_of
from scheduler.feed import ical as feed
from scheduler.feed.away_days import away_warnings
from scheduler.feed.bags import bag_reminders
from scheduler.feed.bench_days import bench_days
from scheduler.feed.first_days import first_days, lab_days, still_due
from scheduler.feed.gathered import (
    NEXT_DAYS,
    PAST_DAYS,
    bench_sessions,
    days_of,
    going_in,
    inside,
    midnight,
    put_away,
    releases,
)
from scheduler.feed.ical import Reminder
from scheduler.feed.in_chamber import chamber_events
from scheduler.feed.late import late_besides_boards
from scheduler.feed.passed import still_said
from scheduler.feed.releases import every_asked
from scheduler.feed.told_days import ToldDay, as_told, told_days
from scheduler.feed.variants import ALL, Variant, of_person, of_room
from scheduler.record import rows
from scheduler.record.kept import Kept, kept_plan
from scheduler.record.recorded import Recorded
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View
from scheduler.words.people import may_work_at, people_of
from scheduler.words.problems import RecordBusy
from scheduler.words.tuples import NamedTuple
from scheduler.words.wording import counted, moment, weekday

PUBLISH_TRIES = 5

TOUCH_THE_PLAN = (
    "load", "add", "session", "away", "board", "room", "move", "lost", "amend", "undo",
)  # fmt: skip
"""Commands after which a new plan may differ from the kept one."""


Mark = tuple[int, int, str, int]


@dataclass(frozen=True, slots=True)
class Calendars:
    """What phones are told of the record on one day, in all variants."""

    parts: Mapping[str, tuple[Reminder, ...]]
    ledger: Mapping[str, feed.LedgerRow]
    namespace: UUID
    rooms: tuple[str, ...]
    people: tuple[str, ...]
    today: date
    zone: ZoneInfo

    def known(self, variant: Variant) -> Variant | None:
        """Return a variant with room and person spelt as in the record, None if one is unknown."""
        room = _spelt(variant.room, self.rooms)
        who = _spelt(variant.who, self.people)
        if (room is None) != (variant.room is None) or (who is None) != (variant.who is None):
            return None
        return replace(variant, room=room, who=who)

    def reminders(self, variant: Variant) -> tuple[Reminder, ...]:
        """Return the events of a variant; where there are too many, those nearest to today."""
        found = tuple(r for part in variant.parts for r in self.parts[part])
        if len(found) <= variant.most:
            return found
        return tuple(sorted(found, key=self._how_far)[: variant.most])

    def _how_far(self, reminder: Reminder) -> tuple[bool, int, str]:
        away = (_day(reminder) - self.today).days
        return away < 0, abs(away), reminder.key

    def as_bytes(self, variant: Variant) -> bytes:
        """Return a variant as a calendar; the same record on the same day gives the same bytes."""
        told, as_of = self.reminders(variant), self._as_of(variant)
        return feed.calendar_bytes(told, self.ledger, self.namespace, variant.title, as_of)

    def _as_of(self, variant: Variant) -> str:
        """Return the day of a calendar, when it changed last, and how many events are left out."""
        told = self.reminders(variant)
        left = sum(len(self.parts[part]) for part in variant.parts) - len(told)
        cut = f" {counted(left, 'event')} further off left out." if left else ""
        changed = [self.ledger[str(uuid5(self.namespace, r.key))].changed for r in told]
        last = (
            f"; last change {moment(max(changed).astimezone(self.zone), self.today)}"
            if changed
            else ""
        )
        return f"As of {weekday(self.today, self.today)} {self.today.year}{last}.{cut}"

    @property
    def mark(self) -> Mark:
        """Return what `ledger_mark` gives while the ledger tells what these calendars tell."""
        told = self.ledger.values()
        stamps = (rows.moment_text(row.changed) for row in told)
        return (
            len(told),
            sum(row.sequence for row in told),
            max(stamps, default=""),
            sum(row.gone for row in told),
        )


def _spelt(name: str | None, known: Sequence[str]) -> str | None:
    folded = None if name is None else name.casefold()
    return next((k for k in known if k.casefold() == folded), None)


def record_calendar(store: Store, rules: Rulebook, now: datetime) -> bytes:
    """Return the calendar of the record on the day of `now`, and note in the ledger what it tells.

    Only the date of `now` counts, not its time of day.
    """
    return calendars(store, rules, now).as_bytes(ALL)


def calendars(store: Store, rules: Rulebook, now: datetime) -> Calendars:
    """Return every variant on the day of `now`; the ledger is updated with all of them at once.

    Nothing is written where nothing changed. Raises RecordBusy when other programs keep publishing
    the same record in between.
    """
    for _ in range(PUBLISH_TRIES):
        read = _read(store)
        found = _calendars(read, rules, now)
        if _keep_ledger(store, read.ledger, found.ledger):
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


class _Read(NamedTuple):
    snap: Snapshot
    kept: Kept | None
    ledger: Mapping[str, feed.LedgerRow]
    touched: datetime | None


def _read(store: Store) -> _Read:
    facts = store.facts()
    # Plan and ledger must be of the same moment as the facts.
    source = facts if isinstance(facts, Recorded) else store
    return _Read(facts, kept_plan(source), _ledger(source), _touched(source))


def _touched(store: Store | Recorded) -> datetime | None:
    """Return when the last line that may change the plan was recorded; clocks may be set back."""
    marks = ", ".join("?" * len(TOUCH_THE_PLAN))
    sql = f"SELECT recorded_at FROM journal WHERE command IN ({marks}) ORDER BY line DESC LIMIT 1"
    found = store.db.execute(sql, TOUCH_THE_PLAN).fetchone()
    return None if found is None else rows.moment_of(found[0])


def _calendars(read: _Read, rules: Rulebook, now: datetime) -> Calendars:
    snap, kept = read.snap, read.kept
    latest = snap.latest or ALWAYS
    # Not the moment of asking counts, but midnight or the last line: same record, same calendar.
    day = View(snap, rules, now).now.date()
    view = View(snap, rules, max(latest, midnight(day, View(snap, rules, now))), lambda: kept)
    days = days_of(view)
    namespace = UUID(snap.namespace)
    people = people_of(view.sessions.values())
    told = told_days(read.ledger.values(), days.today)
    found = _parts(view, _older(read, view), told) | _of_people(view, people)
    found = still_said(found, read.ledger.values(), namespace, days.today)
    for room in view.rooms:
        here = feed.one_line(room)
        boards = tuple(r for r in found["boards"] if r.location == here)
        found[of_room("boards", room)] = boards
    mine = {f"session/{s.session}": s for s in view.sessions.values()}
    for who in people:
        found[of_person("sessions", who)] = tuple(
            r for r in found["sessions"] if r.key not in mine or may_work_at(mine[r.key], who)
        )
    parts = {name: tuple(r for r in part if _shown(r, days.today)) for name, part in found.items()}
    every = {r.key: r for part in parts.values() for r in part}
    changed = max(latest, kept.kept_at) if kept else latest
    return Calendars(
        parts=parts,
        ledger=feed.update_ledger(every.values(), read.ledger, namespace, changed),
        namespace=namespace,
        rooms=tuple(snap.rooms),
        people=tuple(people),
        today=days.today,
        zone=view.zone,
    )


def _parts(view: View, older: str, told: Sequence[ToldDay]) -> dict[str, tuple[Reminder, ...]]:
    days = days_of(view)
    every = releases(view, {p for t in told for p, _, _ in t.who})
    asked = every_asked(every, days)
    as_said = as_told(asked, told, every, days.today)
    late = late_besides_boards(view, days.today)
    rooms = {}
    for room in view.rooms:
        here = [r for r in every if r.room == room]
        rooms[of_room("due", room)] = still_due(here, days, f"still-due/{room}")
        rooms[of_room("lab", room)] = lab_days(
            [a for a in as_said if a.one.room == room], days, room
        )
    return rooms | {
        "boards": first_days(as_said, days),
        "due": still_due(every, days, "still-due", late),
        "lab": lab_days(as_said, days),
        "sessions": bench_days(bench_sessions(view, asked, days, older)) + away_warnings(view),
        "chamber": (
            *chamber_events(going_in(view), inside(view), put_away(view)),
            *bag_reminders(bags_of(view.facts.afterwards, view.rules, view.zone)),
        ),
    }


def _of_people(view: View, people: Sequence[str]) -> dict[str, tuple[Reminder, ...]]:
    """Return the chamber of each person: for their sessions, for anybody's, and for none yet."""
    if not people:
        return {}
    going, there, cold = going_in(view), inside(view), put_away(view)
    bags = tuple(bag_reminders(bags_of(view.facts.afterwards, view.rules, view.zone)))
    return {
        of_person("chamber", who): chamber_events(
            [g for g in going if g.who in (None, who)],
            [s for s in there if s.who in (None, who)],
            cold,
            f"/{who}",
        )
        + bags
        for who in people
    }


def _shown(reminder: Reminder, today: date) -> bool:
    return -PAST_DAYS <= (_day(reminder) - today).days <= NEXT_DAYS


def _day(reminder: Reminder) -> date:
    start = reminder.start
    return start.date() if isinstance(start, datetime) else start


def _older(read: _Read, view: View) -> str:
    """Return when something was recorded that the kept plan does not know; "" if nothing was."""
    if read.kept is None or read.touched is None or read.kept.asked_at >= read.touched:
        return ""
    return moment(view.local(read.touched), view.now)


def _ledger(store: Store | Recorded) -> dict[str, feed.LedgerRow]:
    return {
        r["uid"]: feed.LedgerRow(
            r["uid"],
            r["sequence"],
            rows.moment_of(r["changed"]),
            r["digest"],
            bool(r["gone"]),
            None if r["day"] is None else date.fromisoformat(r["day"]),
            r["said"],
        )
        for r in store.db.execute("SELECT * FROM event")
    }


def _keep_ledger(
    store: Store, known: Mapping[str, feed.LedgerRow], told: Mapping[str, feed.LedgerRow]
) -> bool:
    """Keep what differs; return False when another program published since `known` was read."""
    differing = [row for uid, row in told.items() if known.get(uid) != row]
    if not differing:
        return True
    with store.transaction():
        if _ledger(store) != known:
            return False
        store.db.executemany(
            "INSERT INTO event(uid, sequence, changed, digest, gone, day, said)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)"
            " ON CONFLICT(uid) DO UPDATE SET sequence = excluded.sequence,"
            " changed = excluded.changed, digest = excluded.digest, gone = excluded.gone,"
            " day = excluded.day, said = excluded.said",
            [_ledger_row(t) for t in differing],
        )
    return True


def _ledger_row(told: feed.LedgerRow) -> tuple[str | int | None, ...]:
    day = None if told.day is None else told.day.isoformat()
    changed = rows.moment_text(told.changed)
    return told.uid, told.sequence, changed, told.digest, int(told.gone), day, told.said
