"""The sample batch of a damp fortnight: two rooms of one invented house in one invented June.

`python tests/damp_fortnight.py` writes its files; a test checks that they are what it writes.
The weather is that of `summer.py`, with a fortnight of a cooler and damper air mass. The study
is cool and has a damp wall; the loft under the roof is warm, and dry although nobody thought so.
"""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from summer import SEED, Spell, Walls, indoors, outdoors, write_logger_file

FOLDER = Path(__file__).resolve().parents[1] / "sample_batches" / "damp_fortnight"

FIRST = date(2027, 6, 1)
SPELL = Spell(from_day=20, below_day=34, cooler_c=3.0, dew_up_c=3.5)
"""From 21 June to 4 July."""

NOW = datetime(2027, 7, 10, 9, 0)  # noqa: DTZ001 - local wall clock
EVERY_MIN = 30
ROOMS = {
    "study": Walls(warmer_c=2.5, follows_hours=30, airing_hours=4, source_hpa=1.0),
    "loft": Walls(warmer_c=6.5, follows_hours=12, airing_hours=3, source_hpa=0.3),
}


def write(folder: Path) -> None:
    """Write both loggers' files, read out half an hour before the demonstration begins."""
    days = (NOW.date() - FIRST).days + 1
    weather = outdoors(SEED, FIRST, days, SPELL, EVERY_MIN)
    for room, walls in ROOMS.items():
        readings = [r for r in indoors(weather, walls) if r.at < NOW]
        write_logger_file(folder / f"readings-{room}.csv", readings)


def files() -> dict[str, str]:
    """Return what it writes, by file name."""
    with TemporaryDirectory(prefix="wingrest-tests-") as name:
        write(Path(name))
        return {p.name: p.read_text(encoding="utf-8") for p in sorted(Path(name).iterdir())}


if __name__ == "__main__":
    write(FOLDER)
