"""Invented plans to follow: a few boards, some that stand, some that wait, weeks of bench time.

Nothing here is of a real collection; the sizes are from memory, and only have to be possible.
"""

from __future__ import annotations

import csv
import random
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

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
ROOMS = ("study", "loft")


class Invented(NamedTuple):
    """The humidity of each room [%], and when each session begins and how long it is [min]."""

    rooms: dict[str, int]
    sessions: dict[str, tuple[datetime, int]]


def invent(rng: random.Random, batch: Path) -> Invented:
    """Write a batch folder."""
    batch.mkdir(parents=True)
    places = rng.choice((4, 8, 16, 40))
    (batch / "settings.toml").write_text(
        f'timezone = "UTC"\nchamber_places = {places}\nchamber_time = "20:00"\n', "utf-8"
    )
    rooms = {room: rng.randint(44, 60) for room in ROOMS}
    _table(batch / "rooms.csv", [{"room": r, "rh_pct": rh} for r, rh in rooms.items()])
    boards = [_board(rng, n) for n in range(rng.randint(2, 5))]
    _table(batch / "boards.csv", boards)
    sessions = list(_sessions(rng))
    _table(batch / "sessions.csv", sessions)
    waiting = [_specimen(rng, n) for n in range(rng.randint(4, 14))]
    standing = list(_standing(rng, boards))
    _table(batch / "specimens.csv", waiting + [row for row, _ in standing])
    if standing:
        _table(batch / "mounted.csv", [row for _, row in standing])
    return Invented(
        rooms,
        {
            str(s["session"]): (
                datetime.fromisoformat(f"{s['start']}:00+00:00"),
                int(str(s["minutes"])),
            )
            for s in sessions
        },
    )


def _board(rng: random.Random, n: int) -> dict[str, object]:
    groove = rng.choice((3, 4, 6, 8, 10, 12))
    return {
        "board": f"B{n + 1}",
        "groove_mm": groove,
        "span_mm": 60 + 12 * groove,
        "length_mm": rng.choice((120, 200, 300)),
        "room": rng.choice(ROOMS),
    }


def _sessions(rng: random.Random) -> Iterator[dict[str, object]]:
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


def _specimen(rng: random.Random, n: int) -> dict[str, object]:
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
    rng: random.Random, boards: list[dict[str, object]]
) -> Iterator[tuple[dict[str, object], dict[str, object]]]:
    for n, board in enumerate(boards):
        groove = float(str(board["groove_mm"]))
        if rng.random() < 0.4 or groove < 4:
            continue
        mounted = BEGIN - timedelta(days=rng.randint(2, 40), hours=6)
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


def _table(path: Path, rows: list[dict[str, object]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
