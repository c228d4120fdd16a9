"""What holds for every test."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from browser_cases import browser as browser  # a fixture for whoever asks
from hypothesis import settings

# Laws are about answers, not about how busy the machine is.
settings.register_profile("laws", deadline=None)
settings.load_profile("laws")

MAKE_MACHINE_CODE = """
import sys
sys.path.insert(0, sys.argv[1])
from instances import instance
from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.find import find_bound
from scheduler.planner.search.run import Search
from scheduler.planner.state import spread

bench = PlanBench(instance("weekend", 1))
prices = find_bound(bench, 0, 8, lambda: False).guided
Search(bench, ([None] * len(bench.waiting), spread(bench)), prices, frozenset()).run(10)
"""


def pytest_configure(config: pytest.Config) -> None:
    """Make the search's machine code before any test: no command then speaks of making it."""
    if hasattr(config, "workerinput") or config.option.collectonly:
        return
    bench = Path(__file__).parent / "bench"
    command = [sys.executable, "-c", MAKE_MACHINE_CODE, str(bench)]
    # What is installed may be another copy than the one that lies here, with its own code.
    for folder in (Path(__file__).parents[1], bench):
        subprocess.run(command, cwd=folder, check=True, capture_output=True)
