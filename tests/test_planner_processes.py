"""The same plan, byte for byte, whatever process makes it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
SAMPLES = TESTS.parent / "sample_batches"
SEEDS = ("1", "4242")
"""Two orders in which a process goes through its sets."""

COMMANDS = """
import json, sys
from scheduler.cli import main
for words in json.loads(sys.argv[1]):
    try:
        main(words)
    except SystemExit as left:
        assert not left.code, (words, left.code)
"""
INSTANCE = """
import json, sys
sys.path.insert(0, sys.argv[1])
from instances import instance
from scheduler.planner.make import best_plan, mend
from scheduler.planner.problem_json import plan_to_json
of = instance("played", 1)
found = best_plan(of, effort="quick")
print(json.dumps(plan_to_json(of, found)))
print(found.status, found.bound, found.gap, found.scarce)
fewer = instance("played", 1, minutes=0.5)
print(json.dumps(plan_to_json(fewer, mend(fewer, found))))
"""


def fresh(seed: str, script: str, *words: str | Path) -> bytes:
    """Run a script in a process of its own and return the bytes of all that it says."""
    done = subprocess.run(
        [sys.executable, "-c", script, *map(str, words)],
        cwd=TESTS.parent,
        env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONUTF8": "1"},
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout


@pytest.mark.parametrize(
    ("sample", "now", "change"),
    [
        ("first_weekend", "2027-05-05T18:00", "lost M-15 torn"),
        ("damp_july", "2027-07-09T18:06", "board B2 out"),
    ],
)
def test_a_record_is_planned_and_mended_alike(
    sample: str, now: str, change: str, tmp_path: Path
) -> None:
    commands = (
        ("load", str(SAMPLES / sample)),
        ("plan", "--format", "json", "--effort", "quick"),
        ("plan",),
        tuple(change.split()),
        ("plan", "--format", "json"),
    )
    said = []
    for seed in SEEDS:
        desk = ("--store", str(tmp_path / seed), "--now", now)
        said.append(fresh(seed, COMMANDS, json.dumps([[*desk, *words] for words in commands])))
    assert b'"gap_pct"' in said[0]
    assert said[0] == said[1]


def test_a_played_season_is_planned_alike() -> None:
    said = [fresh(seed, INSTANCE, TESTS / "bench") for seed in SEEDS]
    assert len(said[0].splitlines()) == 3
    assert said[0] == said[1]
