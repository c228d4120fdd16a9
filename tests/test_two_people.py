"""Two people on one Saturday: each their own boards, minutes and events; nothing twice."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from bench_cases import Desk, weekend
from icalendar import Calendar

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
    assert "2027-05-08-Bo" not in sheet.partition("Not placed")[0]


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
