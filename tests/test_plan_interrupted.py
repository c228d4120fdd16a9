"""Ctrl-C while planning, in a real process: it gives the best plan so far, and says so.

A real signal comes at the first call of a function, so that every phase can be met.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest
from bench_cases import FIRST_WEEKEND, WEDNESDAY, Desk

from scheduler.looks.problem import build_problem
from scheduler.planner.referee.verdict import judge
from scheduler.record.kept import kept_plan
from scheduler.record.store import Store
from scheduler.rulebook import load_rulebook
from scheduler.view import View

SEASON = FIRST_WEEKEND.parent / "crowded_season"
JUNE = "2027-06-25T18:00"

INTERRUPTED = """
import os, signal, sys
from scheduler.cli import main

def watch(frame, event, _):
    code = frame.f_code
    if event == "call" and (code.co_name, frame.f_globals.get("__name__")) == wanted:
        sys.setprofile(None)
        print("Ctrl-C", flush=True)
        for _ in range(int(sys.argv[3])):
            os.kill(os.getpid(), signal.SIGINT)

wanted = (sys.argv[2], sys.argv[1])
sys.setprofile(watch)
main(sys.argv[4:])
"""


class Phase(NamedTuple):
    """A function in a module, called once planning has come so far."""

    module: str
    function: str


def interrupted(
    desk: Desk, phase: Phase, now: str, times: int = 1
) -> subprocess.CompletedProcess[str]:
    """Plan in a process of its own that is interrupted so many times in a phase."""
    words = ("--store", str(desk.store), "--now", now, "plan", "--effort", "quick")
    done = subprocess.run(
        [sys.executable, "-c", INTERRUPTED, *phase, str(times), *words],
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=120,
        # A shell that runs tests in the background has them ignore Ctrl-C.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    assert done.stdout.startswith("Ctrl-C\n"), f"{phase} was never met: {done.stderr}"
    return done


def gives_a_plan(desk: Desk, phase: Phase, now: str) -> tuple[str, bool]:
    """Return what is said, in one line, and whether the kept plan is known as broken off."""
    run = interrupted(desk, phase, now)
    assert run.returncode == 0, run.stderr
    with Store(desk.store) as store:
        kept = kept_plan(store)
        assert kept is not None
        problem = build_problem(View(store.snapshot(), load_rulebook(), kept.asked_at))
    assert kept.placements
    assert judge(problem, kept.plan) == []
    assert kept.plan.by_hand is not None
    assert kept.plan.quality <= kept.plan.by_hand
    return " ".join(run.stdout.split()), kept.plan.stopped


def gives_the_best_so_far(desk: Desk, phase: Phase, now: str) -> None:
    said, stopped = gives_a_plan(desk, phase, now)
    assert "The search was broken off; this is the best plan so far." in said
    assert stopped


@pytest.fixture
def season(tmp_path: Path) -> Desk:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", SEASON, now=JUNE)
    return desk


@pytest.fixture
def weekend(tmp_path: Path) -> Desk:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND)
    return desk


@pytest.mark.parametrize(
    "phase",
    [
        Phase("scheduler.planner.bound.find", "find_bound"),
        Phase("scheduler.planner.bound.priced", "bound"),
        Phase("scheduler.planner.search.run", "run"),
    ],
    ids=lambda phase: phase.function,
)
def test_bound_and_search_give_the_best_plan_so_far(season: Desk, phase: Phase) -> None:
    gives_the_best_so_far(season, phase, JUNE)


def test_the_proof_gives_the_best_plan_so_far(weekend: Desk) -> None:
    gives_the_best_so_far(weekend, Phase("scheduler.planner.proof.prove", "prove"), WEDNESDAY)


def test_before_the_first_plan_stands_it_is_waited_for(season: Desk) -> None:
    gives_the_best_so_far(season, Phase("scheduler.looks.problem", "build_problem"), JUNE)
    gives_the_best_so_far(season, Phase("scheduler.planner.quick", "by_hand"), JUNE)


@pytest.mark.parametrize(
    "phase",
    [
        Phase("scheduler.planner.finish", "tidied"),
        Phase("scheduler.planner.finish", "explained"),
        Phase("scheduler.planner.referee.verdict", "judge"),
        Phase("scheduler.record.kept", "keep_plan"),
        Phase("scheduler.faces.sheet", "plan_lines"),
    ],
    ids=lambda phase: phase.function,
)
def test_what_was_found_is_not_lost_while_it_is_finished(season: Desk, phase: Phase) -> None:
    gives_a_plan(season, phase, JUNE)


def test_after_a_proof_ctrl_c_does_not_kill_the_process(weekend: Desk) -> None:
    run = interrupted(weekend, Phase("scheduler.record.kept", "keep_plan"), WEDNESDAY)
    assert run.returncode == 0


@pytest.mark.parametrize(
    "phase",
    [
        Phase("scheduler.planner.quick", "by_hand"),
        Phase("scheduler.planner.bound.find", "find_bound"),
    ],
    ids=lambda phase: phase.function,
)
def test_a_second_ctrl_c_ends_it_at_once_and_changes_nothing(season: Desk, phase: Phase) -> None:
    before = season.store.read_bytes()
    run = interrupted(season, phase, JUNE, times=2)
    assert run.returncode == -signal.SIGINT  # a shell calls it 130
    assert "Ctrl-C again gives it up" in run.stderr
    assert season.store.read_bytes() == before
