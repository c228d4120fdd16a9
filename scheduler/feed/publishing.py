"""What a calendar server has to be told: our events compared with those that it holds.

Pure: no network and no clock. What was told to which calendar is not remembered here. Instead each
event carries two marks of ours (RFC 4791 5.3.3: servers keep such properties): the key that its UID
is made from, and the digest of what it was told. So the calendar itself says which events are this
record's, and whether the record has anything new to say of them.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

if TYPE_CHECKING:
    from icalendar import Calendar, Event

from scheduler.feed.ical import PRODID, Reminder

KEY, DIGEST = "X-WINGREST-KEY", "X-WINGREST-DIGEST"

_FOLD = re.compile(r"\r?\n[ \t]")
_UID = re.compile(r"UID(?:;[^:]*)?:(.*)", re.IGNORECASE)
_SAID = ("DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "LOCATION")
"""What a reminder says; this is compared where a server dropped the marks."""
_KEPT = frozenset(
    "ATTACH ATTENDEE CATEGORIES CLASS COLOR COMMENT CONTACT ORGANIZER PRIORITY URL".split()
)
"""What a person may add to an event of ours; it is kept in a change, as are X- properties."""


@dataclass(frozen=True, slots=True)
class FoundEvent:
    """One event as a server holds it; `etag` is None when the server names no version."""

    href: str
    etag: str | None
    data: str


@dataclass(frozen=True, slots=True)
class Wanted:
    """One event as the record tells it, ready to be sent."""

    uid: str
    key: str
    digest: str
    event: Event


@dataclass(frozen=True, slots=True)
class EventChange:
    """One request that changes something; `found` None creates, `data` None removes."""

    uid: str
    title: str
    start: date | None
    found: FoundEvent | None
    data: bytes | None


@dataclass(frozen=True, slots=True)
class Owner:
    """Which events are ours: their UID was told before, or follows from a key of the record.

    The key helps a record that was restored from an older copy and forgot what it told.
    """

    namespace: UUID
    told: Collection[str]

    def has(self, uid: str, data: str) -> bool:
        """Say whether this record made an event that stands on a server."""
        if uid in self.told:
            return True
        event = _event_of(data) if KEY in data else None
        return event is not None and uid == str(uuid5(self.namespace, str(event.get(KEY, ""))))


def wanted_events(reminders: Iterable[Reminder], feed: bytes, namespace: UUID) -> list[Wanted]:
    """Return the feed's events one by one, marked; `feed` is the calendar of these reminders."""
    from icalendar import Calendar

    by_uid = {str(uuid5(namespace, r.key)): r for r in reminders}
    wanted = []
    for event in Calendar.from_ical(feed).events:
        uid = str(event["UID"])
        reminder = by_uid[uid]
        event.add(KEY, reminder.key)
        event.add(DIGEST, reminder.digest())
        wanted.append(Wanted(uid, reminder.key, reminder.digest(), event))
    return wanted


def event_changes(
    wanted: Iterable[Wanted], found: Iterable[FoundEvent], owner: Owner
) -> list[EventChange]:
    """Return what to send so that the calendar tells the record's events and no others of ours.

    Foreign events are passed over. An event that a person changed stays as it is until the record
    has something else to say of it.
    """
    ours = _ours(found, owner)
    todo = []
    for one in wanted:
        there = ours.pop(one.uid, None)
        if there is None:
            todo.append(_change(one.uid, one.event, None, _as_bytes(one.event)))
            continue
        event = _event_of(there.data)
        if event is None or not _told_already(event, one):
            data = _as_bytes(one.event if event is None else _over(event, one))
            todo.append(_change(one.uid, one.event, there, data))
    todo += [_change(uid, _event_of(there.data), there, None) for uid, there in ours.items()]
    return todo


def _change(
    uid: str, event: Event | None, found: FoundEvent | None, data: bytes | None
) -> EventChange:
    title = str(event.get("SUMMARY", "")) if event is not None else ""
    start = _value(event, "DTSTART") if event is not None else None
    return EventChange(uid, title or uid, start if isinstance(start, date) else None, found, data)


def _ours(found: Iterable[FoundEvent], owner: Owner) -> dict[str, FoundEvent]:
    ours: dict[str, FoundEvent] = {}
    for one in found:
        uid = _uid_of(one.data)
        if uid is not None and owner.has(uid, one.data):
            ours.setdefault(uid, one)
    return ours


def _uid_of(data: str) -> str | None:
    """Return the UID of the first event, not that of an alarm in it (RFC 9074 4)."""
    inside: list[str] = []
    for line in _FOLD.sub("", data).splitlines():
        word = line.strip().upper()
        if word.startswith("BEGIN:"):
            inside.append(word[6:])
        elif word.startswith("END:") and inside:
            inside.pop()
        elif inside and inside[-1] == "VEVENT" and (read := _UID.fullmatch(line)):
            return read[1].strip()
    return None


def _event_of(data: str) -> Event | None:
    """Return the event itself, not an exception to its repetition; None if it is unreadable."""
    from icalendar import Calendar

    try:
        events = [e for e in Calendar.from_ical(data).events if "RECURRENCE-ID" not in e]
    except (ValueError, KeyError, IndexError):
        return None
    return events[0] if events else None


def _told_already(event: Event, wanted: Wanted) -> bool:
    mark = event.get(DIGEST)
    if mark is not None:
        return str(mark) == wanted.digest
    return all(_value(event, name) == _value(wanted.event, name) for name in _SAID)


def _value(event: Event, name: str) -> object:
    value = event.get(name)
    if value is None:
        return ""
    return value.dt if hasattr(value, "dt") else str(value).strip()


def _over(event: Event, wanted: Wanted) -> Event:
    """Return what the record says, with what the person added: colour, guests, own alarms."""
    new: Event = wanted.event.copy()
    ours = list(wanted.event.subcomponents)
    alarms = [a for a in event.subcomponents if a.name == "VALARM"]
    theirs = sorted(_trigger(a) for a in alarms) != sorted(_trigger(a) for a in ours)
    for alarm in alarms if theirs else ours:
        new.add_component(alarm)
    for name, value in event.items():
        if name in _KEPT or (name.startswith("X-") and name not in (KEY, DIGEST)):
            new[name] = value
    # Calendars may refuse a sequence number that goes backwards (RFC 5545 3.8.7.4).
    new.sequence = max(wanted.event.sequence, _sequence(event) + 1)
    return new


def _trigger(alarm: Mapping[str, object]) -> str:
    trigger = alarm.get("TRIGGER")
    return str(getattr(trigger, "dt", trigger))


def _sequence(event: Event) -> int:
    try:
        return int(event.get("SEQUENCE", 0))
    except (TypeError, ValueError):
        return 0


def _as_bytes(event: Event) -> bytes:
    # RFC 4791 4.1: one resource holds one UID and no METHOD.
    from icalendar import Calendar

    frame: Calendar = Calendar()
    frame.add("PRODID", PRODID)
    frame.add("VERSION", "2.0")
    frame.add_component(event)
    data: bytes = frame.to_ical()
    return data
