"""Follow invented plans to the minute through the commands: does the program contradict itself?

    python tests/followed.py --plans 1000 [--first 0] [--workers 2]

Everything here is invented. The person does exactly what `today` asks for, when it asks for it:
puts specimens into the chamber at the minute named, reads a dial where one is asked for (the air is
as the record says), tests whatever is to be tested (it is stiff: the table is taken to be right),
takes it off, and mounts the session. Such a person must never be told that something is too late,
be refused a command that was printed, or find at the bench that what was put in for a session is
not mounted at it.

Every other plan is in a house where a dial hangs in every room and is read on the first evening;
in the others nobody ever reads one, whatever `today` asks for.
"""

from __future__ import annotations

import argparse
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

from invented_plans import BEGIN, invent

from scheduler.cli import main


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
        self.reads = number % 2 == 0
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

    def begin(self) -> None:
        """Invent a plan, load it, read the dials where somebody does, and plan."""
        batch = self.folder / "batch"
        self.rooms, self.sessions = invent(self.rng, batch)
        self.run("load", str(batch), "--yes")
        for room, rh in self.rooms.items() if self.reads else ():
            self.run("air", room, str(rh))
        self.run("plan")

    # --- following ------------------------------------------------------------------------

    def follow(self) -> list[str]:
        """Follow the plan to the end of its last session; return what contradicted it."""
        self.begin()
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
        asked = (entry["command"] for entry in said["wait"] if self.reads)
        dials = {command for command in asked if command.startswith("wingrest air")}
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
