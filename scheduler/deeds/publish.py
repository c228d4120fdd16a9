"""The record's events into a person's own calendar, in as many rounds as that takes."""

from __future__ import annotations

from dataclasses import dataclass, field

from scheduler.feed import publishing
from scheduler.feed.address import CalendarPlace
from scheduler.feed.calendars import Calendars
from scheduler.feed.publishing import EventChange, Owner, Wanted
from scheduler.feed.server import CalendarServer
from scheduler.feed.variants import Variant
from scheduler.words.problems import Refused

_ROUNDS = 3
OVERTAKEN = "it changes on the server at the same time. Publish again"
ELSEWHERE = (
    "the server holds it already, perhaps in another calendar of yours. Take it out there first,"
    " with --remove"
)


@dataclass(slots=True)
class Progress:
    """What was done to a calendar so far; `refused` by UID, each with the reason."""

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
    """Return the events of a variant as a calendar server is told them."""
    reminders = calendars.reminders(variant)
    return publishing.wanted_events(reminders, calendars.as_bytes(variant), calendars.namespace)


def owner(calendars: Calendars) -> Owner:
    """Return whose events a calendar may hold that are this record's."""
    return Owner(calendars.namespace, frozenset(calendars.ledger))


def pending(
    server: CalendarServer, place: CalendarPlace, wanted: list[Wanted], owner: Owner
) -> list[EventChange]:
    """Return what a calendar has yet to be told; nothing is changed."""
    return publishing.event_changes(wanted, server.events(place.url), owner)


def publish(
    server: CalendarServer,
    place: CalendarPlace,
    wanted: list[Wanted],
    owner: Owner,
    progress: Progress,
) -> None:
    """Make a calendar tell the wanted events of its owner and no others of that owner.

    The calendar is read anew after a round in which another program was faster. `progress` is
    kept up to date, so that whoever stops this midway can say how far it came. Raises Refused
    before anything is sent to a calendar that cannot be written.
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
