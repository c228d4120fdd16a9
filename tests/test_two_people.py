"""Two people on one Saturday: each their own boards, minutes and events; nothing twice."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from bench_cases import Desk, weekend
from icalendar import Calendar

from scheduler.cli.which_calendar import KIND_NAMES
from scheduler.feed.variants import KINDS

FRIDAY, SATURDAY, SUNDAY = "2027-05-07T21:00", "2027-05-08T09:00", "2027-05-09T08:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Anke has the Saturday of the sample, Bo two hours from the same nine o'clock on."""
    made = weekend(tmp_path)
    made.did("session", "SAT-08", "--minutes", "180", "--who", "Anke")
    made.did("session", "2027-05-08 09:00", "--minutes", "120", "--who", "Bo")
    made.did("plan")
    for room in ("study", "north"):
        made.did("air", room, "52", now=SATURDAY)
    return made


def today(desk: Desk, *words: str, now: str = SATURDAY) -> Any:
    return json.loads(desk.did("today", "--format", "json", *words, now=now))


def boards_of(bench: Any) -> set[str]:
    return {s["board"] for s in bench["mount"]} | {o["board"] for o in bench["take_off"]}


def titles(desk: Desk, now: str, *words: str) -> list[str]:
    out = desk.store.parent / "two.ics"
    desk.did("feed", "-o", out, *words, now=now)
    return [str(e["SUMMARY"]) for e in Calendar.from_ical(out.read_bytes()).events]


def test_a_board_is_in_one_pair_of_hands(desk: Desk) -> None:
    day = today(desk)
    benches = [day["session"], *day["beside"]]
    assert [b["who"] for b in benches] == ["Bo", "Anke"]
    assert not boards_of(benches[0]) & boards_of(benches[1])
    asked = {who: {d["board"] for d in today(desk, "--who", who)["test"]} for who in ("anke", "bo")}
    assert not asked["anke"] & asked["bo"]
    assert asked["anke"] | asked["bo"] == {d["board"] for d in day["test"]}
    for bench in benches:
        mounted = {s["board"] for s in bench["mount"]}
        assert not mounted & asked["anke" if bench["who"] == "Bo" else "bo"]


def test_each_is_asked_for_their_own_and_strangers_for_nothing(desk: Desk) -> None:
    said = desk.did("today", "--who", "bo", now=SATURDAY)
    assert said.startswith("Sat 8 May 2027, 09:00, for Bo\n")
    assert "120 min, Bo" in said
    assert "Anke" not in said
    assert "Those with a name are Anke's and Bo's" in desk("today", "--who", "Cleo").err
    sheet = desk.did("plan", "--who", "anke")
    assert "SAT-08: Sat 8 May" in sheet
    assert not [line for line in sheet.splitlines() if line.lstrip().startswith("2027-05-08-Bo:")]


def test_what_each_did_is_said_of_them_the_day_after(desk: Desk) -> None:
    before = [t for t in titles(desk, FRIDAY) if t.startswith("Bench")]
    anke = next(t for t in before if t.startswith("Bench Anke 9:00, 180 min: "))
    bo = next(t for t in before if t.startswith("Bench Bo 9:00, 120 min: "))
    for session, title in (("SAT-08", anke), ("2027-05-08-Bo", bo)):
        planned = int(title.rpartition("mount ")[2])
        for specimen in in_order(desk, session):
            desk.did("relax", *specimen, now="2027-05-06T20:00")
        off = [o for b in benches(desk) if b["session"] == session for o in b["take_off"]]
        for one in off:
            desk.did("test", one["board"], "stiff", now=SATURDAY)
            desk.did("release", *one["specimens"], now=SATURDAY)
        desk.did("mount", session, now="2027-05-08T10:00")
        said = [t for t in titles(desk, SUNDAY) if t.startswith("✓ Bench")]
        whom = "Anke" if session == "SAT-08" else "Bo"
        (mine,) = [t for t in said if whom in t]
        assert mine.startswith(f"✓ Bench {whom}: {planned} mounted")


def benches(desk: Desk) -> list[Any]:
    day = today(desk)
    return [day["session"], *day["beside"]]


def in_order(desk: Desk, session: str) -> list[list[str]]:
    return [p["specimens"] for p in today(desk, now=FRIDAY)["put_in"] if p["session"] == session]


def test_each_has_a_calendar_and_the_chamber_is_shared(desk: Desk) -> None:
    everybody, anke, bo = (
        titles(desk, FRIDAY, *w) for w in ((), ("--who", "anke"), ("--who", "Bo"))
    )
    for mine, theirs, whose in ((anke, bo, "Anke"), (bo, anke, "Bo")):
        bench = [t for t in mine if t.startswith("Bench")]
        assert any(whose in t for t in bench)
        assert not any(whose in t for t in theirs)
        assert any(t.startswith("Bench 14:00") for t in bench), "Sunday is anybody's"
        assert {
            t for t in mine if t.startswith("B") and ":" in t and not t.startswith("Bench")
        } == {t for t in everybody if t.startswith("B") and ":" in t and not t.startswith("Bench")}
    goes_in = {
        who: {
            name
            for p in today(desk, "--who", who, now="2027-05-06T19:00")["put_in"]
            for name in p["specimens"]
        }
        for who in ("Anke", "Bo")
    }
    assert all(goes_in.values())
    assert goes_in["Anke"] != goes_in["Bo"]


def test_one_feed_per_room_per_kind_and_one_event_a_day(desk: Desk) -> None:
    assert tuple(KINDS) == KIND_NAMES
    daily = titles(desk, FRIDAY, "--daily", "--room", "study")
    assert daily
    assert all("to test: " in t or t.startswith("✓") for t in daily)
    assert len(titles(desk, FRIDAY, "--kind", "sessions")) == 3
    assert len(titles(desk, FRIDAY, "--most", "2")) == 2
    out = desk.store.parent / "none.ics"
    said = desk("feed", "-o", out, "--who", "Cleo").err
    assert "there is no calendar of 'Cleo'" in said
    assert "people have sessions: Anke and Bo" in " ".join(said.split())
    assert "Leave --room out" in desk("feed", "-o", out, "--room", "study", "--who", "Bo").err
    assert "Leave --kind all out" in desk("feed", "-o", out, "--kind", "all", "--daily").err
    assert not out.exists()


def test_who_is_at_the_bench_keeps_the_plan_that_they_mount_by(desk: Desk) -> None:
    (lost, *others) = [p["specimen"] for p in benches(desk)[1]["mount"]]
    said = desk.did("lost", lost, "fell from the bench", now="2027-05-08T10:40")
    assert "The plan was mended" not in said, "they record at noon what they mount now"
    mine = {
        s["specimen"]
        for s in today(desk, "--who", "Anke", now="2027-05-08T10:41")["session"]["mount"]
    }
    assert mine == set(others)
