"""The kept plan: small, whole, and known to answer the record or not."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import fields, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from bench_cases import FIRST_WEEKEND, WEDNESDAY, Desk, local
from hypothesis import given
from plan_cases import weekend_plan, weekend_problem
from test_problem_json import plans

from scheduler.planner.problem import Plan, PlanProblem, PlanWaiting, Scarce
from scheduler.planner.problem_json import plan_to_json, problem_to_json
from scheduler.record.kept import Kept, basis, keep_plan, kept_plan, resting_on
from scheduler.record.migrations import MIGRATIONS
from scheduler.record.plan_text import kept_of, text_of
from scheduler.record.store import Store

AT = local(WEDNESDAY)


@given(plans())
def test_law_a_kept_plan_read_back_is_the_same(case: tuple[PlanProblem, Plan]) -> None:
    problem, plan = case
    known = plan._replace(by_hand=plan.quality, status="bounded", bound=3, stopped=True)
    known = known._replace(scarce=Scarce({"SAT": 0.25}, {"B1": 1.5}))
    kept = Kept.of(problem, known, problem.now, frozenset({"M1"}))
    assert kept_of(text_of(kept), problem.now) == kept


@given(plans())
def test_every_specimen_of_the_plan_is_known(case: tuple[PlanProblem, Plan]) -> None:
    problem, plan = case
    kept = Kept.of(problem, plan, problem.now)
    named = {p.specimen for p in plan.placements} | {name for name, _ in plan.unplaced}
    assert kept.names == named


def test_the_digest_tells_every_change_of_the_problem() -> None:
    of = weekend_problem()
    assert resting_on(of) == resting_on(weekend_problem())
    assert resting_on(replace(of, take_off_min=of.take_off_min + 1)) != resting_on(of)
    others: dict[str, Any] = dict.fromkeys((one.name for one in fields(PlanWaiting)), "another")
    others |= {"spare_mm": {"B9": 1.0}, "pack": {"B9"}}
    for name, other in others.items():
        first = replace(of.waiting[0], **{name: other})
        changed = replace(of, waiting=(first, *of.waiting[1:]))
        assert resting_on(changed) != resting_on(of), name


def test_what_was_left_out_is_known_with_when_it_is_lost() -> None:
    of, plan = weekend_problem(), weekend_plan()
    kept = Kept.of(of, plan, of.now)
    (name, _), *_ = plan.unplaced
    (lost_at,) = (w.lost_at for w in of.waiting if w.specimen == name)
    assert lost_at is not None
    assert kept.left_out_for(name, lost_at)
    assert not kept.left_out_for(name, lost_at + timedelta(days=1))
    assert not kept.left_out_for(plan.placements[0].specimen, lost_at)


def _of_version_4(path: Path, text: str) -> None:
    """Make a record as the fourth version wrote it, with a kept plan."""
    db = sqlite3.connect(path)
    for script in MIGRATIONS[:4]:
        db.executescript(script)
    db.execute("INSERT INTO meta(key, value) VALUES ('namespace', ?)", ("0" * 32,))
    db.execute("INSERT INTO kept_plan VALUES (1, '2027-05-05T16:00:00Z', 'digest', ?)", (text,))
    db.execute("PRAGMA user_version = 4")
    db.commit()
    db.execute("PRAGMA journal_mode = WAL")
    db.close()


def _as_it_was(problem: PlanProblem, plan: Plan, ballast: int = 0) -> str:
    """Return a kept plan as the fourth version wrote it: with its whole problem."""
    written: dict[str, Any] = {
        "problem": problem_to_json(problem) | {"ballast": "x" * ballast},
        "plan": plan_to_json(problem, plan._replace(by_hand=plan.quality)),
        "proof": {
            "status": "bounded",
            "bound": 7,
            "gap": 0.5,
            "minute_saves": {"SAT": 0.5},
            "board_saves": {},
            "stopped": False,
        },
        "pinned": ["M1"],
    }
    return json.dumps(written)


def test_a_plan_kept_with_its_problem_is_still_read(tmp_path: Path) -> None:
    of, plan = weekend_problem(), weekend_plan()
    _of_version_4(tmp_path / "record.sqlite", _as_it_was(of, plan))
    with Store(tmp_path / "record.sqlite") as store:
        kept = kept_plan(store)
        (text,) = store.db.execute("SELECT plan FROM kept_plan").fetchone()
    assert "spare_mm" not in text
    known = plan._replace(by_hand=plan.quality, status="bounded", bound=7)
    known = known._replace(scarce=Scarce({"SAT": 0.5}))
    assert kept is not None
    expected = Kept.of(of, known, kept.kept_at, frozenset({"M1"}))
    assert kept._replace(lost_at={}) == expected._replace(rests_on="", lost_at={})
    assert kept.lost_at.items() >= expected.lost_at.items()


def test_the_file_gives_back_what_the_old_plan_took(tmp_path: Path) -> None:
    of, plan = weekend_problem(), weekend_plan()
    path = tmp_path / "record.sqlite"
    _of_version_4(path, _as_it_was(of, plan, ballast=20_000_000))
    assert path.stat().st_size > 20_000_000
    with Store(path) as store:
        assert keep_plan(store, Kept.of(of, plan, of.now), basis(store))
    assert path.stat().st_size < 1_000_000


def test_planning_on_and_on_does_not_let_the_record_grow(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND, now=WEDNESDAY)
    desk.did("plan", now=WEDNESDAY)
    before = desk.store.stat().st_size
    for minute in range(10):
        desk.did("plan", "--effort", "quick", now=f"2027-05-05T18:{minute + 10}")
    assert desk.store.stat().st_size <= before + 100_000


def test_an_unchanged_record_keeps_its_plan_without_planning(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND, now=WEDNESDAY)
    said = desk.did("plan", now=WEDNESDAY)
    with Store(desk.store) as store:
        first = kept_plan(store)
    assert desk.did("plan", now=WEDNESDAY) == said
    with Store(desk.store) as store:
        assert kept_plan(store) == first
