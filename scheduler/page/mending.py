"""Mend the kept plan in a process of its own, while people go on tapping and reading."""

from __future__ import annotations

import logging
import multiprocessing
import os
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from scheduler.page.shelf import PAGE_LOG
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words.problems import WingrestError


class Mender:
    """Mends the plan of one record; requests that come meanwhile are served by one more mending."""

    def __init__(self, path: Path, rules: Rulebook, clock: Callable[[], datetime]) -> None:
        """Begin with nothing to mend."""
        self._path, self._rules, self._clock = path, rules, clock
        self._lock = threading.Lock()
        self._wanted = self._running = False

    def ask(self) -> None:
        """Ask that the plan be mended soon."""
        with self._lock:
            self._wanted = True
            if self._running:
                return
            self._running = True
        threading.Thread(target=self._work, daemon=True).start()

    @property
    def busy(self) -> bool:
        """Return whether the plan is being mended."""
        return self._running

    def _work(self) -> None:
        aside = multiprocessing.get_context("spawn")
        while True:
            with self._lock:
                if not self._wanted:
                    self._running = False
                    return
                self._wanted = False
            one = aside.Process(target=_mend, args=(self._path, self._rules, self._clock()))
            one.start()
            one.join()
            if one.exitcode:
                PAGE_LOG.error("the plan could not be mended (left with %d)", one.exitcode)


def _mend(path: Path, rules: Rulebook, now: datetime) -> None:
    from scheduler.deeds.replan import replan

    with suppress(AttributeError, OSError):
        os.nice(5)  # people who tap are served first; Windows has no nice
    try:
        with Store(path) as store:
            replan(store, rules, now)
    except WingrestError as error:
        logging.getLogger("wingrest.page").warning("the plan was not mended: %s", error)
