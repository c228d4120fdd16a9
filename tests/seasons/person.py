"""A person who does what the program says, through the commands that everybody has.

Every morning and evening the person reads `today`, and does and records what it asks for with the
commands it prints. On a bench day they test by hand what is due (`nature` says what the hand
feels), take off what is stiff, and mount the session as planned, except for what is not limp or
finds its place taken. They know nothing else of the trade: what the program does not say is not
done. Now and then something is recorded wrongly and taken back, a priority changes, a board breaks.

The players with paper soften specimens before the first day, look at the insect in the hand and see
which groove fits it. So this person begins two evenings before the first day, reads the dial that
hangs there when `today` asks for the air, measures with a ruler what `today` asks to measure, and
records what is usual in a room when `today` says that its dial differs.
"""

from __future__ import annotations

import csv
import json
import shlex
from collections.abc import Iterable
from contextlib import redirect_stderr, redirect_stdout
from datetime import date, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any, Literal

from nature import OFF_MIN, TEST_MIN, Nature
from world import START, Insect, World

from scheduler.cli import main

Evidence = Literal["nothing", "weekly dial", "daily dial", "logger"]
COLUMNS = (
    "specimen,family,taxon,body_mm,wingspan_mm,state,frozen_on,available,wanted_by,priority"
).split(",")


class Person:
    """A season under way, with a record of the program beside it."""

    def __init__(self, number: int, evidence: Evidence, folder: Path) -> None:
        self.world = World(number)
        self.nature = Nature(self.world)
        self.evidence = evidence
        self.folder = folder
        self.rng = self.nature.rng
        self.lines = 0
        self.moved_dates = 0
        self.due: dict[str, date] = {}
        self.crashes: list[str] = []
        self.known: set[str] = set()
        self.out: set[str] = set()
        self.logged = START - timedelta(days=20)

    # --- commands -------------------------------------------------------------------------

    def run(self, at: datetime, *words: str) -> tuple[int, str]:
        """Run a command at a moment; remember crashes."""
        out, err = StringIO(), StringIO()
        status: object = 0
        given = ["--store", str(self.folder / "record.sqlite"), "--now", at.isoformat(), *words]
        with redirect_stdout(out), redirect_stderr(err):
            try:
                main(given)
            except SystemExit as left:
                status = left.code or 0
        assert isinstance(status, int)
        if status in (4, 70):
            self.crashes.append(f"{at:%m-%d %H:%M} {' '.join(words)}: {err.getvalue()[-300:]}")
        self.lines += out.getvalue().count("\n") if words[0] in ("today", "plan") else 0
        return status, out.getvalue() + err.getvalue()

    def today(self, at: datetime) -> dict[str, Any]:
        """Read what the day asks for; what a person would read is counted as lines."""
        self.run(at, "today")
        status, said = self.run(at, "today", "--format", "json")
        self.lines -= said.count("\n")
        found: dict[str, Any] = json.loads(said[: said.rindex("}") + 1]) if status == 0 else {}
        return found

    # --- a season -------------------------------------------------------------------------

    def play(self) -> Nature:
        """Play the season from its first to its last day."""
        self._begin()
        for days in (2, 1):
            evening = START - timedelta(days=days) + timedelta(hours=19, minutes=50)
            self._day(evening, until=evening + timedelta(hours=3))
        by_day = {
            start.date(): (name, start, m) for name, (start, m) in self.world.sessions.items()
        }
        for day in range(84):
            at = START + timedelta(days=day)
            self._evidence(at.replace(hour=8))
            self._accidents(at.replace(hour=8, minute=10))
            if at.date() in by_day:
                name, start, minutes = by_day[at.date()]
                self._day(at.replace(hour=8, minute=30), until=start)
                self._bench(name, start, minutes)
            else:
                self._day(at.replace(hour=8, minute=30), until=at.replace(hour=12))
            self._arrive(at)
            self._day(at.replace(hour=19, minute=50), until=at.replace(hour=23))
            self._dates(at.replace(hour=22))
        self.nature.minutes_there = sum(m for _, m in self.world.sessions.values())
        return self.nature

    def _begin(self) -> None:
        batch = self.folder / "batch"
        batch.mkdir(parents=True)
        (batch / "settings.toml").write_text(
            'timezone = "UTC"\nchamber_places = 20\nchamber_time = "20:00"\n', encoding="utf-8"
        )
        _table(
            batch / "rooms.csv",
            [{"room": r, "rh_pct": rh, "temp_c": 20} for r, rh in self.world.assumed.items()],
        )
        _table(
            batch / "boards.csv",
            [
                {
                    "board": b.name,
                    "groove_mm": b.groove_mm,
                    "span_mm": b.span_mm,
                    "length_mm": b.length_mm,
                    "room": b.room,
                }
                for b in self.world.boards
            ],
        )
        _table(
            batch / "sessions.csv",
            [
                {"session": name, "start": f"{start:%Y-%m-%dT%H:%M}", "minutes": minutes}
                for name, (start, minutes) in self.world.sessions.items()
            ],
        )
        there = [i for i in self.world.insects.values() if i.came <= START]
        _table(batch / "specimens.csv", [self._row(i) for i in there], COLUMNS)
        _table(
            batch / "mounted.csv",
            [
                {
                    "specimen": i.name,
                    "board": i.board,
                    "from_mm": i.from_mm,
                    "to_mm": i.from_mm + i.slot_mm,
                    "mounted": f"{i.mounted:%Y-%m-%dT%H:%M}",
                }
                for i in there
                if i.mounted is not None
            ],
        )
        self.known = {i.name for i in there}
        at = START - timedelta(days=2) + timedelta(hours=19)
        self._evidence(at)
        self._load(at, batch)
        self.run(at + timedelta(minutes=2), "plan")

    def _load(self, at: datetime, folder: Path) -> None:
        status, said = self.run(at, "load", str(folder))
        if status == 2 and "--yes" in said:
            status, said = self.run(at, "load", str(folder), "--yes")
        assert status == 0, said

    def _row(self, one: Insect) -> dict[str, object]:
        return {
            "specimen": one.name,
            "family": one.shape.family,
            "taxon": "",
            "body_mm": one.body_mm if one.measured else "",
            "wingspan_mm": one.wingspan_mm,
            "state": one.state,
            "frozen_on": f"{one.frozen:%Y-%m-%d}" if one.frozen else "",
            "available": f"{one.came:%Y-%m-%d}" if one.state == "fresh" else "",
            "wanted_by": f"{one.wanted_by:%Y-%m-%d}" if one.wanted_by else "",
            "priority": one.priority,
        }

    def _evidence(self, at: datetime) -> None:
        saturday = at.weekday() == 5
        if self.evidence == "daily dial" or (self.evidence == "weekly dial" and saturday):
            for room, air in self.world.rooms.items():
                rh, temp = air.now(at)
                self.run(at, "air", room, f"{rh:.0f}", f"{temp:.0f}")
        elif self.evidence == "logger" and saturday:
            for room in self.world.rooms:
                self._read_logger(room, at)
            self.logged = at

    def _read_logger(self, room: str, at: datetime) -> None:
        air, moment = self.world.rooms[room], self.logged
        path = self.folder / f"{room}-{at:%m%d}.csv"
        lines = ["time,temp_c,rh_pct"]
        while moment < at:
            rh, temp = air.now(moment)
            lines.append(f"{moment:%Y-%m-%dT%H:%M},{temp},{rh}")
            moment += timedelta(hours=1)
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        status, _ = self.run(at, "readings", str(path), "--room", room)
        if status:
            self.run(at, "readings", str(path), "--room", room, "--yes")

    def _accidents(self, at: datetime) -> None:
        name, when = self.world.broken
        taken = any(i.stands and i.board == name for i in self.nature.here(at))
        if at >= when and name not in self.out and not taken:
            self.out.add(name)
            self.run(at, "board", name, "out")
        if self.rng.random() < 0.04:
            waits = [i.name for i in self.nature.here(at) if i.waits and i.name in self.known]
            if waits:
                one, priority = self.rng.choice(waits), self.rng.choice((1, 6))
                _, said = self.run(at, "amend", one, f"priority={priority}")
                # Where it was so already there is nothing of this to take back: undo would take
                # what was recorded before it.
                if "nothing to record" not in said:
                    self.run(at + timedelta(minutes=1), "undo")

    def _arrive(self, day: datetime) -> None:
        new = [
            i
            for i in self.world.insects.values()
            if i.name not in self.known and i.came.date() == day.date()
        ]
        if not new:
            return
        at = max(i.came for i in new) + timedelta(minutes=5)
        folder = self.folder / f"new-{day:%m%d}"
        folder.mkdir()
        _table(folder / "specimens.csv", [self._row(i) for i in new], COLUMNS)
        self._load(at, folder)
        self.known |= {i.name for i in new}
        self.run(at + timedelta(minutes=2), "plan")

    # --- what a day asks for --------------------------------------------------------------

    def _day(self, at: datetime, until: datetime) -> None:
        """Do what `today` asks for between two moments, but for the bench."""
        said = self.today(at)
        if self._feel_early(said, at) | self._measure(said, at):
            said = self.today(at)
        for entry in said.get("put_away", ()):
            self._carry(entry["command"], at)
        for entry in said.get("take_out", ()):
            if entry["session"] is None or datetime.fromisoformat(entry["out_by"]) < _utc(until):
                self._carry(entry["command"], at)
        for entry in said.get("put_in", ()):
            by = datetime.fromisoformat(entry["by"]).replace(tzinfo=None)
            if entry["late"] or by <= until:
                self._carry(entry["command"], max(at, by))

    def _plan_if_asked(self, said: dict[str, Any], at: datetime) -> bool:
        """Plan anew where the day says that the plan no longer holds; say whether it did."""
        asked = any(w["kind"] == "plan" for w in said.get("worries", ()))
        if asked:
            self.run(at, "plan")
        return asked

    def _feel_early(self, said: dict[str, Any], at: datetime) -> bool:
        """Feel those that the day proposes to feel for the next session; say whether any is."""
        probes = [p for p in said.get("probes", ()) if p["session"] is not None]
        names = [n for p in probes for n in p["specimens"]]
        felt = self._feel(names, at, self.nature.minutes_used + 60)
        for verdict, those in (("soft", felt[False]), ("stiff", felt[True])):
            if those:
                self.run(at, "test", *(i.name for i in those), verdict)
        return bool(names)

    def _measure(self, said: dict[str, Any], at: datetime) -> bool:
        """Take a ruler to those that the day asks to measure, and say of a room what its dial
        tells is usual there, where the day asks for it; say whether there was anything.
        """
        names = [n for w in said.get("worries", ()) if w["kind"] == "measure" for n in w["names"]]
        for name in names:
            self.run(at, "amend", name, f"body_mm={self.nature.one(name).body_mm}")
        usual = [w["command"] for w in said.get("worries", ()) if w["kind"] == "said otherwise"]
        for command in usual:
            self.run(at, *shlex.split(command)[1:])
        if names or usual:
            self.run(at, "plan")
        return bool(names or usual)

    def _look_at_dials(self, said: dict[str, Any], at: datetime) -> bool:
        """Read the dials that the day asks for, where any hang; say whether one was read."""
        commands = [w["command"] for w in said.get("wait", ())]
        asked = {c.split()[2] for c in commands if c.startswith("wingrest air ")}
        for room in sorted(asked if self.evidence != "nothing" else ()):
            rh, temp = self.world.rooms[room].now(at)
            self.run(at, "air", room, f"{rh:.0f}", f"{temp:.0f}")
        return bool(asked) and self.evidence != "nothing"

    def _carry(self, command: str, at: datetime) -> None:
        """Do what a printed command records, and record it."""
        words = shlex.split(command)[1:]
        if not words or words[0] not in ("relax", "putback", "thaw", "lost"):
            return
        status, _ = self.run(at, *words)
        if status:
            return
        place = {"relax": "chamber", "thaw": "thawed", "putback": words[-1], "lost": "room"}
        for word in words[1:]:
            if word in self.world.insects:
                self.nature.put(self.nature.one(word), place[words[0]], at)

    def _bench(self, name: str, start: datetime, minutes: int) -> None:
        end = self.nature.minutes_used + minutes
        self.run(start, "plan")
        said = self.today(start)
        if self._look_at_dials(said, start):
            said = self.today(start)
            if self._plan_if_asked(said, start):
                said = self.today(start)
        tests = [(t["board"], t["specimens"]) for t in said.get("test", ())]
        leave = {n for w in said.get("wait", ()) for n in w["specimens"]}
        steps = (said.get("session") or {}).get("mount", ())
        first = [n for s in steps for n in s["after"] if n not in leave]
        due = dict.fromkeys([*first, *(n for _, names in tests for n in names)])
        soft: list[Insect] = []
        stiff: list[Insect] = []
        for one in map(self.nature.one, due):
            if one.stands and self.nature.minutes_used + TEST_MIN + OFF_MIN <= end:
                (stiff if self.nature.stiff(one, start) else soft).append(one)
        off = [n for o in said.get("take_off", ()) for n in o["specimens"]]
        stiff += [i for i in map(self.nature.one, off) if i.stands and i not in stiff]
        early = [n for p in said.get("probes", ()) for n in p["specimens"] if n not in due]
        felt = self._feel(early, start, end)
        soft += felt[False]
        if soft:
            self.run(start, "test", *(i.name for i in soft), "soft")
        if felt[True]:
            self.run(start + timedelta(minutes=1), "test", *(i.name for i in felt[True]), "stiff")
        if stiff:
            status, _ = self.run(start + timedelta(minutes=2), "release", *(i.name for i in stiff))
            for one in stiff if status == 0 else ():
                self.nature.take_off(one, start)
        self._mount(name, start, end)

    def _feel(self, names: list[str], start: datetime, end: float) -> dict[bool, list[Insect]]:
        """Feel those that the day proposes to feel early; they stay where they are."""
        felt: dict[bool, list[Insect]] = {False: [], True: []}
        for one in map(self.nature.one, names):
            if one.stands and self.nature.minutes_used + TEST_MIN <= end:
                felt[self.nature.stiff(one, start)].append(one)
        return felt

    def _mount(self, name: str, start: datetime, end: float) -> None:
        said = self.today(start + timedelta(minutes=5))
        bench = said.get("session") or {}
        left_out, done = [], []
        for slot in bench.get("mount", ()):
            one = self.nature.one(slot["specimen"])
            self.nature.rot(one, start)
            free = any(
                a <= slot["from_mm"] and slot["from_mm"] + one.slot_mm <= b + 8
                for a, b in self.nature.free(slot["board"])
            )
            limp = slot["limp"] or self.nature.limp(one, start)
            time = self.nature.minutes_used + one.minutes <= end
            fits = one.body_mm + 0.3 <= self.world.board(slot["board"]).groove_mm
            if one.waits and free and limp and time and fits:
                self.nature.mount(
                    one, slot["board"], slot["from_mm"], start + timedelta(minutes=30)
                )
                done.append(one)
            else:
                left_out.append(one.name)
        if done:
            words = ["mount", name]
            for other in left_out:
                words += ["--except", other]
            at = start + timedelta(hours=2)
            status, said_of_it = self.run(at, *words)
            assert status == 0 or self.crashes, said_of_it
        self.run(start + timedelta(hours=2, minutes=5), "plan")

    def _dates(self, at: datetime) -> None:
        """Count due dates that moved by more than three days since yesterday."""
        self.run(at, "boards")
        _, said = self.run(at, "ready", "--format", "json")
        try:
            found = json.loads(said[: said.rindex("}") + 1])
        except ValueError:
            return
        for one in (s for b in found.get("boards", ()) for s in b["specimens"]):
            if one["due"] is None:
                continue
            due = date.fromisoformat(one["due"])
            before = self.due.get(one["specimen"], due)
            self.moved_dates += abs((due - before).days) > 3
            self.due[one["specimen"]] = due


def _utc(at: datetime) -> datetime:
    return datetime.fromisoformat(at.isoformat() + "+00:00")


def _table(path: Path, rows: Iterable[dict[str, object]], head: Iterable[str] = ()) -> None:
    found = list(rows)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(head) or list(found[0]))
        writer.writeheader()
        writer.writerows(found)
