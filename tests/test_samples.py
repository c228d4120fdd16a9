"""The sample batches: each loads, is planned past its referee, and is what its page says."""

from __future__ import annotations

import csv
import json
import math
import re
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import crowded_season
import pytest
from bench_cases import Desk, rules

from scheduler.drying.law import Law, SteadyAir
from scheduler.intake.batch.settings import demo_now
from scheduler.planner.plan_json import plan_from_json
from scheduler.planner.problem import PlanProblem
from scheduler.planner.problem_json import problem_from_json
from scheduler.planner.referee.verdict import judge

SAMPLES = Path(__file__).parent.parent / "sample_batches"
GOOD = ("first_weekend", "damp_july", "damp_fortnight", "crowded_season", "brood_of_fourteen")
READ_THROUGH = {"crowded_season": 360}
"""The most lines of a demonstration, 300 where nothing is said: a sheet grows with what is
mounted, and two of the three that the crowded season shows are full, 16 specimens each."""
LATER = re.compile(r"  and (\d+) more until ")
ORDINARY = {"study", "attic", "north"}
"""The rooms of the damp July in which nothing but air dries."""


@cache
def planned(name: str) -> tuple[PlanProblem, dict[str, Any]]:
    """A sample as it was planned: the problem and the plan's JSON."""
    now = demo_now(SAMPLES / name)
    assert now is not None
    with TemporaryDirectory(prefix="wingrest-tests-") as folder:
        desk, problem = Desk(Path(folder) / "record.sqlite"), Path(folder) / "problem.json"
        desk.did("load", SAMPLES / name, now=now.isoformat())
        words = ("plan", "--format", "json", "--problem", problem)
        plan = json.loads(desk.did(*words, now=now.isoformat()))
        return problem_from_json(json.loads(problem.read_text(encoding="utf-8"))), plan


def table(name: str, file: str) -> list[dict[str, str]]:
    with (SAMPLES / name / file).open(encoding="utf-8", newline="") as rows:
        return list(csv.DictReader(rows))


@pytest.mark.parametrize("name", GOOD)
def test_the_demonstration_runs(name: str, tmp_path: Path) -> None:
    now = demo_now(SAMPLES / name)
    assert now is not None
    desk, into = Desk(tmp_path / "none.sqlite"), tmp_path / "demo"
    shown = desk.did("demo", SAMPLES / name, "--into", into, now=now.isoformat()).splitlines()
    assert any(line.startswith("--- Where everything is") for line in shown)
    assert len(shown) < READ_THROUGH.get(name, 300)
    sheets = sum(line.strip("=") == "" and line != "" for line in shown)
    sessions = planned(name)[0].sessions
    in_a_line = [s for s in sessions if any(x.startswith(f"  {s.session}: ") for x in shown)]
    assert sheets == min(3, len(sessions))
    # What comes after those in a line is counted in one, so that no session is passed over.
    later = [int(found[1]) for line in shown if (found := LATER.match(line))]
    assert len(later) == (len(sessions) > sheets + len(in_a_line))
    assert sheets + len(in_a_line) + sum(later) == len(sessions)
    paths = (str(SAMPLES), str(into))
    assert [s for s in shown if len(s) > 80 and not any(path in s for path in paths)] == []
    assert not (tmp_path / "none.sqlite").exists()


@pytest.mark.parametrize("name", GOOD)
def test_the_referee_finds_nothing_in_the_plan(name: str) -> None:
    problem, plan = planned(name)
    assert judge(problem, plan_from_json(problem.timezone, plan)) == []
    assert any(session["placements"] for session in plan["sessions"])


@pytest.mark.parametrize("name", GOOD)
def test_every_sample_says_that_it_is_invented(name: str) -> None:
    for row in table(name, "specimens.csv"):
        assert "(invented)" in row["locality"], row["specimen"]
        assert "(invented)" in row["recordedBy"], row["specimen"]


def test_a_damp_july_promises_nothing_early() -> None:
    # Days at 50 % and 20 deg C are the shortest that the handbooks print for ordinary air; nothing
    # was read in these rooms, so the law says to the day how many the said air asks for instead.
    _, plan = planned("damp_july")
    law = Law(rules())
    air = {
        row["room"]: SteadyAir(float(row["rh_pct"]), float(row["temp_c"]))
        for row in table("damp_july", "rooms.csv")
        if row["room"] in ORDINARY
    }
    specimens = {row["specimen"]: row for row in table("damp_july", "specimens.csv")}
    rooms = {row["board"]: row["room"] for row in table("damp_july", "boards.csv")}
    judged = 0
    for one in (p for session in plan["sessions"] for p in session["placements"]):
        row = specimens[one["specimen"]]
        if rooms[one["board"]] not in ORDINARY or not row["body_mm"] or one["min_days"] is None:
            continue
        dry = rules().at_50(
            family=rules().family(row["family"], row["group"]).family,
            body_mm=float(row["body_mm"]),
            state="dried" if row["state"] == "dried" else "fresh",
        )
        pace = law.pace(float(row["body_mm"]), air[rooms[one["board"]]])
        assert one["min_days"] == math.ceil(dry.min_days / pace - 1e-9) > 1.5 * dry.min_days, one
        judged += 1
    assert judged >= 5


def test_what_is_fresh_in_a_damp_july_goes_into_the_freezer_where_no_air_gives_a_time() -> None:
    # Common practice, no source: what cannot be spread in time waits in the freezer.
    problem, plan = planned("damp_july")
    placed = {p["specimen"]: p for session in plan["sessions"] for p in session["placements"]}
    fresh = {f"J-{number:02}" for number in range(8, 16)}
    freezer = {w.specimen for w in problem.waiting if any(p.place == "freezer" for p in w.later)}
    spoils = {w.specimen for w in problem.waiting if w.lost_at is not None}
    assert fresh == freezer | spoils
    assert {name for name, p in placed.items() if p["due"] is None} <= spoils
    assert plan["quality"]["spoiled"] == 0


def test_a_damp_july_has_a_warm_cabinet_and_a_desiccant_box_that_are_small() -> None:
    regimes = {row["room"]: row["regime"] for row in table("damp_july", "rooms.csv")}
    boards = table("damp_july", "boards.csv")
    small = [int(b["length_mm"]) for b in boards if regimes[b["room"]] != "room"]
    other = [int(b["length_mm"]) for b in boards if regimes[b["room"]] == "room"]
    assert {regimes[b["room"]] for b in boards} == {"room", "desiccant", "warm"}
    assert max(small) < min(other)
    damp = [float(r["rh_pct"]) for r in table("damp_july", "rooms.csv") if r["regime"] == "room"]
    assert min(damp) >= 70
    assert max(damp) <= 78


def test_the_crowded_season_is_what_its_generator_writes() -> None:
    made = crowded_season.season()
    there = {
        path.name: path.read_text(encoding="utf-8") for path in crowded_season.FOLDER.iterdir()
    }
    assert there == made


def test_the_crowded_season_is_crowded() -> None:
    problem, plan = planned("crowded_season")
    assert len(problem.boards) == 30
    assert len(problem.sessions) == 20
    assert len(problem.waiting) + len(problem.misfits) + len(problem.standing) == 400
    assert plan["unplaced"]
