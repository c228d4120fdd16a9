"""Which calendars there are: of several kinds, of one room's boards, or of one person."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

MOST_EVENTS = 199
"""So many events are in a calendar unless more are asked for: those nearest to today."""

NAME = "wingrest: boards and chamber"
KINDS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "all": (NAME, ("boards", "due", "sessions", "chamber")),
    "releases": ("wingrest: boards", ("boards", "due")),
    "chamber-and-sessions": ("wingrest: chamber and sessions", ("sessions", "chamber")),
    "sessions": ("wingrest: bench days", ("sessions",)),
    "chamber": ("wingrest: chamber", ("chamber",)),
    "bench-days": ("wingrest: lab days and chamber", ("lab", "sessions", "chamber")),
}
"""Every kind of calendar: the name that phones show, and the parts that are in it."""

OF_BOARDS = frozenset({"boards", "due", "lab"})
"""The parts that are about boards, and so about a room; the others are about people."""


@dataclass(frozen=True, slots=True)
class Variant:
    """One calendar to subscribe to: a kind, of everything or of one room or person.

    A room's calendar has its boards. A person's has their own sessions and what goes into the
    chamber for these, and all boards, because boards are everybody's. At most `most` events are in
    it.
    """

    kind: str = "all"
    room: str | None = None
    who: str | None = None
    most: int = MOST_EVENTS

    @property
    def name(self) -> str:
        """Return the name under which it is noted when the calendar was asked for and changed."""
        room = "" if self.room is None else f"/{self.room}"
        who = "" if self.who is None else f"@{self.who}"
        return f"{self.kind}{room}{who}{'' if self.most == MOST_EVENTS else f'+{self.most}'}"

    @property
    def title(self) -> str:
        """Return the name that phones show."""
        of = [name for name in (self.room, self.who) if name is not None]
        return f"wingrest: {', '.join(of)}" if of else KINDS[self.kind][0]

    @property
    def parts(self) -> tuple[str, ...]:
        """Return its parts, by the names that `of_room` and `of_person` give."""
        found = []
        for part in KINDS[self.kind][1]:
            if part in OF_BOARDS:
                found.append(part if self.room is None else of_room(part, self.room))
            elif self.room is None:
                found.append(part if self.who is None else of_person(part, self.who))
        return tuple(found)


def of_room(part: str, room: str) -> str:
    """Return the name of a part for one room's boards."""
    return f"{part}/{room}"


def of_person(part: str, who: str) -> str:
    """Return the name of a part for one person."""
    return f"{part}@{who}"


ALL, BENCH_DAYS = Variant("all"), Variant("bench-days")
