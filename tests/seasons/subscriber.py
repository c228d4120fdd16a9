"""A phone that reads the calendar every morning beside a person at the bench.

What the calendar says of the day is held against `today` and `ready` of the same moment, and what
it says of the past against what it said before.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from icalendar import Calendar
from person import Evidence, Person
from world import START

PAST_DAYS = 30
MORNING = 7
BOARD_TITLE = re.compile(r"[A-Z]+[0-9]+: (test|take off|too damp today for) (.*)")
BOARD_NAME = re.compile(r"[A-Z]+[0-9]+")
MEANS = {
    "test": {"test it now", "take off"},
    "take off": {"take off"},
    "too damp today for": {"dry, but not today"},
    "leave": {"not yet", "cannot say"},
}
"""What `ready` must answer of those whom a title names."""


@dataclass(frozen=True)
class Event:
    """One event as a phone shows it."""

    uid: str
    day: date
    title: str
    text: str
    sequence: int

    @property
    def done(self) -> bool:
        """Whether it is ticked."""
        return self.title.startswith("✓")

    @property
    def moves(self) -> bool:
        """Whether it is the one that moves with the day."""
        return self.title.startswith(("Still due", "Chamber: late"))


class Subscriber(Person):
    """A person whose phone follows; bench days are Saturdays, and one is missed."""

    def __init__(self, number: int, evidence: Evidence, folder: Path, days: int) -> None:
        super().__init__(number, evidence, folder)
        self.days = days
        self.missed = START.date() + timedelta(days=14 if days > 14 else 7)
        self.world.sessions = {
            name: s for name, s in self.world.sessions.items() if s[0].weekday() == 5
        }
        self.told: dict[str, Event] = {}
        self.asked = 0
        self.unnamed: list[str] = []
        self.untrue: list[str] = []
        self.rewritten: list[str] = []
        self.of_week: dict[int, set[str]] = defaultdict(set)
        self.long_titles = 0
        self.titles = 0
        self.most_events = 0

    def play_with_phone(self) -> None:
        """Play the days, reading the phone each morning."""
        self._begin()
        by_day = {s.date(): (name, s, m) for name, (s, m) in self.world.sessions.items()}
        for number in range(self.days):
            at = START + timedelta(days=number)
            self._evidence(at.replace(hour=MORNING - 1))
            self.poll(at.replace(hour=MORNING))
            bench = by_day.get(at.date())
            if bench is not None and at.date() != self.missed:
                self._day(at.replace(hour=8, minute=30), until=bench[1])
                self._bench(*bench)
            else:
                self._day(at.replace(hour=8, minute=30), until=at.replace(hour=12))
            self._arrive(at)
            self._day(at.replace(hour=19, minute=50), until=at.replace(hour=23))

    def poll(self, at: datetime) -> None:
        """Read the calendar, and hold it against what the program answers."""
        path = self.folder / "phone.ics"
        status, said = self.run(at, "feed", "-o", str(path))
        assert status == 0, said
        events = [
            Event(
                str(e["UID"]),
                date.fromisoformat(f"{e.start:%Y-%m-%d}"),
                str(e["SUMMARY"]),
                str(e.get("DESCRIPTION", "")),
                e.sequence,
            )
            for e in Calendar.from_ical(path.read_bytes()).events
        ]
        today = self._json(at, "today")
        ready = self._json(at, "ready")
        answers = {
            s["specimen"]: s["answer"] for b in ready.get("boards", ()) for s in b["specimens"]
        }
        day = at.date()
        of_day = [e for e in events if e.day == day]
        self._named(day, today, of_day)
        for event in of_day:
            self._true(event, answers, today)
        self._past(day, events)
        for event in events:
            self.of_week[event.day.isocalendar().week].add(event.uid)
        self.titles += len(events)
        self.long_titles += sum(len(e.title) > 40 for e in events)
        self.most_events = max(self.most_events, len(events))
        self.told = {e.uid: e for e in events}

    def _json(self, at: datetime, *words: str) -> dict[str, Any]:
        status, said = self.run(at, *words, "--format", "json")
        if status not in (0, 1, 2) or "}" not in said:
            return {}
        found: dict[str, Any] = json.loads(said[said.index("{") : said.rindex("}") + 1])
        return found

    def _named(self, day: date, today: dict[str, Any], of_day: list[Event]) -> None:
        said = "\n".join(f"{e.title}\n{e.text}" for e in of_day)
        for due in today.get("test", ()):
            self.asked += 1
            for name in (due["board"], *due["specimens"]):
                if not re.search(rf"\b{re.escape(name)}\b", said):
                    self.unnamed.append(f"{day} {due['board']}: {name}")

    def _true(self, event: Event, answers: dict[str, str], today: dict[str, Any]) -> None:
        """Note what a title claims that the answers of the same moment deny."""
        board = BOARD_TITLE.match(event.title)
        if board:
            names, _, leave = board[2].partition(" - leave ")
            for what, claimed in ((board[1], names), ("leave", leave)):
                for name in self._names(claimed):
                    if answers.get(name) not in MEANS[what]:
                        self.untrue.append(f"{event.day} {event.title}: {name} {answers.get(name)}")
        chamber = re.match(r"Chamber: (?:look at|out) (.*?)(?: by .*)?$", event.title)
        inside = {n for t in today.get("take_out", ()) for n in t["specimens"]}
        for name in self._names(chamber[1]) if chamber else ():
            if name not in inside:
                self.untrue.append(f"{event.day} {event.title}: {name} is not in the chamber")
        off = re.match(r"✓ [^:]+: (.*) off", event.title)
        for name in self._names(off[1]) if off else ():
            if name in answers:
                self.untrue.append(f"{event.day} {event.title}: {name} still stands")

    def _names(self, said: str) -> list[str]:
        return [n for n in re.split(r", | \+\d+", said) if n in self.world.insects]

    def _past(self, day: date, events: list[Event]) -> None:
        """Note what is no longer said of the past as it was.

        What was only asked for may be ticked, and may be found to lie ahead after all; of several
        asked for together some may be found to have another first day, and stand there.
        """
        now = {e.uid: e for e in events}
        for uid, was in self.told.items():
            if was.moves or not day - timedelta(days=PAST_DAYS - 1) <= was.day < day:
                continue
            told = now.get(uid)
            if told is None and not self._regrouped(was, events):
                self.rewritten.append(f"{day} gone: {was.day} {was.title}")
            elif told is None:
                continue
            elif told.day != was.day and (was.done or told.day < day):
                self.rewritten.append(f"{day} moved: {was.day} {was.title} -> {told.day}")
            elif (
                was.day < day - timedelta(days=1)
                and told.title != was.title
                and (was.done or not (told.done or told.day >= day))
                and not (
                    was.title.split(",")[0] == told.title.split(",")[0]
                    and self._regrouped(was, events)
                )
            ):
                self.rewritten.append(f"{day} {was.title} -> {told.title}")

    def _regrouped(self, was: Event, events: list[Event]) -> bool:
        """Say whether whom an undone first day named is named by another of its board."""
        board = was.title.split(":")[0]
        if was.done or not BOARD_NAME.fullmatch(board):
            return False
        named = {n for e in events if e.title.startswith((board, f"✓ {board}")) for n in _listed(e)}
        return _listed(was) <= named


def _listed(event: Event) -> set[str]:
    """Whom the text of a board's event names."""
    return set(re.findall(r"\b[A-Z]-[0-9]+\b", event.title + event.text))
