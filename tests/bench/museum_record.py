"""A museum's record for the benchmarks of the page: 300 boards, 5,000 specimens, all invented."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.rows import Value
from scheduler.record.store import Store
from scheduler.words.records import Board, Placement, Room, Session, Specimen

NOW = "2027-05-08T08:40"
SETTLED = datetime(2027, 5, 8, 6, 40, tzinfo=UTC)
FAMILIES = ("Noctuidae", "Geometridae", "Sphingidae", "Erebidae", "Tortricidae")
GROOVES = ((3.0, 60.0, 2.0, 26), (5.0, 90.0, 3.6, 36), (7.0, 90.0, 5.2, 40), (9.0, 130.0, 7.2, 52))
ROOMS = ("attic", "cellar", "study", "north wing")


def museum_record(path: Path, boards: int = 300, specimens: int = 5_000, seed: int = 1) -> Path:
    """Make the record: half of the specimens stand, mounted over the last weeks; the rest wait."""
    rng = Random(seed)
    begun = SETTLED - timedelta(days=60)
    with Store(path) as store:
        with store.deed(When(begun, begun), "load", "an invented museum") as deed:
            deed.insert("setting", {"key": "timezone", "value": "Europe/Berlin"})
            for room in ROOMS:
                deed.insert("room", rows.room_row(Room(room, "room", 52.0, 20.0)))
            for n in range(boards):
                groove, span, _, _ = GROOVES[n % len(GROOVES)]
                board = Board(f"B{n + 1:03d}", groove, span, 400)
                deed.insert("board", rows.board_row(board))
                stay = {"board": board.board, "room": ROOMS[n // 4 % len(ROOMS)]}
                deed.insert("board_stay", stay | {"since": "1970-01-01T00:00:00Z"})
            for n in range(specimens):
                group = n % len(GROOVES)
                _, _, body, slot = GROOVES[group]
                thick = body + rng.randint(-4, 4) / 10
                one = Specimen(
                    f"M-{n + 1:04d}",
                    family=FAMILIES[n % 5],
                    body_mm=thick,
                    wingspan_mm=float(slot - 4),
                    state="frozen",
                )
                deed.insert("specimen", rows.specimen_row(one))
            for n in range(boards):
                _fill(deed, rng, n, specimens)
            for week in range(8):
                start = SETTLED + timedelta(days=7 * week, minutes=20)
                session = Session(f"SAT-{week + 1:02d}", start, 240)
                deed.insert("session", rows.session_row(session))
        for days in range(20, -1, -1):
            at = SETTLED - timedelta(days=days, hours=1)
            with store.deed(When(at, at), "air", "read the dials") as deed:
                for room in ROOMS:
                    reading: dict[str, Value] = {"room": room, "temp_c": 20.0}
                    reading["read_at"] = rows.moment_text(at)
                    reading["rh_pct"] = 50.0 + rng.randint(-3, 3)
                    deed.insert("dial", reading)
    return path


def _fill(deed: Deed, rng: Random, board: int, specimens: int) -> None:
    """Put specimens of the board's own kind on it, all but every tenth board, side by side."""
    if board % 10 == 9:
        return
    groups = len(GROOVES)
    slot = GROOVES[board % groups][3]
    places = 400 // slot
    mine = board // groups
    at = SETTLED - timedelta(days=rng.randint(1, 30), hours=2)
    for place in range(places):
        number = groups * (mine * places + place) + board % groups
        if number >= specimens:
            return
        if place == places // 2:
            at -= timedelta(days=rng.randint(0, 6))
        where = place * slot, (place + 1) * slot
        placement = Placement(0, f"M-{number + 1:04d}", f"B{board + 1:03d}", *where, at, at.date())
        deed.insert("placement", rows.placement_row(placement))
