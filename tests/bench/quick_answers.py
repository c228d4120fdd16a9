"""How long a quick question takes, as a ratio to `python -c "import click"`.

Run it from the checkout: `python tests/bench/quick_answers.py [--runs 15]`. All commands run
in turn in one run, in fresh processes, and medians are compared; it also checks that every
answer is right, since a fast wrong answer is none.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BATCH = ROOT / "sample_batches" / "first_weekend"
NOW = "2027-05-05T18:00"
MOST = 2.5


def run(arguments: list[str], expect: tuple[int, ...] = (0,)) -> tuple[float, str]:
    """Return seconds and output of a fresh process; raise when its exit status is wrong."""
    begin = time.perf_counter()
    done = subprocess.run(arguments, capture_output=True, text=True, check=False)
    seconds = time.perf_counter() - begin
    if done.returncode not in expect:
        raise RuntimeError(f"{arguments} ended with {done.returncode}: {done.stderr}")
    return seconds, done.stdout


def main() -> int:
    """Measure, print a table and say whether every ratio is within the bar."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=15)
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as folder:
        store = str(Path(folder) / "record.sqlite")
        wingrest = [str(Path(sys.executable).with_name("wingrest")), "--store", store, "--now", NOW]
        run([*wingrest, "load", str(BATCH)])
        explain = "rules explain --family Noctuidae --body-mm 6 --rh-pct 60 --format json".split()
        commands = {
            "import click": ([sys.executable, "-c", "import click"], (0,)),
            "--help": ([*wingrest, "--help"], (0,)),
            "ready B3": ([*wingrest, "ready", "B3", "--format", "json"], (0, 1)),
            "ready": ([*wingrest, "ready"], (0, 1)),
            "rules explain": ([*wingrest, *explain], (0,)),
        }
        seconds: dict[str, list[float]] = {name: [] for name in commands}
        for _ in range(runs):
            for name, (arguments, expect) in commands.items():
                took, out = run(arguments, expect)
                seconds[name].append(took)
                if name == "ready B3":
                    assert json.loads(out)["boards"][0]["board"] == "B3"
                if name == "rules explain":
                    assert json.loads(out)["min_days"] > 0
    base = statistics.median(seconds["import click"])
    worst = 0.0
    print(f"cores {os.cpu_count()}, Python {sys.version.split()[0]}, medians of {runs}")
    for name, taken in seconds.items():
        ratio = statistics.median(taken) / base
        worst = max(worst, ratio)
        print(f"{name:15} {1000 * statistics.median(taken):6.0f} ms  {ratio:4.2f} x")
    print(f"bar: {MOST} x; worst {worst:.2f} x")
    return 0 if worst <= MOST else 1


if __name__ == "__main__":
    sys.exit(main())
