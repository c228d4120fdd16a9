"""The answers about each board, remembered from one page to the next.

The journal notes what each line changed: only those boards are worked out again at once. Where a
test may teach something about the other boards of its room, all boards are worked out again in the
background. A change that concerns more than boards (the air, the settings) forgets everything, and
so does time. Where finding the worries about all that stands takes long, the earlier ones are shown
with the day's work until new ones are found.
"""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from flask import current_app

from scheduler.drying.answer import BoardAnswer
from scheduler.looks.today import Today, today
from scheduler.looks.worry import Worry
from scheduler.page import web
from scheduler.page.shelf import PAGE_LOG, record_state
from scheduler.record.recorded import Recorded
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words.problems import WingrestError

STEP_MINUTES = 10
"""How long an answer stays as it is while nothing is recorded."""

STALE_MOST = timedelta(minutes=30)
"""How old an answer of the same day may be while newer ones are worked out."""

BREATH_SECONDS = 0.002
"""The pause between two boards in the background, so that people who tap are served first."""

QUIET_SECONDS, QUIET_WAIT_MOST = 1.0, 10.0
"""Background work waits until nobody has tapped for the first time, but at most the second."""

DEAR_SECONDS = 0.25
"""Where finding the worries about all that stands took longer, it is done in the background."""

_TEACHES = frozenset({"dryness_test", "droop", "placement"})
"""Tables whose changes may change the dates on other boards of the room."""

_OF_NO_BOARD = frozenset(
    {"session", "chamber_stay", "keeping", "photo", "away", "told", "afterwards", "droop"}
)
"""Tables that say nothing about what stands on a board."""


@dataclass(frozen=True, slots=True)
class _Moment:
    """What answers rest on besides the changes of their own boards."""

    record: str
    step: datetime
    horizon: object

    def still_does_for(self, later: _Moment) -> bool:
        """Say whether answers of this moment may be shown at a later one until newer are made."""
        return (
            self != later
            and (self.record, self.horizon) == (later.record, later.horizon)
            and self.step.date() == later.step.date()
            and timedelta() <= later.step - self.step <= STALE_MOST
        )


@dataclass
class _Kept:
    moment: _Moment
    change: int
    answers: dict[str, BoardAnswer] = field(default_factory=dict)
    days: dict[tuple[str | None, bool], tuple[object, Today]] = field(default_factory=dict)


class Remembered:
    """The answers of one record, for any number of threads."""

    def __init__(self, path: Path, rules: Rulebook, clock: Callable[[], datetime]) -> None:
        """Begin with no answers."""
        self._path, self._rules, self._clock = path, rules, clock
        self._lock = threading.Lock()
        self._kept: _Kept | None = None
        self._refreshing = self._again = False
        self._touched_at = -QUIET_WAIT_MOST
        self._worries: dict[str | None, tuple[date, tuple[Worry, ...]]] = {}
        self._dear = False
        self.refreshed = 0

    def lend(self, view: View) -> None:
        """Give a view the answers that still hold; the new ones that it makes are remembered."""
        kept = self._current(view)
        if kept is not None:
            view.answers = kept.answers

    def warm(self) -> None:
        """Work out the answers for every board before anybody asks."""
        with self._lock:
            self._refresh_soon()

    def today(self, view: View, who: str | None = None, worried: bool = True) -> Today:
        """Return what the day asks of everybody, or of one person.

        Without `worried`, the worries about all that stands may be missing: nobody waits for them.
        """
        kept = self._current(view)
        if kept is None or not isinstance(view.facts, Recorded):
            return today(view, who, worried)
        state = record_state(view.facts.db)
        for known in (kept.days.get((who, True)), kept.days.get((who, worried))):
            if known is not None and known[0] == state:
                return known[1]._replace(at=view.now)
        told = self._worries.get(who)
        if worried and self._dear and told is not None and told[0] == view.now.date():
            return self._with_worries_of_before(view, kept, who, told[1])
        begun = time.thread_time()
        day = today(view, who, worried)
        kept.days[who, worried] = (state, day)
        if worried:
            self._worries[who] = (view.now.date(), day.worries)
            self._dear = time.thread_time() - begun > DEAR_SECONDS
        return day

    def _with_worries_of_before(
        self, view: View, kept: _Kept, who: str | None, told: tuple[Worry, ...]
    ) -> Today:
        """Return the day with the earlier worries, and begin to find new ones in the background."""
        day = self.today(view, who, worried=False)
        with self._lock:
            if self._kept is kept:
                self._refresh_soon()
        return day._replace(worries=told)

    def _current(self, view: View) -> _Kept | None:
        facts = view.facts
        if not isinstance(facts, Recorded):
            return None
        moment, change = _moment_of(view, facts), _latest_change(facts.db)
        with self._lock:
            kept = self._kept
            if kept is not None and kept.moment.still_does_for(moment):
                self._refresh_soon()
                moment = kept.moment
            if kept is None or kept.moment != moment:
                kept = _Kept(moment, change)
            elif kept.change > change:
                return None  # this view shows an older state than what is remembered
            elif kept.change < change:
                touched = _touched_since(facts.db, kept.change)
                if touched.teaches:
                    self._refresh_soon()
                kept = _Kept(moment, change, touched.left_of(kept.answers))
                self._touched_at = time.monotonic()
            self._kept = kept
            return kept

    def _refresh_soon(self) -> None:
        """Begin to work out all answers again in the background."""
        self._again = True
        if not self._refreshing:
            self._refreshing = True
            threading.Thread(target=self._refresh, daemon=True).start()

    def _until_quiet(self) -> None:
        """Wait while people tap, since they are served first."""
        most = time.monotonic() + QUIET_WAIT_MOST
        while True:
            now = time.monotonic()
            left = min(self._touched_at + QUIET_SECONDS, most) - now
            if left <= 0:
                return
            time.sleep(left)

    def _refresh(self) -> None:
        while True:
            self._until_quiet()
            with self._lock:
                if not self._again:
                    self._refreshing = False
                    return
                self._again = False
            try:
                self._answer_all()
            except WingrestError as error:
                PAGE_LOG.warning("%s", " ".join(str(error).split()))

    def _answer_all(self) -> None:
        with Store(self._path) as store:
            view = view_of(store, self._rules, self._clock())
            facts = view.facts
            assert isinstance(facts, Recorded)
            fresh = _Kept(_moment_of(view, facts), _latest_change(facts.db), view.answers)
            state = record_state(facts.db)
            for board in view.boards:
                view.answer(board)
                time.sleep(BREATH_SECONDS)
            for who in tuple(self._worries) if self._dear else ():
                day = today(view, who)
                fresh.days[who, True] = (state, day)
                self._worries[who] = (view.now.date(), day.worries)
        with self._lock:
            if self._kept is None or self._kept.change <= fresh.change:
                self._kept = fresh
                self.refreshed += 1


def remembered() -> Remembered:
    """Return the answers that this app remembers."""
    here = web()
    made = Remembered(here.store_path, here.rules, here.clock)
    found: Remembered = current_app.extensions.setdefault("wingrest_remembered", made)
    return found


def _moment_of(view: View, facts: Recorded) -> _Moment:
    now = view.now.replace(minute=view.now.minute // STEP_MINUTES * STEP_MINUTES, second=0)
    return _Moment(facts.namespace, now, view.horizon)


def _latest_change(db: sqlite3.Connection) -> int:
    found: int | None = db.execute("SELECT max(id) FROM change").fetchone()[0]
    return found or 0


class _Touched(NamedTuple):
    """The boards to work out again, None for all; and whether others may have learned from them."""

    boards: frozenset[str] | None
    teaches: bool

    def left_of(self, answers: dict[str, BoardAnswer]) -> dict[str, BoardAnswer]:
        if self.boards is None:
            return {}
        return {board: answer for board, answer in answers.items() if board not in self.boards}


def _touched_since(db: sqlite3.Connection, since: int) -> _Touched:
    boards: set[str] = set()
    tables = set()
    changes = db.execute("SELECT of_table, key, before, after FROM change WHERE id > ?", (since,))
    for table, key, before, after in changes.fetchall():
        tables.add(table)
        if table in _OF_NO_BOARD:
            continue
        if table not in _CONCERNS:
            return _Touched(None, False)
        for image in (before, after):
            if image is not None:
                boards |= _CONCERNS[table](db, str(key), json.loads(image))
    return _Touched(frozenset(boards), not tables.isdisjoint(_TEACHES))


def _named(_: sqlite3.Connection, __: str, image: dict[str, object]) -> set[str]:
    return {str(image["board"])}


def _of_test(db: sqlite3.Connection, _: str, image: dict[str, object]) -> set[str]:
    sql = "SELECT board FROM placement WHERE id = ?"
    return {row[0] for row in db.execute(sql, (image["placement"],))}


def _of_specimen(db: sqlite3.Connection, key: str, _: dict[str, object]) -> set[str]:
    return {r[0] for r in db.execute("SELECT board FROM placement WHERE specimen = ?", (key,))}


_CONCERNS: dict[str, Callable[[sqlite3.Connection, str, dict[str, object]], set[str]]] = {
    "placement": _named,
    "board_stay": _named,
    "board": _named,
    "dryness_test": _of_test,
    "specimen": _of_specimen,
}
"""How to find the boards that a table's row concerns; a table that is not here concerns all."""
