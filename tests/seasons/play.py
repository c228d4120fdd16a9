"""Play seasons with the program, with a paper strip, and knowing the truth; print one table.

    python tests/seasons/play.py --seasons 12

Seasons take turns in what the person measures: nothing, a dial once a week, a dial every day, a
logger. What is true in a season is stated in `world.py`; none of it is published or measured.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import get_args

sys.path.insert(0, str(Path(__file__).parent))

from nature import counts
from paper import play as on_paper
from person import Evidence, Person

PLAYERS = ("wingrest", "paper strip", "knows the truth")
KINDS: tuple[Evidence, ...] = get_args(Evidence)


def played(number: int) -> dict[str, dict[str, float]]:
    """Play one season all three ways."""
    began = time.monotonic()
    with TemporaryDirectory() as folder:
        person = Person(number, KINDS[number % 4], Path(folder))
        found = counts(person.play())
    found |= {
        "dates moved > 3 days": person.moved_dates,
        "lines a day": round(person.lines / 84, 1),
        "crashes": len(person.crashes),
        "seconds": round(time.monotonic() - began),
    }
    for crash in person.crashes[:3]:
        print(f"season {number}: {crash}", file=sys.stderr)
    return {
        "wingrest": found,
        "paper strip": counts(on_paper(number, knows=False)),
        "knows the truth": counts(on_paper(number, knows=True)),
    }


def main() -> int:
    """Play, sum and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seasons", type=int, default=12)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    numbers = range(given.first, given.first + given.seasons)
    with multiprocessing.get_context("spawn").Pool(given.workers) as pool:
        every = list(pool.imap(played, numbers))
    print(f"sums of {given.seasons} seasons from number {given.first}")
    print(f"{'':24}" + "".join(f"{p:>18}" for p in PLAYERS))
    for row in every[0]["wingrest"]:
        cells = [sum(season[p].get(row, 0) for season in every) for p in PLAYERS]
        print(f"{row:24}" + "".join(f"{c:18,.0f}" for c in cells))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
