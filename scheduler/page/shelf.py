"""Calendars kept ready between changes, so that a poll neither reads nor builds anything.

Whether the record changed is asked of one kept connection: SQLite counts what others commit
(`PRAGMA data_version`), which costs microseconds. Only then are the last journal line, the
kept plan and the ledger looked at, and only where those differ are calendars built again. One
thread builds; others meanwhile, and who has waited long enough, are given what phones were
last told. A record that changes all the time is built again at most a third of the time.
"""

from __future__ import annotations

import hashlib
import logging
import os
import sqlite3
import threading
import time
import weakref
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from scheduler.feed.calendars import Calendars, Mark, calendars, ledger_mark
from scheduler.feed.variants import Variant
from scheduler.page.links import Link, read_links
from scheduler.page.tokens import Tokens, ensure_tokens, read_tokens
from scheduler.record import faults, rows
from scheduler.record.asked import note_asked
from scheduler.record.rows import settings_from
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words.problems import RecordBusy

PAGE_LOG = logging.getLogger("wingrest.page")


def busy_said(error: RecordBusy) -> str:
    """Return what a page says of a record that is busy, and write down what it does not say.

    Its text names the file, which is nobody's business out there.
    """
    PAGE_LOG.warning("%s", " ".join(str(error).split()))
    return "The record is busy or cannot be read. Try again in a moment."


BURST_SECONDS = 1.0
"""The most calendars built at the same time, however fast the record changes."""
PAID_BACK = 0.5
"""Seconds of building that each second allows again."""

PATIENCE_SECONDS = 3.0
"""So long does a poll wait for calendars being built again."""

_FACTS = """
SELECT 'journal', max(line), '' FROM journal
UNION ALL SELECT 'change', max(id), '' FROM change
UNION ALL SELECT 'plan', digest, kept_at FROM kept_plan
UNION ALL SELECT 'record', value, '' FROM meta WHERE key = 'namespace'
UNION ALL SELECT 'zone', value, '' FROM setting WHERE key = 'timezone'
"""


def record_state(db: sqlite3.Connection) -> tuple[object, ...]:
    """Return what is the same as long as neither the record nor its kept plan has changed."""
    return tuple(tuple(row) for row in db.execute(_FACTS))


@dataclass(frozen=True, slots=True)
class Served:
    """One calendar as it goes out; `changed` is when its bytes last changed, and only grows."""

    body: bytes
    etag: str
    changed: datetime


@dataclass(frozen=True, slots=True)
class RecordState:
    """What the bytes depend on besides the rules, which stay as they were at the start."""

    facts: tuple[object, ...]
    mark: Mark
    tokens: Tokens
    links: tuple[Link, ...]
    zone: ZoneInfo


@dataclass
class _Kept:
    """Calendars built of `facts` on a local date, and those variants that were asked for."""

    facts: tuple[object, ...]
    day: date
    calendars: Calendars
    mark: Mark
    served: dict[Variant, Served] = field(default_factory=dict)

    def is_of(self, state: RecordState, day: date) -> bool:
        return self.facts == state.facts and self.mark == state.mark and self.day == day


class Shelf:
    """The calendars of one record, for any number of threads."""

    def __init__(self, path: Path, rules: Rulebook, clock: Callable[[], datetime]) -> None:
        """Make the record's tokens if it has none; raise RecordBusy where it cannot be used."""
        self._path, self._rules, self._clock = path, rules, clock
        self._watch = _Watch(path)
        self._building = threading.Lock()
        self._kept: _Kept | None = None
        self._noted: dict[Variant, date] = {}
        self._debt, self._paid_until = 0.0, time.monotonic()

    def tokens(self) -> Tokens:
        """Return the tokens as they are now, whoever changed them."""
        return self._watch.state().tokens

    def links(self) -> tuple[Link, ...]:
        """Return the links of persons and devices as they are now, also those that ended."""
        return self._watch.state().links

    def state(self) -> tuple[object, ...]:
        """Return what is the same as long as the record says the same on the same day."""
        state = self._watch.state()
        return (*state.facts, self._day(state))

    def served(self, variant: Variant) -> Served | None:
        """Return a calendar, None for a room or a person that the record does not have."""
        kept = self._current()
        known = kept.calendars.known(variant)
        if known is None:
            return None
        if known not in kept.served:
            with self._building:
                if known not in kept.served:
                    self._serve(kept, known)
        self._note(known, kept.day)
        return kept.served[known]

    def _note(self, variant: Variant, day: date) -> None:
        """Note once a day that a calendar is fetched: who is asked no more may be behind."""
        if self._noted.get(variant) != day and note_asked(self._path, variant.name, self._clock()):
            self._noted[variant] = day

    def rooms(self) -> tuple[str, ...]:
        """Return the rooms that have a calendar of their own."""
        return self._current().calendars.rooms

    def people(self) -> tuple[str, ...]:
        """Return the people who have a calendar of their own."""
        return self._current().calendars.people

    def _current(self) -> _Kept:
        state, kept = self._watch.state(), self._kept
        if kept is None:
            with self._building:
                return self._built(self._watch.state())
        if (
            kept.is_of(state, self._day(state))
            or self._owing()
            or not self._building.acquire(blocking=False)
        ):
            return kept
        failed: list[Exception] = []
        builder = threading.Thread(target=self._build_aside, args=(failed,), daemon=True)
        builder.start()
        builder.join(PATIENCE_SECONDS)
        if failed:
            raise failed[0]
        return self._kept or kept

    def _build_aside(self, failed: list[Exception]) -> None:
        try:
            self._built(self._watch.state())
        except RecordBusy:
            PAGE_LOG.warning("the record is busy: phones are told what they were told before")
        except Exception as error:
            failed.append(error)
        finally:
            self._building.release()

    def _built(self, state: RecordState) -> _Kept:
        # Under the lock, for which another thread may have built while this one waited.
        before = self._kept
        now = self._clock()
        day = now.astimezone(state.zone).date()
        if before is not None and before.is_of(state, day):
            return before
        begun = time.monotonic()
        with Store(self._path) as store:
            found = calendars(store, self._rules, now)
        kept = _Kept(state.facts, day, found, found.mark)
        for variant in before.served if before else ():
            if kept.calendars.known(variant) == variant:
                self._serve(kept, variant)
        self._debt += time.monotonic() - begun
        self._kept = kept
        return kept

    def _day(self, state: RecordState) -> date:
        return self._clock().astimezone(state.zone).date()

    def _owing(self) -> bool:
        now = time.monotonic()
        self._debt = max(0.0, self._debt - PAID_BACK * (now - self._paid_until))
        self._paid_until = now
        return self._debt > BURST_SECONDS

    def _serve(self, kept: _Kept, variant: Variant) -> None:
        body = kept.calendars.as_bytes(variant)
        etag = hashlib.sha256(body).hexdigest()[:32]
        with Store(self._path) as store:
            changed = _stamp(store, variant.name, etag, self._clock())
        kept.served[variant] = Served(body, etag, changed)


class _Watch:
    """One kept connection that notices every change, and the file being put in place anew."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._lock = threading.Lock()
        self._db: sqlite3.Connection | None = None
        self._end: Callable[[], object] | None = None
        self._seen: tuple[int, int, int] = (0, 0, 0)
        self._state: RecordState | None = None
        with Store(path) as store:
            store.settle()
            ensure_tokens(store)

    def state(self) -> RecordState:
        """Return what the record is now; raise RecordBusy where that cannot be read."""
        with self._lock:
            try:
                return self._looked()
            except (sqlite3.Error, OSError) as error:
                self._close()
                raise faults.named(self._path, error) from error

    def _looked(self) -> RecordState:
        if self._db is None or self._file() != self._seen[:2]:
            self._open()
        assert self._db is not None
        version: int = self._db.execute("PRAGMA data_version").fetchone()[0]
        if self._state is None or version != self._seen[2]:
            self._state = self._read(self._db)
            self._seen = (*self._seen[:2], version)
        return self._state

    def _file(self) -> tuple[int, int]:
        status = os.stat(self._path)
        return status.st_dev, status.st_ino

    def _open(self) -> None:
        self._close()
        self._seen = (*self._file(), 0)  # never makes a record in place of one that is gone
        with Store(self._path) as store:
            store.settle()
            ensure_tokens(store)
        uri = f"{self._path.resolve().as_uri()}?mode=rw"
        db = sqlite3.connect(uri, uri=True, check_same_thread=False, isolation_level=None)
        self._db, self._state = db, None
        self._end = weakref.finalize(self, db.close)  # at the latest with the app that asks

    def _close(self) -> None:
        if self._end is not None:
            self._end()
        self._db = None

    def _read(self, db: sqlite3.Connection) -> RecordState:
        db.execute("BEGIN")
        try:
            facts = record_state(db)
            tokens, links = read_tokens(db), read_links(db)
            mark = ledger_mark(db)
            zone = settings_from(dict(db.execute("SELECT key, value FROM setting"))).timezone
        finally:
            db.execute("COMMIT")
        if tokens is None:
            raise RecordBusy(f"the record {self._path} lost its addresses. Start serving anew")
        return RecordState(facts, mark, tokens, links, ZoneInfo(zone))


def _stamp(store: Store, name: str, etag: str, now: datetime) -> datetime:
    # Readers that look at the date alone stay on an old copy for ever if it goes back.
    with store.transaction():
        row = store.db.execute(
            "SELECT etag, changed FROM served WHERE variant = ?", (name,)
        ).fetchone()
        if row is not None and row["etag"] == etag:
            return rows.moment_of(row["changed"])
        changed = now.replace(microsecond=0)
        if row is not None:
            changed = max(changed, rows.moment_of(row["changed"]) + timedelta(seconds=1))
        store.db.execute(
            "INSERT INTO served(variant, etag, changed) VALUES (?, ?, ?)"
            " ON CONFLICT(variant) DO UPDATE SET etag = excluded.etag, changed = excluded.changed",
            (name, etag, rows.moment_text(changed)),
        )
    return changed
