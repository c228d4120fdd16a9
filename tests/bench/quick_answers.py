"""What a quick question costs, as a ratio to `python -c "import click"`.

Once on the sample weekend with its plan, once on the same with a year of hourly air in each of
three rooms. Run it from the checkout: `python tests/bench/quick_answers.py [--runs 15]`. All
commands run in turn in one run, in fresh processes; the processor time of each is taken, user and
system, and medians are compared. Every answer is checked, since a fast answer that is wrong counts
for nothing.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import random
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from scheduler.intake.readings import DayReadings
from scheduler.record.deed import When
from scheduler.record.store import Store

ROOT = Path(__file__).resolve().parents[2]
BATCH = ROOT / "sample_batches" / "first_weekend"
NOW = "2027-05-05T18:00"
MOST = 2.5
_ENV = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
SEED = 3
FIRST = date(2026, 5, 6)
DAYS = 365
ROOMS = ("study", "north", "loft")


def run(arguments: list[str], expect: tuple[int, ...] = (0,)) -> tuple[float, str]:
    """Return processor seconds and output of a fresh process; raise on a wrong exit status."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(arguments, capture_output=True, text=True, check=False, env=_ENV)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    if done.returncode not in expect:
        raise RuntimeError(f"{arguments} ended with {done.returncode}: {done.stderr}")
    return seconds, done.stdout


def log_a_year(store: Path, logged: Path) -> None:
    """Copy a record and log a year of hourly air in its ordinary rooms."""
    shutil.copy(store, logged)
    chance = random.Random(SEED)
    with Store(logged) as record:
        moment = datetime.fromisoformat(NOW).replace(tzinfo=UTC)
        with record.deed(When(moment, moment), "readings", "a year of air") as deed:
            deed.insert("room", {"room": "loft", "regime": "room", "rh_pct": 50.0})
            for room in ROOMS:
                for day in range(DAYS):
                    readings = a_day(chance, day)
                    deed.insert(
                        "room_day",
                        {
                            "room": room,
                            "day": (FIRST + timedelta(days=day)).isoformat(),
                            "readings": readings.packed,
                            "hours": readings.hours().packed,
                        },
                    )


def a_day(chance: random.Random, day: int) -> DayReadings:
    """Return 24 readings around a humidity that wanders over the year."""
    mean = 57 + 10 * math.sin(day / 30)
    rh = [round(100 * (mean + chance.gauss(0, 3))) for _ in range(24)]
    temp = [round(100 * chance.uniform(17, 22)) for _ in range(24)]
    return DayReadings.of([2 * 3600 * hour for hour in range(24)], rh, temp)


def check_board(found: dict[str, Any], *, logged: bool) -> None:
    """Raise when the answer is not that of board B3, with what was measured behind it."""
    (board,) = found["boards"]
    assert board["board"] == "B3"
    for specimen in board["specimens"]:
        assert (specimen["evidence"]["known"]["logger_pct"] > 90) == logged


def main() -> int:
    """Measure, print a table and say whether every ratio is within the bar."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=15)
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as folder:
        store = str(Path(folder) / "record.sqlite")
        wingrest = [str(Path(sys.executable).with_name("wingrest")), "--store", store, "--now", NOW]
        run([*wingrest, "load", str(BATCH)])
        logged = str(Path(folder) / "logged.sqlite")
        run([*wingrest, "plan"])
        log_a_year(Path(store), Path(logged))
        measured = [wingrest[0], "--store", logged, *wingrest[3:]]
        explain = "rules explain --family Noctuidae --body-mm 6 --rh-pct 60 --format json".split()
        commands = {
            "import click": ([sys.executable, "-c", "import click"], (0,)),
            "--help": ([*wingrest, "--help"], (0,)),
            "ready B3": ([*wingrest, "ready", "B3", "--format", "json"], (0, 1)),
            "ready": ([*wingrest, "ready"], (0, 1)),
            "boards": ([*wingrest, "boards"], (0,)),
            "today": ([*wingrest, "today"], (0,)),
            "find": ([*wingrest, "find", "B3"], (0,)),
            "show": ([*wingrest, "show", "M-03"], (0,)),
            "ready B3, logged": ([*measured, "ready", "B3", "--format", "json"], (0, 1)),
            "today, logged": ([*measured, "today"], (0,)),
            "rules explain": ([*wingrest, *explain], (0,)),
        }
        seconds: dict[str, list[float]] = {name: [] for name in commands}
        for _ in range(runs):
            for name, (arguments, expect) in commands.items():
                took, out = run(arguments, expect)
                seconds[name].append(took)
                if name.startswith("ready B3"):
                    check_board(json.loads(out), logged="logged" in name)
                if name == "rules explain":
                    assert json.loads(out)["min_days"] > 0
    base = statistics.median(seconds["import click"])
    worst = 0.0
    print(f"cores {os.cpu_count()}, Python {sys.version.split()[0]}, medians of {runs}")
    for name, taken in seconds.items():
        ratio = statistics.median(taken) / base
        worst = max(worst, ratio)
        print(f"{name:16} {1000 * statistics.median(taken):6.0f} ms  {ratio:4.2f} x")
    print(f"bar: {MOST} x; worst {worst:.2f} x")
    return 0 if worst <= MOST else 1


if __name__ == "__main__":
    sys.exit(main())
