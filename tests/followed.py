"""Invented plans, followed to the minute through the commands: does the program contradict itself?

    python tests/followed.py --plans 1000 [--first 0] [--workers 2]

Everything here is invented. The person does exactly what `today` asks for, when it asks for it:
puts in at the minute named, reads a dial where one is asked for (the air is as it was said to
be), feels whatever is to be tested (it is stiff: the table is taken to be right), takes it off,
and mounts the session. Whoever follows so must never be told that it is too late, be refused a
command that was printed, or find at the bench that what was put in for it is not mounted.

A dial hangs in every room and is read on the first evening: where nobody ever reads one, a plan
counts on slots sooner than things come off there, and is contradicted.
"""

from __future__ import annotations

import argparse
import csv
import json
import multiprocessing
import random
import shlex
import sys
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from datetime import datetime, timedelta
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

from scheduler.cli import main

BEGIN = datetime.fromisoformat("2027-06-01T18:00:00+00:00")
KINDS = (
    ("Geometridae", 2.2, 30),
    ("Noctuidae", 4.8, 38),
    ("Nymphalidae", 4.2, 55),
    ("Erebidae", 3.4, 44),
    ("Notodontidae", 6.4, 56),
    ("Sphingidae", 8.6, 70),
    ("Saturniidae", 9.5, 90),
)
STATES = ("frozen",) * 6 + ("dried", "fresh", "fresh")


class Said(NamedTuple):
    """What a command was, how it ended, and what it printed."""

    at: datetime
    words: tuple[str, ...]
    status: int
    out: str

    def __str__(self) -> str:
        return f"{self.at:%a %d %b %H:%M} wingrest {' '.join(self.words)} -> {self.status}"


class Followed:
    """A plan under way, with whatever contradicted it."""

    def __init__(self, number: int, folder: Path) -> None:
        self.rng = random.Random(f"followed {number}")
        self.folder = folder
        self.at = BEGIN
        self.faults: list[str] = []
        self.promised: dict[str, str] = {}
        self.rooms: dict[str, int] = {}
        self.sessions: dict[str, tuple[datetime, int]] = {}
        self.benches = 0

    # --- the commands ---------------------------------------------------------------------

    def run(self, *words: str, good: tuple[int, ...] = (0,)) -> Said:
        """Run a command at this minute; one that ends otherwise than it may is a contradiction."""
        out, err = StringIO(), StringIO()
        status: object = 0
        given = ["--store", str(self.folder / "record.sqlite"), "--now", self.at.isoformat()]
        with redirect_stdout(out), redirect_stderr(err):
            try:
                main([*given, *words])
            except SystemExit as left:
                status = left.code or 0
        assert isinstance(status, int)
        said = Said(self.at, words, status, out.getvalue() + err.getvalue())
        if status not in good:
            self.fault(f"{said}: {said.out[-600:]}")
        return said

    def printed(self, command: str) -> None:
        """Run a command that was printed, as it was printed."""
        self.run(*shlex.split(command)[1:])

    def fault(self, text: str) -> None:
        self.faults.append(f"{self.at:%a %d %b %H:%M}: {text}")

    def today(self) -> dict[str, Any]:
        text = self.run("today").out
        if "TOO LATE" in text:
            self.fault(f"too late, though all was followed:\n{text}")
        found: dict[str, Any] = json.loads(self.run("today", "--format", "json").out)
        return found

    # --- what is invented -----------------------------------------------------------------

    def invent(self) -> None:
        """Write a batch, load it and plan."""
        rng, batch = self.rng, self.folder / "batch"
        batch.mkdir(parents=True)
        places = rng.choice((4, 8, 16, 40))
        (batch / "settings.toml").write_text(
            f'timezone = "UTC"\nchamber_places = {places}\nchamber_time = "20:00"\n', "utf-8"
        )
        self.rooms = {room: rng.randint(44, 60) for room in ("study", "loft")}
        _table(batch / "rooms.csv", [{"room": r, "rh_pct": rh} for r, rh in self.rooms.items()])
        boards = [self._board(n) for n in range(rng.randint(2, 5))]
        _table(batch / "boards.csv", boards)
        sessions = list(self._sessions())
        _table(batch / "sessions.csv", sessions)
        self.sessions = {
            str(s["session"]): (
                datetime.fromisoformat(f"{s['start']}:00+00:00"),
                int(str(s["minutes"])),
            )
            for s in sessions
        }
        waiting = [self._specimen(n) for n in range(rng.randint(4, 14))]
        standing = list(self._standing(boards))
        _table(batch / "specimens.csv", waiting + [row for row, _ in standing])
        if standing:
            _table(batch / "mounted.csv", [row for _, row in standing])
        self.run("load", str(batch), "--yes")
        for room, rh in self.rooms.items():
            self.run("air", room, str(rh))
        self.run("plan")

    def _board(self, n: int) -> dict[str, object]:
        groove = self.rng.choice((3, 4, 6, 8, 10, 12))
        return {
            "board": f"B{n + 1}",
            "groove_mm": groove,
            "span_mm": 60 + 12 * groove,
            "length_mm": self.rng.choice((120, 200, 300)),
            "room": self.rng.choice(list(self.rooms)),
        }

    def _sessions(self) -> Iterator[dict[str, object]]:
        rng = self.rng
        day = BEGIN.replace(hour=0)
        for n in range(rng.randint(2, 6)):
            day += timedelta(days=rng.choice((1, 1, 2, 3, 5, 7, 9)))
            start = day + timedelta(hours=rng.choice((8, 9, 14, 19, 20)))
            minutes = rng.choice((45, 60, 90, 120, 180))
            yield {
                "session": f"S{n + 1}",
                "start": f"{start:%Y-%m-%dT%H:%M}",
                "minutes": minutes,
            }

    def _specimen(self, n: int) -> dict[str, object]:
        rng = self.rng
        family, body, span = rng.choice(KINDS)
        state = rng.choice(STATES)
        came = BEGIN - timedelta(hours=rng.randint(1, 20))
        return {
            "specimen": f"K-{n + 1:02}",
            "family": family,
            "body_mm": round(body * rng.uniform(0.8, 1.2), 1),
            "wingspan_mm": round(span * rng.uniform(0.85, 1.15)),
            "state": state,
            "frozen_on": f"{BEGIN - timedelta(days=rng.randint(3, 55)):%Y-%m-%d}"
            if state == "frozen"
            else "",
            "available": f"{came:%Y-%m-%d}" if state == "fresh" else "",
            "priority": rng.choice((1, 3, 3, 5, 10)),
        }

    def _standing(
        self, boards: list[dict[str, object]]
    ) -> Iterator[tuple[dict[str, object], dict[str, object]]]:
        for n, board in enumerate(boards):
            groove = float(str(board["groove_mm"]))
            if self.rng.random() < 0.4 or groove < 4:
                continue
            mounted = BEGIN - timedelta(days=self.rng.randint(2, 40), hours=6)
            row = {
                "specimen": f"T-{n + 1:02}",
                "family": "Noctuidae",
                "body_mm": groove - 0.8,
                "wingspan_mm": 40,
                "state": "frozen",
                "frozen_on": f"{mounted - timedelta(days=9):%Y-%m-%d}",
                "available": "",
                "priority": 3,
            }
            on = {
                "specimen": row["specimen"],
                "board": board["board"],
                "from_mm": 0,
                "to_mm": 40,
                "mounted": f"{mounted:%Y-%m-%dT%H:%M}",
            }
            yield row, on

    # --- following ------------------------------------------------------------------------

    def follow(self) -> list[str]:
        """Follow the plan to the end of its last session; return what contradicted it."""
        self.invent()
        for name, (start, minutes) in self.sessions.items():
            self._until(start)
            self.at = start
            self._bench(name, minutes)
            if self.faults:
                break
        return self.faults

    def _until(self, start: datetime) -> None:
        """Do what is asked for before a session, each at its minute."""
        for _ in range(60):
            said = self.today()
            asked = [*self._asked(said)]
            by = min((moment for moment, *_ in asked), default=start)
            if by >= start:
                return
            if by > self.at:
                self.at = by
                continue
            for moment, what, entry in asked:
                if moment <= self.at:
                    self._do(what, entry)
        self.fault("never done with what is asked for")

    def _asked(self, said: dict[str, Any]) -> Iterator[tuple[datetime, str, dict[str, Any]]]:
        for entry in said["put_away"]:
            yield datetime.fromisoformat(entry["by"]), "put_away", entry
        for entry in said["put_in"]:
            if entry["late"] and datetime.fromisoformat(entry["latest"]) < self.at:
                self.fault(f"late, though all was followed: {entry}")
            if datetime.fromisoformat(entry["latest"]) < datetime.fromisoformat(entry["by"]):
                self.fault(f"planned in later than it may be: {entry}")
            yield datetime.fromisoformat(entry["by"]), "put_in", entry
        for entry in said["take_out"]:
            if entry["session"] is None:
                yield datetime.fromisoformat(entry["out_by"]), "take_out", entry
            elif entry["overdue"]:
                self.fault(f"overdue in the chamber, though all was followed: {entry}")

    def _do(self, what: str, entry: dict[str, Any]) -> None:
        self.printed(entry["command"])
        if what == "put_in":
            self.promised |= dict.fromkeys(entry["specimens"], entry["session"])

    def _bench(self, name: str, minutes: int) -> None:
        """Test, take off and mount as it is asked for, and hold it to what was promised."""
        said = self.today()
        dials = {e["command"] for e in said["wait"] if e["command"].startswith("wingrest air")}
        for room in sorted(shlex.split(command)[2] for command in dials):
            self.run("air", room, str(self.rooms[room]))
        said = self.today() if dials else said
        bench = said["session"]
        if bench is None or bench["session"] != name:
            self.fault(f"at {name} the session of today is {bench and bench['session']}")
            return
        mount = bench["mount"]
        self._hold(name, minutes, said)
        self._take_off(said)
        self.at += timedelta(minutes=1)
        if mount:
            before = {m["specimen"]: (m["board"], m["from_mm"]) for m in mount}
            self.run("mount", name)
            self._is_where_it_was_said(before)
            self.benches += 1
        elif any(session == name for session in self.promised.values()):
            self.fault(f"{name} mounts nothing: {said}")
        self.promised = {n: s for n, s in self.promised.items() if s != name}

    def _hold(self, name: str, minutes: int, said: dict[str, Any]) -> None:
        mounted = [m["specimen"] for m in said["session"]["mount"]]
        missing = [n for n, s in self.promised.items() if s == name and n not in mounted]
        if missing:
            self.fault(f"put in for {name} and not mounted there: {missing}")
        work = sum(m["minutes"] for m in said["session"]["mount"])
        if work > minutes:
            self.fault(f"{name}: {work} minutes of mounting in {minutes}")

    def _take_off(self, said: dict[str, Any]) -> None:
        """Test what is due, and what must go before another lies there: it is stiff."""
        due = [n for e in said["test"] for n in e["specimens"]]
        due += [n for e in said["take_off"] for n in e["specimens"]]
        due += [n for m in said["session"]["mount"] for n in m["after"]]
        for specimen in dict.fromkeys(due):
            answer = self.run("ready", specimen, good=(0, 1)).out
            if "not yet" in answer.casefold():
                self.fault(f"asked to take off {specimen}, and ready says:\n{answer}")
            self.run("test", specimen, "stiff")
            self.run("release", specimen)

    def _is_where_it_was_said(self, said: dict[str, tuple[str, int]]) -> None:
        listed = json.loads(self.run("boards", "--format", "json").out)
        stands = {
            s["specimen"]: (board["board"], s["from_mm"])
            for board in listed["boards"]
            for s in board.get("specimens", ())
        }
        for specimen, place in said.items():
            if stands.get(specimen) != place:
                self.fault(f"{specimen} was to stand on {place} and is on {stands.get(specimen)}")


def followed(number: int) -> tuple[int, list[str]]:
    """Follow one invented plan; return how many benches were held and what contradicted it."""
    with TemporaryDirectory() as folder:
        one = Followed(number, Path(folder))
        faults = [f"plan {number}, {fault}" for fault in one.follow()]
        return one.benches, faults


def _table(path: Path, rows: list[dict[str, object]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def play() -> int:
    """Follow many; print what contradicted each, and how many did."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--plans", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    numbers = range(given.first, given.first + given.plans)
    with multiprocessing.get_context("spawn").Pool(given.workers) as pool:
        bad = [faults for _, faults in pool.imap(followed, numbers) if faults]
    for faults in bad:
        print(faults[0])
    print(f"{given.plans} plans followed to the minute, {len(bad)} contradicted")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(play())
