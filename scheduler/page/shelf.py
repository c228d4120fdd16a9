"""Calendars kept ready between changes, so that a poll neither reads nor builds anything.

One open connection tells whether the record changed: SQLite counts what others commit (`PRAGMA
data_version`), which takes microseconds to ask. Only then are the last journal line, the kept plan
and the ledger read, and only where these differ are calendars built again. One thread builds. Other
requests meanwhile, and one that has waited long enough, get the calendars as they were before. For
a record that changes all the time, building takes at most a third of the time.
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
    """Return what a page says about a busy record, and log the error itself.

    The error's text names the file, which visitors of the page need not know.
    """
    PAGE_LOG.warning("%s", " ".join(str(error).split()))
    return "The record is busy or cannot be read. Try again in a moment."


BURST_SECONDS = 1.0
"""How many seconds of building may be owed before building pauses."""
PAID_BACK = 0.5
"""How many seconds of building each passing second pays back."""

PATIENCE_SECONDS = 3.0
"""How long a poll waits for calendars that are being built again."""

_FACTS = """
SELECT 'journal', max(line), '' FROM journal
UNION ALL SELECT 'change', max(id), '' FROM change
UNION ALL SELECT 'plan', digest, kept_at FROM kept_plan
UNION ALL SELECT 'record', value, '' FROM meta WHERE key = 'namespace'
UNION ALL SELECT 'zone', value, '' FROM setting WHERE key = 'timezone'
"""


def record_state(db: sqlite3.Connection) -> tuple[object, ...]:
    """Return values that stay the same as long as neither the record nor its plan changes."""
    return tuple(tuple(row) for row in db.execute(_FACTS))


@dataclass(frozen=True, slots=True)
class Served:
    """One calendar as it is sent; `changed` is when its bytes last changed, and never goes back."""

    body: bytes
    etag: str
    changed: datetime


@dataclass(frozen=True, slots=True)
class RecordState:
    """What calendars depend on besides the day and the rules, which are read once at the start."""

    facts: tuple[object, ...]
    mark: Mark
    tokens: Tokens
    links: tuple[Link, ...]
    zone: ZoneInfo


@dataclass
class _Kept:
    """Calendars built from `facts` on a local date, with the variants asked for so far."""

    facts: tuple[object, ...]
    day: date
    calendars: Calendars
    mark: Mark
    served: dict[Variant, Served] = field(default_factory=dict)

    def is_of(self, state: RecordState, day: date) -> bool:
        return self.facts == state.facts and self.mark == state.mark and self.day == day


class Shelf:
    """The calendars of one record; any number of threads may use it."""

    def __init__(self, path: Path, rules: Rulebook, clock: Callable[[], datetime]) -> None:
        """Make the record's tokens if it has none; raise RecordBusy where it cannot be used."""
        self._path, self._rules, self._clock = path, rules, clock
        self._watch = _Watch(path)
        self._building = threading.Lock()
        self._kept: _Kept | None = None
        self._noted: dict[Variant, date] = {}
        self._debt, self._paid_until = 0.0, time.monotonic()

    def tokens(self) -> Tokens:
        """Return the tokens as they are now, even where another process changed them."""
        return self._watch.state().tokens

    def links(self) -> tuple[Link, ...]:
        """Return the links of people and devices as they are now, ended ones too."""
        return self._watch.state().links

    def state(self) -> tuple[object, ...]:
        """Return values that stay the same as long as the record and the day do."""
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
        """Note once a day that a calendar is fetched, so that `today` sees when that stops."""
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
        # The caller holds the lock; another thread may have built while this one waited for it.
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
    """An open connection that notices every change, and when the file itself is replaced."""

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
        """Return the record's state now; raise RecordBusy where it cannot be read."""
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
        self._seen = (*self._file(), 0)  # it raises for a missing file, so none is made here
        with Store(self._path) as store:
            store.settle()
            ensure_tokens(store)
        uri = f"{self._path.resolve().as_uri()}?mode=rw"
        db = sqlite3.connect(uri, uri=True, check_same_thread=False, isolation_level=None)
        self._db, self._state = db, None
        self._end = weakref.finalize(self, db.close)  # it is closed with this object at the latest

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
    # A reader that compares only dates would keep its old copy for ever if the date went back.
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
