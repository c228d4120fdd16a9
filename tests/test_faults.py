"""A short round of `python tests/faults.py`; the long one is run by hand and dated."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="forks, and limits of Linux"
)


def faults(*words: str, script: str = "faults.py") -> str:
    done = subprocess.run(
        [sys.executable, str(HERE / script), *words], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_nothing_is_lost_and_nothing_half_done() -> None:
    said = faults("--rounds", "20", "--verbs", "add", "air", "undo", "backup")
    assert said.endswith("20 faults, 0 lost, 0 half-done\n")
    assert re.search(r"clock [1-4]\b.*killed [1-4]\b.*torn copy 4", said)


def test_what_eight_write_at_once_is_all_there() -> None:
    said = faults("--writers", "8", "--seconds", "4")
    assert re.fullmatch(r"\n?8 writers, \d+ lines, 0 lost or wrong\n", said)


def test_two_verbs_a_server_a_publishing_and_a_restore_are_broken_in_the_middle() -> None:
    said = faults("--rounds", "4", script="faults_together.py")
    assert said.endswith("4 faults, 0 lost, 0 half-done\n")


@pytest.mark.long
def test_every_pair_of_verbs_is_begun_together_and_one_of_them_killed() -> None:
    words = ("--kinds", "two verbs", "--rounds", "210", "--seed", "2")
    said = faults(*words, script="faults_together.py")
    assert said.endswith("210 faults, 0 lost, 0 half-done\n")


@pytest.mark.long
def test_every_verb_under_every_fault() -> None:
    assert faults("--rounds", "420", "--seed", "2").endswith("420 faults, 0 lost, 0 half-done\n")
