"""What a plan asked for and a later plan knows nothing of: once its day is over it stays said."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from uuid import UUID, uuid5

from scheduler.feed.bench_days import TIMED_ALARMS
from scheduler.feed.ical import LedgerRow, Reminder
from scheduler.feed.variants import of_person


def still_said(
    parts: Mapping[str, tuple[Reminder, ...]],
    ledger: Iterable[LedgerRow],
    namespace: UUID,
    today: date,
) -> dict[str, tuple[Reminder, ...]]:
    """Return the parts with what phones were told of a day before today and no part says now.

    It goes where it stood: into the chamber's events, or into those of its person.
    """
    found = dict(parts)
    there = {str(uuid5(namespace, r.key)) for part in parts.values() for r in part}
    for row in ledger:
        if row.said is None or row.gone or row.uid in there or row.day is not None:
            continue
        reminder, on = _as_told(row.said)
        part = _part(reminder.key)
        if on < today and part in found:
            found[part] = (*found[part], reminder)
    return found


def _as_told(said: str) -> tuple[Reminder, date]:
    key, start, end, title, text = json.loads(said)
    moments = datetime.fromisoformat(start), datetime.fromisoformat(end)
    reminder = Reminder(key, *moments, title, text, alarms=TIMED_ALARMS, by_plan=True)
    return reminder, moments[0].date()


def _part(key: str) -> str:
    """Return in which part an event of the chamber stands: `chamber/DAY` or `chamber/DAY/NAME`."""
    _, _, rest = key.partition("/")
    _, _, who = rest.partition("/")
    return of_person("chamber", who) if who else "chamber"
