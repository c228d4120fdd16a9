"""What a page says after a tap: what was recorded, with its undo.

The journal says what a line did; what the command said beside it (warnings, new dates) is kept
in memory for a while, because nothing about a reader is kept anywhere else.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from secrets import token_urlsafe

from scheduler.deeds.outcome import Outcome
from scheduler.record.journal import JournalLine, read_journal
from scheduler.record.store import Store

KEPT_MOST = 256
_BROKEN = " " * 4
"""Commands hang a line by so much that was broken to a terminal's width."""


@dataclass(frozen=True, slots=True)
class Notice:
    """What is shown above a page; `entry` is the journal line, None when none was written."""

    entry: JournalLine | None
    again: bool = False
    said: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    others: tuple[JournalLine, ...] = ()


@dataclass
class Said:
    """The latest outcomes, by the key under which the next page asks for them."""

    _kept: OrderedDict[str, Notice] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def keep(self, entry: JournalLine | None, outcome: Outcome, store: Store, since: int) -> str:
        """Keep what a tap said, and return its key."""
        others = () if entry else lines_since(store, since)
        key = token_urlsafe(9)
        notice = Notice(entry, False, _beside(outcome, entry), outcome.warnings, others)
        with self._lock:
            self._kept[key] = notice
            while len(self._kept) > KEPT_MOST:
                self._kept.popitem(last=False)
        return key

    def get(self, key: str) -> Notice | None:
        """Return what was said under a key, None when it is forgotten."""
        with self._lock:
            return self._kept.get(key)


def notice_for(store: Store, said: Said, asked: Mapping[str, str]) -> Notice | None:
    """Return the notice a page was asked to show (`line`, `again`, `said`), None for none.

    The line is read anew: it may have been taken back meanwhile.
    """
    kept = said.get(asked.get("said", ""))
    text = asked.get("line", "")
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 19 else 0
    entry = line_of(store, number)
    again = asked.get("again") == "1"
    if kept is not None:
        return Notice(entry, again, kept.said, kept.warnings, kept.others)
    return Notice(entry, again) if entry or again else None


def _beside(outcome: Outcome, entry: JournalLine | None) -> tuple[str, ...]:
    """Return what a command said that its line does not, without what is to be typed."""
    text = entry.text if entry else ""
    lines: list[str] = []
    for line in outcome.done:
        if lines and line.startswith(_BROKEN):
            lines[-1] += f" {line.strip()}"
        else:
            lines.append(line.strip())
    return tuple(line for line in lines if line not in text and "wingrest " not in line)


def line_of(store: Store, number: int | None) -> JournalLine | None:
    """Return a journal line by its number, None when nothing was recorded."""
    return next((e for e in read_journal(store) if e.line == number), None)


def lines_since(store: Store, line: int) -> tuple[JournalLine, ...]:
    """Return the journal lines after one, the latest first."""
    return tuple(reversed([e for e in read_journal(store) if e.line > line]))
