"""One weekend told in commands, from the Wednesday on which it is planned to a dry board in May.

The batch is the invented one of sample_batches/first_weekend.
"""

from __future__ import annotations

import json
from pathlib import Path

from bench_cases import FIRST_WEEKEND, Desk
from calendar_lint import lint
from icalendar import Calendar

from scheduler.planner.plan_json import plan_from_json
from scheduler.planner.problem_json import problem_from_json
from scheduler.planner.referee.verdict import judge
from scheduler.record.store import Store


def titles(path: Path) -> list[str]:
    data = path.read_bytes()
    assert lint(data) == []
    return [str(event["SUMMARY"]) for event in Calendar.from_ical(data).events]


def image(desk: Desk) -> str:
    with Store(desk.store) as store:
        return store.image()


def test_a_weekend_at_the_bench(tmp_path: Path) -> None:
    desk, phone = Desk(tmp_path / "record.sqlite"), tmp_path / "phone.ics"

    # Wednesday evening: everything that waits, and what stands on the boards already.
    wednesday = "2027-05-05T18:00"
    said = desk.did("load", FIRST_WEEKEND, now=wednesday)
    assert "12 boards, 50 specimens, 3 sessions and 10 placements" in " ".join(said.split())
    again = desk.did("load", FIRST_WEEKEND, now=wednesday)
    assert "nothing new" in again

    # The plan, which the referee accepts when it is asked separately.
    problem_file = tmp_path / "problem.json"
    words = ("plan", "--format", "json", "--problem", problem_file)
    shown = json.loads(desk.did(*words, now=wednesday))
    problem = problem_from_json(json.loads(problem_file.read_text(encoding="utf-8")))
    assert judge(problem, plan_from_json(problem.timezone, shown)) == []
    saturday, sunday = shown["sessions"][:2]
    assert (saturday["session"], sunday["session"]) == ("SAT-08", "SUN-09")
    assert saturday["minutes_used"] <= saturday["minutes"] == 180

    # Three that will not keep are all in time; one body is thicker than every groove.
    placed = {p["specimen"]: p for s in shown["sessions"] for p in s["placements"]}
    assert {"M-25", "M-26", "K-02"} <= set(placed)
    reasons = {u["specimen"]: u["reason"] for u in shown["unplaced"]}
    assert reasons["M-23"] == "body 13.1 mm: the widest groove is 12 mm, board B9"
    assert len(placed) + len(reasons) == 40

    # The sheet says what goes into the chamber on Thursday, and the phone says it too.
    sheet = desk.did("plan", now=wednesday)
    assert "Into the relaxing chamber\n  Thu 6 May 20:00, out by Sun 9 May 20:00: K-07" in sheet
    desk.did("feed", "-o", phone, now=wednesday)
    assert any(t.startswith("Chamber: in") for t in titles(phone))

    # Saturday morning: may the boards be freed? B5 may, B12 with its skipper may not.
    morning = "2027-05-08T09:00"
    by_feel = " ".join(desk.did("ready", "B5", now=morning).split())
    assert "nobody ever read the air of study: take off only on a day that feels dry" in by_feel
    desk.did("air", "study", "52", now=morning)
    assert desk("ready", "B5", now=morning).status == 0
    assert desk("ready", "B12", now=morning).status == 1
    assert desk("release", "B12", now=morning).status == 3

    # The plan needs all of Saturday for mounting. On Sunday three of the five that are due come
    # off, as many as the minutes allow; before that if minutes are left. Nobody needs their slots.
    assert saturday["test_first"] == []
    assert sorted({one["board"] for one in sunday["test_first"]}) == ["B10", "B3", "B5"]
    assert len(sunday["test_first"]) == 3
    as_well = " ".join(sheet.split("If minutes are left, test and take off:")[1].split())
    assert all(f"{board}:" in as_well for board in ("B10", "B3", "B5"))
    desk.did("release", "B10", "B3", "B5", now="2027-05-08T09:20")
    noon = "2027-05-08T12:10"
    strips = desk.did("mount", "SAT-08", "--except", "M-24", now=noon)
    assert "K-07 · 8.V. · test from 26.V." in strips

    # A mishap: one of Sunday's is noted on a board that it does not stand on yet, and taken back.
    before, early = image(desk), sunday["placements"][0]
    desk.did("mount", early["specimen"], "--board", early["board"], now=noon)
    desk.did("undo", now=noon)
    assert image(desk) == before

    # Sunday is planned anew with the hawkmoth that was left over.
    shown = json.loads(desk.did("plan", "--format", "json", now="2027-05-08T12:30"))
    assert "M-24" in {p["specimen"] for s in shown["sessions"] for p in s["placements"]} | {
        u["specimen"] for u in shown["unplaced"]
    }
    desk.did("feed", "-o", phone, now="2027-05-08T12:30")
    assert "✓ B5: M-01, M-02 off 8 May" in titles(phone)

    # Two weeks on, the peacock of Saturday is due on the day that was written on its strip.
    desk.did("air", "north", "62", now="2027-05-25T22:00")
    assert desk("ready", "K-07", now="2027-05-25T23:00").status == 1
    answer = desk("ready", "K-07", now="2027-05-26T08:00")
    assert answer.status == 0
    assert "How to test" in answer.out
    desk.did("release", "K-07", now="2027-05-26T08:10")
    assert desk("ready", "B4", now="2027-05-26T08:15").out == "B4: EMPTY, nothing stands on it.\n"

    # Every step stands in the journal, and step by step all of it can be taken back.
    lines = json.loads(desk.did("journal", "--format", "json", now="2027-05-26T09:00"))["journal"]
    assert [one["command"] for one in lines] == [
        "load",
        "air",
        "release",
        "mount",
        "mount",
        "undo",
        "air",
        "release",
    ]
    for _ in range(5):
        desk.did("undo", now="2027-05-26T09:00")
    desk.did("undo", "--yes", now="2027-05-26T09:00")  # a whole load
    assert image(desk) == ""
