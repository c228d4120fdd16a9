"""What a page says after a tap: what was recorded, with its undo.

The journal says what a line did. What the deed said besides (warnings, new dates) is kept in memory
for a while, since nothing about a reader is kept anywhere else.
"""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from secrets import token_urlsafe
from typing import NamedTuple

from scheduler.deeds.outcome import Outcome
from scheduler.page.spoken import spoken
from scheduler.record.journal import JournalLine, journal_from
from scheduler.record.store import Store

KEPT_MOST = 256
PAPERS_MOST = 8
_TO_TYPE = re.compile(r"take off with: |next: ").match
"""Lines that begin so only name commands, for which the page has buttons."""
_BROKEN = " " * 4
"""The indent of a line that continues one broken to the width of a terminal."""


@dataclass(frozen=True, slots=True)
class Notice:
    """What is shown above a page; `entry` is the journal line, None when none was written."""

    entry: JournalLine | None
    again: bool = False
    said: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    others: tuple[JournalLine, ...] = ()
    paper: str | None = None


class PaperFile(NamedTuple):
    """A file that a deed made, to be downloaded."""

    name: str
    kind: str
    data: bytes


@dataclass
class Said:
    """The latest outcomes and files, by the key under which the next page asks for them."""

    _kept: OrderedDict[str, Notice] = field(default_factory=OrderedDict)
    _papers: OrderedDict[str, PaperFile] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def keep(
        self,
        entry: JournalLine | None,
        outcome: Outcome,
        store: Store,
        since: int,
        paper: PaperFile | None = None,
    ) -> str:
        """Keep what a tap said and the file it made, and return the key of both."""
        others = () if entry else lines_since(store, since)
        key = token_urlsafe(9)
        name = paper and paper.name
        warnings = tuple(map(spoken, outcome.warnings))
        notice = Notice(entry, False, _beside(outcome, entry), warnings, others, name)
        with self._lock:
            self._kept[key] = notice
            if paper is not None:
                self._papers[key] = paper
            while len(self._kept) > KEPT_MOST:
                self._kept.popitem(last=False)
            while len(self._papers) > PAPERS_MOST:
                self._papers.popitem(last=False)
        return key

    def paper(self, key: str) -> PaperFile | None:
        """Return the file that a tap made, None when it is forgotten."""
        with self._lock:
            return self._papers.get(key)

    def get(self, key: str) -> Notice | None:
        """Return what was said under a key, None when it is forgotten."""
        with self._lock:
            return self._kept.get(key)


def notice_for(store: Store, said: Said, asked: Mapping[str, str]) -> Notice | None:
    """Return the notice that a page is asked to show (`line`, `again`, `said`), None for none.

    The line is read again, since it may have been taken back meanwhile.
    """
    kept = said.get(asked.get("said", ""))
    text = asked.get("line", "")
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 19 else 0
    entry = line_of(store, number)
    again = asked.get("again") == "1"
    if kept is not None:
        return replace(kept, entry=entry, again=again)
    return Notice(entry, again) if entry or again else None


def _beside(outcome: Outcome, entry: JournalLine | None) -> tuple[str, ...]:
    """Return what a deed said that its line does not say, without commands to type."""
    text = entry.text if entry else ""
    lines: list[str] = []
    for line in outcome.done:
        if lines and line.startswith(_BROKEN):
            lines[-1] += f" {line.strip()}"
        else:
            lines.append(line.strip())
    return tuple(spoken(line) for line in lines if line not in text and not _TO_TYPE(line))


def line_of(store: Store, number: int | None) -> JournalLine | None:
    """Return the journal line of a number, None for None and where there is no such line."""
    if number is None:
        return None
    return next((e for e in journal_from(store, number) if e.line == number), None)


def lines_since(store: Store, line: int) -> tuple[JournalLine, ...]:
    """Return the journal lines after one, the latest first."""
    return tuple(reversed(journal_from(store, line + 1)))
