"""How long a logger's year takes to read, as a ratio to `pandas.read_csv` of the same file.

Run it from the checkout: `python tests/bench/readings.py [--runs 7]`. A year at one reading a
minute, 525,600 rows, written by loggers of two manners. Both sides run in turn in fresh
processes and medians are compared; ours includes the hourly means. It also checks that every
reading arrived, since a fast answer that is wrong counts for nothing.
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

ROWS = 525_600
SKIPPED = 60
"""Minutes of the hour that the clocks skip in spring, which a local clock cannot show."""

MOST = 4.0
SEED = 4

THEIRS = "import sys, pandas; print(len(pandas.read_csv(sys.argv[1], sep=sys.argv[2])))"
OURS = """
import json, sys
from pathlib import Path
from zoneinfo import ZoneInfo
from scheduler.intake.readings import read_readings
found = read_readings(Path(sys.argv[1]), zone=ZoneInfo("Europe/Berlin"), now=None)
assert not found.questions and not found.problems, (found.questions, found.problems)
readings = found.readings
hours = {day: held.hours() for day, held in readings.days.items()}
mean = [rh for of_day in hours.values() for rh in of_day.rh_pct if rh is not None]
print(json.dumps([readings.count, len(readings.left_out), len(hours), len(mean), sum(mean)]))
"""


def minutes() -> Iterator[tuple[datetime, float, float]]:
    """Yield the minutes of 2026, without the skipped hour, with some air."""
    chance = random.Random(SEED)
    begin = datetime(2026, 1, 1)  # noqa: DTZ001 - a logger's own clock
    skipped = datetime(2026, 3, 29, 2)  # noqa: DTZ001
    for minute in range(ROWS + SKIPPED):
        at = begin + timedelta(minutes=minute)
        if not skipped <= at < skipped + timedelta(hours=1):
            yield at, 20 + chance.gauss(0, 1), 55 + chance.gauss(0, 3)


def write_iso(path: Path) -> None:
    """Write ISO dates, decimal points and commas between the cells."""
    with path.open("w", encoding="utf-8") as file:
        file.write("Time,Temperature (°C),RH (%)\n")
        file.writelines(f"{at:%Y-%m-%d %H:%M:%S},{c:.2f},{rh:.1f}\n" for at, c, rh in minutes())


def write_12_hours(path: Path) -> None:
    """Write month-first dates on a 12-hour clock, deg F and decimal commas."""
    with path.open("w", encoding="utf-8") as file:
        file.write("Time;Temperature (°F);RH (%)\n")
        for at, c, rh in minutes():
            cells = f"{c * 1.8 + 32:.1f};{rh:.1f}".replace(".", ",")
            hour = at.hour % 12 or 12
            file.write(f"{at.month}/{at.day}/{at.year} {hour}:{at:%M:%S %p};{cells}\n")


def run(*arguments: str) -> tuple[float, str]:
    """Return seconds of processor time and output of a fresh process.

    Not the time on the wall: on a machine that does other work that says more of the others.
    """
    begin = _children_s()
    done = subprocess.run(
        [sys.executable, "-c", *arguments], capture_output=True, text=True, check=True
    )
    return _children_s() - begin, done.stdout


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> int:
    """Measure, print a table and say whether every ratio is within the bar."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=7)
    runs = parser.parse_args().runs
    worst = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for name, write, sign in (("ISO", write_iso, ","), ("12-hour clock", write_12_hours, ";")):
            path = Path(folder) / "logger.csv"
            write(path)
            theirs, ours = [], []
            for _ in range(runs):
                seconds, out = run(THEIRS, str(path), sign)
                assert int(out) == ROWS
                theirs.append(seconds)
                seconds, out = run(OURS, str(path))
                count, left_out, days, hours, total = json.loads(out)
                # What the skipped hour lacks stands on 1 January: 366 dates.
                assert (count, left_out, days) == (ROWS, 0, 366), out
                assert abs(total / hours - 55) < 0.1
                ours.append(seconds)
            ratio = statistics.median(ours) / statistics.median(theirs)
            worst = max(worst, ratio)
            print(
                f"{name:14} pandas {statistics.median(theirs):5.2f} s   "
                f"ours {statistics.median(ours):5.2f} s   ratio {ratio:4.2f} (at most {MOST:g})"
            )
    return 0 if worst <= MOST else 1


if __name__ == "__main__":
    raise SystemExit(main())
