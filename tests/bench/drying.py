"""How long the dates of 5,000 standing specimens take: five years of hourly air, three rooms.

Run it from the checkout: `python tests/bench/drying.py`. Every body is different, which is the
worst case; 500 boards, some of which moved. Due and clear of every specimen, from a snapshot on
which nothing was asked before; the imports, the rules and the making of the air do not count. A
sample is checked against a snapshot that holds that specimen alone.
"""

from __future__ import annotations

import math
import random
import time
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from scheduler.air import room_air as _air  # noqa: F401
from scheduler.air.hours import Hours
from scheduler.drying import sums as _sums  # noqa: F401 - imported before the clock starts
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.rulebook import load_rulebook
from scheduler.view import View
from scheduler.words.records import Board, BoardStay, Placement, Room, Settings, Specimen

SEED = 7
SPECIMENS = 5_000
BOARDS = 500
MOST_SECONDS = 1.5
DAYS = 1_826
FIRST = date(2022, 1, 1)
ROOMS = {"study": 60.0, "north": 70.0, "cellar": 76.0}
FAMILIES = ("Noctuidae", "Geometridae", "Sphingidae", "Nymphalidae", None)


def some_air(chance: random.Random, mean_pct: float) -> dict[date, Hours]:
    """Return five years of wandering air; one hour in fifty is not read."""
    days, drift = {}, 0.0
    for day in range(DAYS):
        rh: list[float | None] = []
        for hour in range(24):
            drift = 0.97 * drift + chance.gauss(0, 2.2)
            value = mean_pct + drift + 5 * math.sin(hour * math.pi / 12)
            rh.append(None if chance.random() < 0.02 else min(100.0, max(0.0, value)))
        temp = [19 + 2 * math.sin(hour / 4) for hour in range(24)]
        days[FIRST + timedelta(days=day)] = Hours.of(rh, temp)
    return days


def record(chance: random.Random) -> Snapshot:
    """Return a record in which everything stands."""
    boards = {f"B{n}": Board(f"B{n}", 8.0, 120.0, 400) for n in range(BOARDS)}
    stays = []
    for board in boards:
        stays.append(BoardStay(board, chance.choice(sorted(ROOMS)), ALWAYS))
        if chance.random() < 0.2:
            moved = datetime(2026, 11, 1, tzinfo=UTC) + timedelta(days=chance.randrange(60))
            stays.append(BoardStay(board, chance.choice(sorted(ROOMS)), moved))
    specimens, placements = {}, []
    for n in range(SPECIMENS):
        name = f"M-{n}"
        body = chance.uniform(0.8, 15)
        specimens[name] = Specimen(name, family=chance.choice(FAMILIES), body_mm=body)
        at = datetime(2022, 1, 1, 9, tzinfo=UTC) + timedelta(days=chance.randrange(DAYS))
        place = 40 * (n % 10)
        board = f"B{n // 10}"
        placements.append(Placement(n + 1, name, board, place, place + 40, at, at.date()))
    return Snapshot(
        settings=Settings("Europe/Berlin"),
        rooms={room: Room(room, "room", 60.0) for room in ROOMS},
        boards=boards,
        stays=tuple(stays),
        specimens=specimens,
        placements=tuple(placements),
        air_days={
            room: {day: hours.packed for day, hours in some_air(chance, mean).items()}
            for room, mean in ROOMS.items()
        },
    )


def main() -> int:
    """Measure, print, and say whether it is within the bar."""
    chance, rules = random.Random(SEED), load_rulebook()
    snap = record(chance)
    view = View(snap, rules, snap.placements[0].mounted_at)
    begin, busy = time.perf_counter(), time.process_time()
    dates: list[tuple[date | None, date | None]] = [view.of(p).dates for p in snap.placements]
    seconds, busy = time.perf_counter() - begin, time.process_time() - busy
    known = FIRST + timedelta(days=DAYS)
    assert sum(1 for due, _ in dates if due is not None and due < known) > SPECIMENS / 2
    for n in chance.sample(range(SPECIMENS), 10):
        alone = replace(snap, placements=(snap.placements[n],))
        assert View(alone, rules, view.now).of(snap.placements[n]).dates == dates[n]
    print(f"{SPECIMENS} standing, {DAYS} days, {len(ROOMS)} rooms: {seconds:.2f} s", end="")
    print(f" ({busy:.2f} s of one core; at most {MOST_SECONDS:g})")
    return 0 if busy <= MOST_SECONDS else 1


if __name__ == "__main__":
    raise SystemExit(main())
