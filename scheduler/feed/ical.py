"""The calendar feed: from reminders and the ledger of what phones were told to iCalendar bytes.

Pure: no files and no clock. Sections cited are those of RFC 5545 unless another is named. icalendar
is imported where it is used, so that the record can keep a `LedgerRow` at little cost.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

if TYPE_CHECKING:
    from icalendar import Calendar, Event, Timezone

PRODID = "-//wingrest//bench calendar//EN"
REFRESH = timedelta(hours=1)
TITLE_MOST, TEXT_MOST = 200, 6000
CUT = "… (cut here; `wingrest today` has the whole list)"

# CONTROL of 3.1 except tab and newline. U+0085, U+2028 and U+2029 split lines in some readers; a
# lone surrogate has no UTF-8 form.
_UNWRITABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f\x85\u2028\u2029\ud800-\udfff]")
# A backslash before an n. icalendar writes a backslash before N as a line end, and some readers
# take the two backslashes that 3.3.11 puts before an n for one.
_FALSE_LINE_END = re.compile(r"\\(?=[nN])")


@dataclass(frozen=True, slots=True)
class Reminder:
    """One event. Making it cleans it: texts lose control characters, moments become UTC.

    It is all-day when `start` is a date: `end` is then the day after the last (3.6.1). `stays`:
    once its day is over it is still said, whatever the record says of that day by then. `said` is
    what the ledger keeps of an event that does not stay. Raises ValueError for a blank title, a
    date with a moment, a moment without a zone, or an end that is not after the start.
    """

    key: str
    start: date
    end: date
    title: str
    text: str = ""
    location: str = ""
    alarms: tuple[timedelta, ...] = ()
    stays: bool = False
    said: str | None = None

    def __post_init__(self) -> None:
        make = object.__setattr__
        make(self, "title", one_line(self.title))
        make(self, "text", _bounded(clean_text(self.text).strip(), TEXT_MOST, CUT))
        make(self, "location", one_line(self.location))
        make(self, "start", _as_utc(self.start))
        make(self, "end", _as_utc(self.end))
        if not self.title:
            raise ValueError(f"{self.key}: an event needs a title")
        if isinstance(self.start, datetime) != isinstance(self.end, datetime):
            raise ValueError(f"{self.key}: start and end must both be dates or both moments")
        if self.start >= self.end:
            raise ValueError(f"{self.key}: the end must be later than the start")

    @property
    def all_day(self) -> bool:
        """Say whether the event lies on dates, not at moments."""
        return not isinstance(self.start, datetime)

    def digest(self) -> str:
        """Return a hash over all that a reader sees, except the sequence and the stamps."""
        shown = [self.start.isoformat(), self.end.isoformat(), self.title, self.text]
        alarms = [alarm.total_seconds() for alarm in self.alarms]
        return hashlib.sha256(json.dumps([*shown, self.location, alarms]).encode()).hexdigest()

    def kept(self) -> str | None:
        """Return what the ledger keeps: as JSON all that is said if it `stays`, else `said`."""
        if not self.stays:
            return self.said
        moments = [self.start.isoformat(), self.end.isoformat()]
        return json.dumps([self.key, *moments, self.title, self.text], ensure_ascii=False)


@dataclass(frozen=True, slots=True)
class LedgerRow:
    """What the phones were last told of one event; `day` is None for an event at moments.

    `said` is what `Reminder.kept` gave.
    """

    uid: str
    sequence: int
    changed: datetime
    digest: str
    gone: bool = False
    day: date | None = None
    said: str | None = None


def clean_text(text: str) -> str:
    """Return the text without what a calendar cannot carry.

    Every line end becomes a newline, a backslash before an n becomes a slash, and any other sign
    that cannot be carried becomes a space.
    """
    writable = _UNWRITABLE.sub(" ", text.replace("\r\n", "\n").replace("\r", "\n"))
    return _FALSE_LINE_END.sub("/", writable)


def one_line(text: str) -> str:
    """Return the text clean, in one line of single spaces and at most `TITLE_MOST` signs."""
    return _bounded(" ".join(clean_text(text).split()), TITLE_MOST, "…")


def update_ledger(
    reminders: Iterable[Reminder],
    ledger: Mapping[str, LedgerRow],
    namespace: UUID,
    changed: datetime,
) -> dict[str, LedgerRow]:
    """Return the ledger (by UID) after the phones were told these reminders and no others.

    `changed` is the moment of the latest journal line. An event that is new or says something else
    gets it, but at least a second more than what it had: some readers take an update only if
    LAST-MODIFIED grew. Give the reminders of all variants at once: an event that is not among them
    is marked as gone. Raises ValueError for two reminders with one key.
    """
    moment = changed.astimezone(UTC).replace(microsecond=0)
    told = {
        uid: row if row.gone else replace(row, gone=True) for uid, row in sorted(ledger.items())
    }
    for uid, reminder in _by_uid(reminders, namespace).items():
        old, digest = ledger.get(uid), reminder.digest()
        day, said = reminder.start if reminder.all_day else None, reminder.kept()
        if old is None:
            told[uid] = LedgerRow(uid, 0, moment, digest, day=day, said=said)
        elif old.gone or old.digest != digest:
            grown = max(moment, old.changed.astimezone(UTC) + timedelta(seconds=1))
            told[uid] = LedgerRow(uid, old.sequence + 1, grown, digest, day=day, said=said)
        else:
            told[uid] = replace(old, said=said)
    return told


def calendar_bytes(
    reminders: Iterable[Reminder],
    ledger: Mapping[str, LedgerRow],
    namespace: UUID,
    name: str,
    as_of: str = "",
) -> bytes:
    """Return the whole calendar; the same arguments give the same bytes.

    Raises ValueError where the ledger differs from a reminder: update it first.
    """
    calendar = _frame(name, as_of)
    events = _by_uid(reminders, namespace)
    for uid, reminder in sorted(events.items(), key=lambda e: (e[1].start.isoformat(), e[0])):
        row = ledger.get(uid)
        if row is None or row.gone or row.digest != reminder.digest():
            raise ValueError(f"{reminder.key}: the ledger is older than the reminder")
        calendar.add_component(_event(reminder, row))
    if not events:
        calendar.add_component(_utc_timezone())  # 3.6: a calendar has at least one component
    data: bytes = calendar.to_ical()
    return data


def _by_uid(reminders: Iterable[Reminder], namespace: UUID) -> dict[str, Reminder]:
    found: dict[str, Reminder] = {}
    for reminder in reminders:
        uid = str(uuid5(namespace, reminder.key))
        if uid in found:
            raise ValueError(f"{reminder.key}: two reminders with one key")
        found[uid] = reminder
    return found


def _frame(name: str, as_of: str) -> Calendar:
    # No METHOD and no UID: both are legal, and either makes some readers lose events.
    from icalendar import Calendar, vDuration, vText

    calendar = Calendar()
    calendar.add("PRODID", PRODID)
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    for key in ("NAME", "X-WR-CALNAME"):  # RFC 7986 5.1; what most readers look at
        calendar.add(key, vText(one_line(name)))
    for key in ("DESCRIPTION", "X-WR-CALDESC") if as_of else ():  # RFC 7986 5.2; older readers
        calendar.add(key, vText(one_line(as_of)))
    calendar.add("REFRESH-INTERVAL", vDuration(REFRESH), parameters={"VALUE": "DURATION"})
    calendar.add("X-PUBLISHED-TTL", vDuration(REFRESH))
    return calendar


def _event(reminder: Reminder, row: LedgerRow) -> Event:
    from icalendar import Alarm, Event

    event = Event.new(
        uid=row.uid,
        stamp=row.changed.astimezone(UTC),
        last_modified=row.changed.astimezone(UTC),
        sequence=row.sequence,
        start=reminder.start,
        end=reminder.end,
        summary=reminder.title,
        description=reminder.text or None,
        location=reminder.location or None,
    )
    event.add("TRANSP", "TRANSPARENT" if reminder.all_day else "OPAQUE")
    for before in reminder.alarms:
        event.add_component(Alarm.new_display(description=reminder.title, trigger=before))
    return event


def _utc_timezone() -> Timezone:
    from icalendar import Timezone, TimezoneStandard

    standard = TimezoneStandard()
    standard.add("DTSTART", datetime(1970, 1, 1))  # noqa: DTZ001 - 3.6.5: local time, no zone
    standard.add("TZOFFSETFROM", timedelta(0))
    standard.add("TZOFFSETTO", timedelta(0))
    standard.add("TZNAME", "UTC")
    zone = Timezone()
    zone.add("TZID", "Etc/UTC")
    zone.add_component(standard)
    return zone


def _bounded(text: str, most: int, mark: str) -> str:
    return text if len(text) <= most else text[: most - len(mark)].rstrip() + mark


def _as_utc(when: date) -> date:
    if not isinstance(when, datetime):
        return when
    if when.utcoffset() is None:
        raise ValueError(f"{when.isoformat()}: a moment needs its time zone")
    return when.astimezone(UTC).replace(microsecond=0)
