"""What phones were told of a day and is asked for no more: once the day is over, it stays said."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from uuid import UUID, uuid5

from scheduler.feed.bench_days import TIMED_ALARMS
from scheduler.feed.first_days import ALL_DAY_ALARMS
from scheduler.feed.ical import LedgerRow, Reminder
from scheduler.feed.variants import of_person


def still_said(
    parts: Mapping[str, tuple[Reminder, ...]],
    ledger: Iterable[LedgerRow],
    namespace: UUID,
    today: date,
) -> dict[str, tuple[Reminder, ...]]:
    """Return the parts, with what phones were told of days before today and no part says now.

    Each event goes back to its part: the bench days, the chamber, or the chamber of its person.
    """
    found = dict(parts)
    there = {str(uuid5(namespace, r.key)) for part in parts.values() for r in part}
    for row in ledger:
        said = None if row.said is None or row.gone else json.loads(row.said)
        if not isinstance(said, list) or row.uid in there:
            continue
        reminder = _as_told(*said)
        part = _part(reminder.key)
        day = reminder.start
        on = day.date() if isinstance(day, datetime) else day
        if on < today and part in found:
            found[part] = (*found[part], reminder)
    return found


def _as_told(key: str, start: str, end: str, title: str, text: str) -> Reminder:
    if "T" in start:
        moments = datetime.fromisoformat(start), datetime.fromisoformat(end)
        return Reminder(key, *moments, title, text, alarms=TIMED_ALARMS, stays=True)
    days = date.fromisoformat(start), date.fromisoformat(end)
    return Reminder(key, *days, title, text, alarms=ALL_DAY_ALARMS, stays=True)


def _part(key: str) -> str:
    """Return the part of an event: `away/...`, or KIND/DAY or KIND/DAY/NAME of the chamber."""
    kind, _, rest = key.partition("/")
    _, _, who = rest.partition("/")
    if kind == "away":
        return "sessions"
    return of_person("chamber", who) if who else "chamber"
