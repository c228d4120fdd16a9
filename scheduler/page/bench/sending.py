"""Send a calendar to a server while the page goes on answering: how far it is, how it ended.

The password is held in memory while it is needed and written nowhere; only the computer's keyring
gets it, where the person asks for that.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from scheduler.deeds.publish import (
    Progress,
    broken_off_said,
    calendars_at,
    done_said,
    owner,
    pending,
    pending_said,
    publish,
    refused_said,
    wanted,
)
from scheduler.feed.address import CalendarPlace
from scheduler.feed.calendars import calendars
from scheduler.feed.chosen import variant_of
from scheduler.feed.passwords import keep_password
from scheduler.feed.publishing import EventChange
from scheduler.feed.server import CalendarServer, Unreachable
from scheduler.page.shelf import PAGE_LOG, busy_said
from scheduler.record.asked import note_asked
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words.problems import RecordBusy, Refused, WingrestError

HELD_SECONDS = 600.0
"""How long what was typed is held in memory for the second step, the sending."""


@dataclass(frozen=True, slots=True)
class Errand:
    """What is sent where, and for whom.

    `remove` takes it out of the calendar again; `keep` puts the password into the keyring;
    `every_min` sends it again every so many minutes.
    """

    at: str
    user: str
    password: str = field(repr=False)
    which: Mapping[str, Any]
    remove: bool = False
    keep: bool = False
    every_min: int | None = None
    timeout_s: int = 30
    ca_file: str | None = None


@dataclass(frozen=True, slots=True)
class RecordServed:
    """The record whose calendar is sent, its rules and the clock."""

    path: Path
    rules: Rulebook
    clock: Callable[[], datetime]


class _Ended(Exception):  # noqa: N818 - a wish, no error
    """Somebody asked to stop sending."""


class _Watched(Progress):
    """Counts what was done so far, and breaks off after the change at which that was asked."""

    ends: threading.Event

    def count(self, change: EventChange) -> None:
        super().count(change)
        if self.ends.is_set():
            raise _Ended


class Sending:
    """One errand at a time; `told` says how the last went, `found` are calendars to choose from."""

    def __init__(self) -> None:
        """Begin with nothing to do."""
        self.running = self.looks = False
        self.told: Sequence[str] = ()
        self.failed = ""
        self.todo: Sequence[str] | None = None
        self.found: Sequence[CalendarPlace] = ()
        self.progress: Progress | None = None
        self.last: Errand | None = None
        """The last errand, without its password."""
        self._errand: Errand | None = None
        self._until = 0.0
        self._lock = threading.Lock()
        self._ends = threading.Event()

    def begin(self, record: RecordServed, errand: Errand, *, looks: bool) -> bool:
        """Begin to look what would change, or to send it; return False when one is running."""
        with self._lock:
            if self.running:
                return False
            self.running, self.looks = True, looks
            self.told, self.failed, self.todo, self.found = (), "", None, ()
            self.progress, self._errand = None, errand
            self.last = replace(errand, password="")
            self._ends.clear()
        threading.Thread(target=self._work, args=(record, errand), daemon=True).start()
        return True

    def stop(self) -> None:
        """Ask to send no more than what is on its way."""
        self._ends.set()

    def held(self) -> Errand | None:
        """Return the errand that was looked at, None once it is too long ago."""
        if self._errand is not None and not self.running and time.monotonic() > self._until:
            self._errand = None
        return self._errand

    def _work(self, record: RecordServed, errand: Errand) -> None:
        try:
            with CalendarServer(
                errand.at, errand.user, errand.password,
                timeout_s=errand.timeout_s, ca_file=errand.ca_file,
            ) as server:  # fmt: skip
                found = calendars_at(server)
                self._kept(errand)
                if found[0].url == server.url:
                    self._go(record, errand, server, found[0])
                else:
                    self.found = found
        except RecordBusy as error:
            self.failed = busy_said(error)
        except WingrestError as error:
            self.failed = str(error)
        except Exception as error:
            # Only the kind of error is told: a library's message may quote what was sent.
            self.failed = f"the calendar was not sent because of a fault ({type(error).__name__})"
        finally:
            if not (self.found or self.todo):
                self._errand = None
            self._until = time.monotonic() + HELD_SECONDS
            self.running = False

    def _kept(self, errand: Errand) -> None:
        if errand.keep:
            try:
                keep_password(errand.at, errand.user, errand.password)
            except Refused as error:
                self.told = (str(error),)

    def _go(
        self, record: RecordServed, errand: Errand, server: CalendarServer, place: CalendarPlace
    ) -> None:
        self._round(record, errand, server, place)
        while errand.every_min and not self.looks and not self._ends.wait(60 * errand.every_min):
            try:
                self._round(record, errand, server, place)
            except (Unreachable, RecordBusy) as error:  # both pass by themselves
                PAGE_LOG.warning("the calendar was not sent: %s", type(error).__name__)
                self.told = (f"Not reached at {record.clock():%H:%M}; it will be tried again.",)

    def _round(
        self, record: RecordServed, errand: Errand, server: CalendarServer, place: CalendarPlace
    ) -> None:
        with Store(record.path) as store:
            now = record.clock().astimezone(store.zone)
            told = calendars(store, record.rules, now)
        events = [] if errand.remove else wanted(told, variant_of(told, **errand.which))
        if self.looks:
            self.todo = pending_said(pending(server, place, events, owner(told)), now)
            return
        self.progress = progress = _Watched()
        progress.ends = self._ends
        try:
            publish(server, place, events, owner(told), progress)
        except _Ended:
            self.told = (*self.told, broken_off_said(progress))
            return
        except WingrestError as error:
            raise type(error)(f"{broken_off_said(progress)}\n{error}") from None
        if not errand.remove:
            note_asked(record.path, "publish", now)
        name = place.name or place.url
        refused = refused_said(progress, now)
        self.told = (*self.told, f"{name}, {now:%H:%M}: {done_said(progress)}", *refused)
