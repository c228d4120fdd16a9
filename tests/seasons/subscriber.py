"""A person with a phone that follows, in worlds of several kinds; bench on Saturdays, one missed.

    python tests/seasons/subscriber.py "damp spell" --days 56

plays one of the `WORLDS` and prints what the phone found.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

from person import Evidence, Person
from phone import Phone
from world import START, WARM_UP

MORNING = 7


class Kind(NamedTuple):
    """What a world is like: the number of its season, what is measured, what happens in it."""

    number: int
    evidence: Evidence
    happens: str = ""


WORLDS: Mapping[str, Kind] = {
    "weekly dial": Kind(1, "weekly dial"),
    "daily dial": Kind(2, "daily dial"),
    "logger": Kind(3, "logger"),
    "nothing measured": Kind(4, "nothing"),
    "damp spell": Kind(5, "daily dial", "damp"),
    "days off": Kind(6, "weekly dial", "away"),
    "fresh emergences": Kind(7, "weekly dial", "fresh"),
    "lost, amended, undone": Kind(8, "weekly dial", "mishaps"),
}
DAMP = range(15, 29)
AWAY = range(17, 28)


class Subscriber(Person):
    """A person whose phone follows; bench days are Saturdays, and one is missed."""

    def __init__(self, kind: Kind, folder: Path, days: int) -> None:
        super().__init__(kind.number, kind.evidence, folder)
        self.kind, self.days = kind, days
        self.phone = Phone()
        self.corrected: set[str] = set()
        self.missed = START.date() + timedelta(days=14 if days > 14 else 7)
        self.world.sessions = {
            name: s for name, s in self.world.sessions.items() if s[0].weekday() == 5
        }
        if kind.happens == "damp":
            self._dampen()
        if kind.happens == "fresh":
            self._freshen()

    def run(self, at: datetime, *words: str) -> tuple[int, str]:
        """Run a command; plans are quick ones, since it is the phone that is looked at."""
        return super().run(at, *words, *(("--effort", "quick") if words == ("plan",) else ()))

    def today(self, at: datetime) -> dict[str, Any]:
        """Read what the day asks for."""
        return self._json(at, "today")

    def play_with_phone(self) -> None:
        """Play the days, reading the phone each morning."""
        self._begin()
        by_day = {s.date(): (name, s, m) for name, (s, m) in self.world.sessions.items()}
        for number in range(self.days):
            at = START + timedelta(days=number)
            away = self.kind.happens == "away" and number in AWAY
            if not away:
                self._evidence(at.replace(hour=MORNING - 1))
            self.poll(at.replace(hour=MORNING))
            if self.kind.happens == "away" and number == AWAY.start - 7:
                first, last = (START + timedelta(days=d) for d in (AWAY.start, AWAY.stop - 1))
                assert self.run(at, "away", f"{first:%Y-%m-%d}", f"{last:%Y-%m-%d}")[0] == 0
                self.run(at, "plan")
            bench = by_day.get(at.date())
            if away:
                continue
            if bench is not None and at.date() != self.missed:
                self._day(at.replace(hour=8, minute=30), until=bench[1])
                self._bench(*bench)
            else:
                self._day(at.replace(hour=8, minute=30), until=at.replace(hour=12))
            if self.kind.happens == "mishaps":
                self._mishap(number, at.replace(hour=15))
            self._arrive(at)
            self._day(at.replace(hour=19, minute=50), until=at.replace(hour=23))

    def poll(self, at: datetime) -> None:
        """Read the calendar, and hold it against what the program answers."""
        path = self.folder / "phone.ics"
        status, said = self.run(at, "feed", "-o", str(path))
        assert status == 0, said
        today, ready = self._json(at, "today"), self._json(at, "ready")
        self.phone.read(at.date(), path.read_bytes(), today, ready, self.corrected)
        self.corrected = set()

    def _json(self, at: datetime, *words: str) -> dict[str, Any]:
        status, said = self.run(at, *words, "--format", "json")
        if status not in (0, 1, 2) or "}" not in said:
            return {}
        found: dict[str, Any] = json.loads(said[said.index("{") : said.rindex("}") + 1])
        return found

    # --- worlds ---------------------------------------------------------------------------

    def _dampen(self) -> None:
        for air in self.world.rooms.values():
            for hour in range((DAMP.start + WARM_UP) * 24, (DAMP.stop + WARM_UP) * 24):
                air.rh[hour] = min(92.0, air.rh[hour] + 22)

    def _freshen(self) -> None:
        """Let whatever comes in the season be fresh, and more of it at once."""
        for one in self.world.insects.values():
            if one.came > START:
                one.state, one.place, one.frozen = "fresh", "room", None
                one.came -= timedelta(days=one.came.day % 3)

    def _mishap(self, number: int, at: datetime) -> None:
        """Every other day something goes wrong: the record is put right, or the day changes."""
        stands = sorted(i.name for i in self.nature.here(at) if i.stands and i.name in self.known)
        waits = sorted(i.name for i in self.nature.here(at) if i.waits and i.name in self.known)
        later = at + timedelta(minutes=10)
        if number % 8 == 1 and len(waits) > 20:
            lost = self.rng.choice(waits)
            self._happens(at, [lost], "lost", lost, "dropped")
            self.nature.one(lost).spoiled = at
        elif number % 8 == 3 and stands:
            one = self.rng.choice(stands)
            self._happens(
                at, [one], "amend", one, f"body_mm={self.nature.one(one).body_mm + 1:.1f}"
            )
        elif number % 8 == 5 and stands:
            one = self.rng.choice(stands)
            status = self._happens(at, [one], "release", one, "--early", "the wrong one")
            if status == 0:
                self._happens(later, [one], "undo")
        elif number % 8 == 7:
            ahead = [n for n, (s, _) in self.world.sessions.items() if s > at]
            minutes = self.rng.choice(("60", "90", "120"))
            for name in ahead[:1]:
                self._happens(at, [], "session", name, "--minutes", minutes)
                self.world.sessions[name] = (self.world.sessions[name][0], int(minutes))

    def _happens(self, at: datetime, names: list[str], *words: str) -> int:
        status, said = self.run(at, *words)
        assert status in (0, 3), said
        self.corrected |= set(names)
        return status


def main() -> int:
    """Play one world and print what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("world", choices=WORLDS)
    parser.add_argument("--days", type=int, default=56)
    parser.add_argument("--number", type=int)
    given = parser.parse_args()
    kind = WORLDS[given.world]
    if given.number is not None:
        kind = kind._replace(number=given.number)
    with TemporaryDirectory() as folder:
        one = Subscriber(kind, Path(folder), given.days)
        one.play_with_phone()
    found = one.phone
    for what, lines in (
        ("crashed", one.crashes),
        ("not named", found.unnamed),
        ("untrue", found.untrue),
        ("rewritten", found.rewritten),
    ):
        for line in lines:
            print(f"{what}: {line}")
    print(
        f"{given.world}, season {kind.number}, {given.days} days: {found.asked} board-days asked"
        f" for, {len(found.unnamed)} not named; {found.titles} titles, {len(found.untrue)} untrue;"
        f" past held {found.held} times, {len(found.rewritten)} rewritten; at most"
        f" {found.most_a_week} events a week, {found.most_events} in all; {found.long_titles}"
        f" titles over 40 signs; {time.process_time():.0f} s"
    )
    return int(bool(one.crashes or found.unnamed or found.untrue or found.rewritten))


if __name__ == "__main__":
    raise SystemExit(main())
