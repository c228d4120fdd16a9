"""The record's events into a person's own calendar, in as many rounds as that takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from scheduler.feed import publishing
from scheduler.feed.address import CalendarPlace
from scheduler.feed.calendars import Calendars
from scheduler.feed.publishing import EventChange, Owner, Wanted
from scheduler.feed.server import CalendarServer
from scheduler.feed.variants import Variant
from scheduler.words.problems import BadInput, Refused
from scheduler.words.wording import counted, moment, weekday

_ROUNDS = 3
OVERTAKEN = "it changes on the server at the same time. Publish again"
ELSEWHERE = (
    "the server holds it already, perhaps in another calendar of yours. Take it out there first,"
    " with --remove"
)


@dataclass(slots=True)
class Progress:
    """What was done to a calendar so far; `refused` has each change and its reason, by UID."""

    created: int = 0
    changed: int = 0
    removed: int = 0
    wanted: int = 0
    refused: dict[str, tuple[EventChange, str]] = field(default_factory=dict)

    @property
    def made(self) -> int:
        """Return how many changes were made."""
        return self.created + self.changed + self.removed

    def count(self, change: EventChange) -> None:
        """Count a change that was made."""
        if change.data is None:
            self.removed += 1
        elif change.found is None:
            self.created += 1
        else:
            self.changed += 1


def wanted(calendars: Calendars, variant: Variant) -> list[Wanted]:
    """Return the events of a variant in the form in which a calendar server is told them."""
    reminders = calendars.reminders(variant)
    return publishing.wanted_events(reminders, calendars.as_bytes(variant), calendars.namespace)


def owner(calendars: Calendars) -> Owner:
    """Return what tells this record's events from others in a calendar."""
    return Owner(calendars.namespace, frozenset(calendars.ledger))


def calendars_at(server: CalendarServer) -> list[CalendarPlace]:
    """Return the one calendar at the server's address, or those to which it leads.

    Raises BadInput where there is none that takes events.
    """
    place = server.look(server.url)
    if place.is_calendar and place.takes_events:
        return [place]
    found = server.calendars(place)
    if place.is_calendar:
        raise BadInput(f"{place.url} is a list of tasks and takes no events. Name a calendar")
    if not found:
        raise BadInput(f"{place.url} is no calendar, nor leads to any. Make one in your app first")
    return found


def pending(
    server: CalendarServer, place: CalendarPlace, wanted: list[Wanted], owner: Owner
) -> list[EventChange]:
    """Return what a calendar must still be told; nothing is changed."""
    return publishing.event_changes(wanted, server.events(place.url), owner)


def publish(
    server: CalendarServer,
    place: CalendarPlace,
    wanted: list[Wanted],
    owner: Owner,
    progress: Progress,
) -> None:
    """Make a calendar tell the wanted events of its owner, and no others of that owner.

    The calendar is read again after a round in which another program was faster. `progress` is kept
    up to date, so that whoever stops this midway can say how far it came. Raises Refused, before
    anything is sent, when the calendar cannot be written.
    """
    progress.wanted = len(wanted)
    overtaken: list[EventChange] = []
    for _ in range(_ROUNDS):
        todo = [c for c in pending(server, place, wanted, owner) if c.uid not in progress.refused]
        if todo and place.writable is False:
            raise Refused(
                f"The calendar {place.name or place.url} can be read but not written, and was left"
                " as it is. Name another, or ask its owner for the right to write"
            )
        overtaken = [change for change in todo if not _made(server, place, change, progress)]
        if not overtaken:
            return
    for change in overtaken:
        progress.refused[change.uid] = (change, OVERTAKEN if change.found else ELSEWHERE)


def _made(
    server: CalendarServer, place: CalendarPlace, change: EventChange, progress: Progress
) -> bool:
    why = server.apply(place.url, change)
    if why is None:
        progress.count(change)
    elif why:
        progress.refused[change.uid] = (change, why)
    return why != ""


def done_said(progress: Progress) -> str:
    """Return in one line what was done to a calendar."""
    if not progress.made:
        nothing = "nothing done" if progress.refused else "nothing to change"
        return f"{nothing}, {counted(progress.wanted, 'event')} of this record"
    parts = {
        "created": progress.created,
        "changed": progress.changed,
        "removed": progress.removed,
    }
    return ", ".join(f"{counted(n, 'event')} {what}" for what, n in parts.items() if n)


def broken_off_said(progress: Progress) -> str:
    """Return how far it came when it was broken off."""
    done = done_said(progress) if progress.made else "Nothing was changed"
    return f"{done}. Publish again to go on where this ended; nothing is doubled"


def refused_said(progress: Progress, now: datetime) -> Sequence[str]:
    """Return what the server did not take, a line each, between a first and a last line.

    There are no lines when it took everything.
    """
    if not progress.refused:
        return ()
    told = progress.refused.values()
    return (
        f"The server did not take {counted(len(told), 'event')}:",
        *(f"{_named(change, now)}: {why}" for change, why in told),
        "All other events were taken",
    )


def pending_said(todo: Sequence[EventChange], now: datetime) -> Sequence[str]:
    """Return what would change, a line each, and how much it is."""
    lines = []
    for change in todo:
        verb = "change" if change.found else "create"
        lines.append(f"would {'remove' if change.data is None else verb}: {_named(change, now)}")
    return (*lines, f"{counted(len(todo), 'change')} to make; nothing was changed")


def _named(change: EventChange, now: datetime) -> str:
    start = change.start
    if start is None:
        return change.title
    if isinstance(start, datetime) and start.tzinfo is not None:
        return f"{change.title} ({moment(start.astimezone(now.tzinfo), now)})"
    return f"{change.title} ({weekday(start, now)})"
