"""A phone that reads the calendar every morning, and compares it with the program.

What the calendar says about the day is compared with `today` and `ready` at the same moment. What
it says about the past may not change its meaning: an event stays where it was, what it asked for
stays named, and what was ticked stays ticked.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from icalendar import Calendar

PAST_DAYS = 30
BOARD_TITLE = re.compile(r"(B\d+): (test|take off|too damp today for|read the air first:) (.*)")
MEANS = {
    "test": {"test it now", "take off"},
    "take off": {"take off"},
    "too damp today for": {"dry, but not today"},
    "read the air first:": {"dry, but not today"},
    "leave": {"not yet", "cannot say"},
}
"""What `ready` must answer of those whom a title names."""
OUTCOMES = ("Taken off on", "Tested soft on", "Lost on", "Taken back on")
DUE = {"test it now", "take off", "dry, but not today"}


@dataclass(frozen=True)
class Event:
    """One event as a phone shows it."""

    uid: str
    day: date
    title: str
    text: str

    @property
    def done(self) -> bool:
        """Whether it is ticked."""
        return self.title.startswith("✓")

    @property
    def moves(self) -> bool:
        """Whether it is the one that moves with the day."""
        return self.title.startswith(("Still due", "Chamber: late")) or self.title.endswith(" late")

    @property
    def about(self) -> str:
        """A board's name, or what else it is about: the bench, the chamber, a place in the cold."""
        return self.title.removeprefix("✓ ").split(":")[0].split(" ")[0]

    @property
    def names(self) -> frozenset[str]:
        """Whom it names, but for those to leave: it is not about them."""
        lines = [self.title.partition(" - leave ")[0], *self.text.splitlines()]
        said = " ".join(line for line in lines if not line.startswith("Leave what "))
        return frozenset(listed(said))


@dataclass
class Phone:
    """What a phone was told, and what was found wrong with it."""

    told: dict[str, Event] = field(default_factory=dict)
    asked: int = 0
    titles: int = 0
    held: int = 0
    long_titles: int = 0
    most_events: int = 0
    unnamed: list[str] = field(default_factory=list)
    untrue: list[str] = field(default_factory=list)
    rewritten: list[str] = field(default_factory=list)
    of_week: dict[int, set[str]] = field(default_factory=lambda: defaultdict(set))

    def read(
        self,
        day: date,
        calendar: bytes,
        today: dict[str, Any],
        ready: dict[str, Any],
        corrected: Collection[str] = (),
    ) -> None:
        """Read the calendar; `corrected` are those of whom the record was put right since."""
        events = [
            Event(
                str(e["UID"]),
                date.fromisoformat(f"{e.start:%Y-%m-%d}"),
                str(e["SUMMARY"]),
                str(e.get("DESCRIPTION", "")),
            )
            for e in Calendar.from_ical(calendar).events
        ]
        of_day = [e for e in events if e.day == day]
        self._named(day, today, of_day)
        for event in of_day:
            self.untrue += [f"{day} {event.title}: {why}" for why in untrue(event, today, ready)]
        now = {e.uid: e for e in events}
        for was in self.told.values():
            if not was.moves and day - timedelta(days=PAST_DAYS - 1) <= was.day < day:
                self.held += 1
                why = changed(was, now.get(was.uid), day)
                if why and not was.names & set(corrected):
                    self.rewritten.append(f"{day} {was.day} {was.title} -> {why}")
        for event in events:
            self.of_week[event.day.isocalendar().week].add(event.uid)
        self.titles += len(events)
        self.long_titles += sum(len(e.title) > 40 for e in events)
        self.most_events = max(self.most_events, len(events))
        self.told = now

    @property
    def most_a_week(self) -> int:
        """The most events that any week had, those that were withdrawn counted."""
        return max(map(len, self.of_week.values()))

    def _named(self, day: date, today: dict[str, Any], of_day: list[Event]) -> None:
        said = "\n".join(f"{e.title}\n{e.text}" for e in of_day)
        for due in today.get("test", ()):
            self.asked += 1
            for name in (due["board"], *due["specimens"]):
                if not re.search(rf"\b{re.escape(name)}\b", said):
                    self.unnamed.append(f"{day} {due['board']}: {name}")


def changed(was: Event, told: Event | None, day: date) -> str:
    """Return how an event of the past means something else than it did, nothing if it does not.

    On the first morning after its day it may say that nothing was done; later on it may be ticked.
    """
    if told is None:
        return "gone"
    if told.day != was.day:
        return f"moved to {told.day}"
    if was.done:
        same = (told.title, told.text) == (was.title, was.text)
        return "" if same else f"{was.text!r} became {told.title}: {told.text!r}"
    if told.about != was.about:
        return f"about another: {told.title}"
    if re.fullmatch(r"B\d+", was.about) and not was.names <= told.names:
        return f"{', '.join(sorted(was.names - told.names))} dropped: {told.title}"
    first_morning = was.day == day - timedelta(days=1)
    if told.done or first_morning or told.title == was.title:
        return ""
    came_of = [line for line in told.text.splitlines() if line.startswith(OUTCOMES)]
    done = {name for line in came_of for name in listed(line)}
    return "" if set(listed(was.title)) <= {*listed(told.title), *done} else told.title


def untrue(event: Event, today: dict[str, Any], ready: dict[str, Any]) -> Iterator[str]:
    """Yield what the title of an event of the day claims that the answers of the moment deny."""
    stands = {s["specimen"]: s for b in ready.get("boards", ()) for s in b["specimens"]}
    answers = {name: s["answer"] for name, s in stands.items()}
    yield from _board(event, answers)
    yield from _chamber(event, today)
    if off := re.match(r"✓ [^:]+: (.*) off", event.title):
        yield from (f"{n} still stands" for n in listed(off[1]) if n in answers)
    if late := re.match(r"Still due: (.*)", event.title):
        yield from _late(late[1], ready, date.fromisoformat(today["at"][:10]))
    if event.title.startswith("Bench "):
        yield from _bench(event, today, answers)


def _board(event: Event, answers: dict[str, str]) -> Iterator[str]:
    """Yield who is otherwise than a board's title asks."""
    if board := BOARD_TITLE.match(event.title):
        names, _, leave = board[3].partition(" - leave ")
        for what, claimed in ((board[2], names), ("leave", leave)):
            for name in listed(claimed):
                if answers.get(name) not in MEANS[what]:
                    yield f"{name}: {answers.get(name)}"


def _chamber(event: Event, today: dict[str, Any]) -> Iterator[str]:
    """Yield who is not where the chamber's or the cold's title says, or need not go there."""
    inside = {n for t in today.get("take_out", ()) for n in t["specimens"]}
    if out := re.match(r"Chamber: (?:look at|out) (.*?)(?: by .*)?$", event.title):
        yield from (f"{n} is not in the chamber" for n in listed(out[1]) if n not in inside)
    if goes_in := re.match(r"Chamber: in (.*) for ", event.title):
        asked = {n for p in today.get("put_in", ()) for n in p["specimens"]}
        yield from (f"{n} need not go in" for n in listed(goes_in[1]) if n not in asked)
    if cold := re.match(r"(?:Fridge|Freezer): (.*) by ", event.title):
        asked = {n for p in today.get("put_away", ()) for n in p["specimens"]}
        yield from (f"{n} need not go there" for n in listed(cold[1]) if n not in asked)


def _late(said: str, ready: dict[str, Any], day: date) -> Iterator[str]:
    """Yield which boards are not late by as many days as a title says."""
    boards = {b["board"]: b["specimens"] for b in ready.get("boards", ())}
    for board, days in re.findall(r"(B\d+) (\d+) d", said):
        dues = [s["due"] for s in boards.get(board, ()) if s["answer"] in DUE and s["due"]]
        most = max([0, *((day - date.fromisoformat(due)).days for due in dues)])
        if not dues or most != int(days):
            yield f"{board} is late by {most} d"


def _bench(event: Event, today: dict[str, Any], answers: dict[str, str]) -> Iterator[str]:
    """Yield which counts of a bench day are not those of the day."""
    said = {what: int(n) for what, n in re.findall(r"(test|take off|mount) (\d+)", event.title)}
    due = sum(answer in DUE for answer in answers.values())
    if (told := said.get("test", 0) + said.get("take off", 0)) != due:
        yield f"{told} to test or take off, of {due}"
    bench = today.get("session") or {}
    if "plan again" not in event.title and said.get("mount", 0) != len(bench.get("mount", ())):
        yield f"{len(bench.get('mount', ()))} to mount"


def listed(said: str) -> list[str]:
    """Return the specimens that a title names."""
    return re.findall(r"\b[A-Z]-[0-9]+\b", said)
