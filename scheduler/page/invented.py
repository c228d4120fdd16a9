"""An invented weekend to try: a record beside the person's own, with a clock of its own.

It never touches the record that is served: it has its own file, addresses and journal, and every
page of it says that it is invented.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

from scheduler.deeds.load import Wish, load
from scheduler.deeds.plan import PlanWish, plan
from scheduler.intake.batch.settings import demo_now
from scheduler.page.tokens import Tokens, ensure_tokens, read_tokens
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment
    from flask import Flask

SAMPLE = "first_weekend"
MORNING = (8, 40)
"""The hour and minute of "the next morning"."""


def sample_folder() -> Path:
    """Return the folder of the invented weekend: the shipped one, else the checkout's."""
    here = Path(__file__).resolve().parents[1]
    for folder in (here / "samples" / SAMPLE, here.parent / "sample_batches" / SAMPLE):
        if (folder / "settings.toml").is_file():
            return folder
    raise BadInput("the invented weekend is missing. Install the package again")


class InventedRecord:
    """The invented record beside another, made when somebody first asks for it."""

    def __init__(
        self, beside: Path, rules: Rulebook, make: Callable[[InventedRecord], Flask]
    ) -> None:
        """Look whether there is one already; `make` makes the app that serves it."""
        self.path = beside.with_name(f"{beside.stem}-invented.sqlite")
        self.home = ""
        self._rules, self._make = rules, make
        self._lock = threading.Lock()
        self._app: Flask | None = None
        self._began, self._ahead = monotonic(), timedelta(0)
        self._since: datetime | None = None
        self._tokens = self._known_tokens()

    def now(self) -> datetime:
        """Return the time in the invented record; it goes on by itself and never back."""
        if self._since is None:
            first = demo_now(sample_folder())
            assert first is not None, "the invented weekend says when it begins"
            with Store(self.path) as store:
                latest = store.facts().latest
                zone = store.zone if latest else first.tzinfo
            self._since = max(first, latest or first).astimezone(zone)
        passed = timedelta(seconds=int(monotonic() - self._began))
        return self._since + passed + self._ahead

    def next_morning(self) -> None:
        """Move the time there on to the next morning at the bench."""
        now = self.now()
        then = now.replace(hour=MORNING[0], minute=MORNING[1], second=0)
        self._ahead += (then if then > now else then + timedelta(days=1)) - now

    def begin(self, home: str) -> str:
        """Make the invented record if there is none; return the address of its bench page.

        `home` is the address of the bench page to go back to.
        """
        self.home = home
        with self._lock:
            with Store(self.path) as store:
                if not store.latest_line():
                    self._fill(store)
                self._tokens = ensure_tokens(store)
            if self._app is None:
                self._app = self._make(self)
        return f"/bench/{self._tokens.bench}/"

    def serves(self, path: str) -> bool:
        """Say whether an address belongs to the invented record."""
        known = self._tokens
        if known is None:
            return False
        return path.startswith((f"/bench/{known.bench}/", f"/calendar/{known.calendar}/"))

    def app(self) -> Flask:
        """Return the app that serves it."""
        with self._lock:
            if self._app is None:
                self._app = self._make(self)
            return self._app

    def _fill(self, store: Store) -> None:
        folder = sample_folder()
        now = demo_now(folder)
        assert now is not None
        load(store, self._rules, folder, When(now, now), Wish(sure=True))
        plan(store, self._rules, now, PlanWish(effort="quick"))

    def _known_tokens(self) -> Tokens | None:
        if not self.path.is_file():
            return None
        with Store(self.path) as store:
            return read_tokens(store.db)


class Beside:
    """Serves two records: addresses of the invented one go to its app, all others to the own."""

    def __init__(self, own: WSGIApplication, invented: InventedRecord) -> None:
        self._own, self._invented = own, invented

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer with the app of the record to which the address belongs."""
        if self._invented.serves(environ.get("PATH_INFO", "")):
            return self._invented.app().wsgi_app(environ, start_response)
        return self._own(environ, start_response)
