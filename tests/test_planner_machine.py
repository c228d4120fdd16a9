"""The search with and without machine code, and what is kept of it on the disk."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
SEARCHES = """
import json, sys, warnings
warnings.simplefilter("error")
if sys.argv[2] == "plain":
    sys.modules["numba"] = None
sys.path.insert(0, sys.argv[1])
from instances import instance
from scheduler.planner.make import best_plan
from scheduler.planner.bench import PlanBench
from scheduler.planner.bound.market import market
from scheduler.planner.referee.verdict import judge
from scheduler.planner.search import machine
from scheduler.planner.search.run import SLOWER, Search
from scheduler.planner.state import spread
if len(sys.argv) > 4:
    machine._folder = lambda: __import__("pathlib").Path(sys.argv[4])
of = instance(sys.argv[3], 1)
bench = PlanBench(of)
begun = [None] * len(bench.waiting), spread(bench)
search = Search(bench, begun, market(bench).no_prices())
search.fill(range(len(bench.waiting)))
search.run(60 if sys.argv[2] != "plain" else 60 * SLOWER)
d = search.draft
plan = best_plan(of, effort="quick")
print(json.dumps([
    machine.is_fast(), search.tiers, d.best_session.tolist(), d.best_board.tolist(),
    d.best_from.tolist(), search.best[1], d.best_off.tolist(),
    search.offers.code.tolist(), search.offers.best.tolist(),
    [plan.quality.spoiled_priority, plan.quality.weighted_waiting_days], len(judge(of, plan)),
]))
"""


def searched(
    how: str, size: str, caches: Path, folder: Path | None = None
) -> tuple[list[object], str]:
    """Return what a search finds in a process of its own, and what it tells the person."""
    words = [sys.executable, "-c", SEARCHES, str(TESTS / "bench"), how, size]
    done = subprocess.run(
        words if folder is None else [*words, str(folder)],
        cwd=TESTS.parent,
        env={**os.environ, "XDG_CACHE_HOME": str(caches)},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: list[object] = json.loads(done.stdout)
    return found, done.stderr


def test_without_machine_code_the_same_rounds_find_the_same(tmp_path: Path) -> None:
    fast, _ = searched("fast", "played", tmp_path)
    plain, said = searched("plain", "played", tmp_path)
    assert (fast[0], plain[0]) == (True, False)
    assert plain[1:7] == fast[1:7]
    assert plain[-1] == fast[-1] == 0
    assert "pip install 'wingrest[fast]'" in said


def test_that_there_is_no_machine_code_is_said_once(tmp_path: Path) -> None:
    assert searched("plain", "played", tmp_path)[1]
    assert not searched("plain", "played", tmp_path)[1]


def test_a_weekend_is_the_same_plan_without_machine_code(tmp_path: Path) -> None:
    assert (
        searched("plain", "weekend", tmp_path)[0][7] == searched("fast", "weekend", tmp_path)[0][7]
    )


def _spoil(folder: Path, how: str) -> None:
    kept = sorted(folder.rglob("*.nbi" if how == "empty index" else "*.nbc"))
    assert kept
    for path in kept:
        data = path.read_bytes()
        half = len(data) // 2
        spoiled = {
            "truncated": data[:half],
            "another": data[:half] + bytes([data[half] ^ 1]) + data[half + 1 :],
            "empty": b"",
            "empty index": b"",
        }
        path.write_bytes(spoiled[how])


@pytest.mark.long
def test_damaged_machine_code_is_made_anew_and_that_is_said(tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    folder.mkdir()
    first, said = searched("fast", "weekend", tmp_path, folder)
    assert said.startswith("Making machine code for the search, once after an installation")
    again, said = searched("fast", "weekend", tmp_path, folder)
    assert (again, said) == (first, "")
    for how in ("truncated", "another", "empty index"):
        _spoil(folder, how)
        found, said = searched("fast", "weekend", tmp_path, folder)
        assert found == first, how
        assert said.count("was damaged") == 1, (how, said)
        assert searched("fast", "weekend", tmp_path, folder) == (first, ""), how


@pytest.mark.long
def test_several_who_make_it_at_once_damage_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    folder.mkdir()
    with ThreadPoolExecutor(4) as people:
        all_found = list(
            people.map(lambda _: searched("fast", "weekend", tmp_path, folder), range(4))
        )
    assert len({json.dumps(found) for found, _ in all_found}) == 1
    assert not [said for _, said in all_found if "damaged" in said or "cannot be kept" in said]
    assert searched("fast", "weekend", tmp_path, folder)[1] == ""


@pytest.mark.long
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no full disk to write to")
def test_where_nothing_can_be_kept_it_is_made_for_the_run(tmp_path: Path) -> None:
    folder = tmp_path / "a file"
    folder.write_text("no folder can be here", "utf-8")
    found, said = searched("fast", "weekend", tmp_path, folder)
    assert found[0] is True
    assert said.count("cannot be kept") == 1
