"""What the calendar asks of each placement: its first days, and what came of each. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from scheduler.feed.ical import one_line
from scheduler.words.tuples import NamedTuple

CameOf = Literal["", "off", "soft", "lost", "taken back"]


class SoftTest(NamedTuple):
    """A test that found it soft when it was due: the first day, and when it was tested."""

    asked_on: date
    tested_on: date


@dataclass(frozen=True, slots=True)
class Release:
    """One placement as the calendar needs it; `due` is None when the air gives no date.

    `soft` are the tests that found it soft on or after its first day, the earliest first.
    `asked_on` is the first day as it stood when it came off. `too_damp`: in today's air nothing may
    be taken off; `unread`: whether anything may is unknown until a dial is read. `estimated` says
    how the body was estimated; empty when it was measured. `between` says for people between which
    dates the first day lies; empty where nobody knows.
    """

    placement: int
    specimen: str
    board: str
    room: str
    due: date | None
    clear: date | None
    off_on: date | None = None
    lost: bool = False
    asked_on: date | None = None
    soft: tuple[SoftTest, ...] = ()
    stiff: bool = False
    too_damp: bool = False
    unread: bool = False
    taxon: str | None = None
    body_mm: float | None = None
    estimated: str = ""
    basis: str = ""
    between: str = ""

    @property
    def who(self) -> str:
        """Return its id with its taxon, in one line."""
        return one_line(f"{self.specimen} {self.taxon or ''}")


class FirstDay(NamedTuple):
    """A day from which a specimen is worth testing; `outcome` and `done` say what came of it.

    `number` is how often it was tested soft before. `event` is the key of an event whose day is
    over and which stays as phones were told of it. If the air moved the first day after such a day
    was over, `moved` gives the new day in the old event, and `again` the old day in the new event.
    """

    day: date
    number: int
    one: Release
    outcome: CameOf = ""
    done: date | None = None
    event: str = ""
    again: date | None = None
    moved: date | None = None

    @property
    def key(self) -> str:
        """Return the key of the event in which it stands."""
        number = f"/{self.number}" if self.number else ""
        again = f"/{self.again.isoformat()}" if self.again else ""
        return self.event or f"release/{self.one.placement}{number}{again}"


class FeedDays(NamedTuple):
    """Today, and who is there when.

    `there` gives the day on which somebody is there for what falls due on a day; `away` says
    whether nobody is there on a day.
    """

    today: date
    there: Callable[[date], date]
    away: Callable[[date], bool]


def asked_of(one: Release, days: FeedDays) -> list[FirstDay]:
    """Return each first day of a placement, the earliest first."""
    found = [
        FirstDay(min(days.there(test.asked_on), test.tested_on), n, one, "soft", test.tested_on)
        for n, test in enumerate(one.soft)
    ]
    n = len(one.soft)
    if one.off_on is not None:
        first = one.asked_on or one.due or one.off_on
        day = min(days.there(first), one.off_on)
        found.append(FirstDay(day, n, one, "lost" if one.lost else "off", one.off_on))
    elif one.due is not None:
        found.append(FirstDay(days.there(one.due), n, one))
    return found


def every_asked(releases: Iterable[Release], days: FeedDays) -> list[FirstDay]:
    """Return the first days of all placements, ordered by placement."""
    ordered = sorted(releases, key=lambda r: r.placement)
    return [one for release in ordered for one in asked_of(release, days)]
