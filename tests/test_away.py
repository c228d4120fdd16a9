"""Days off: no session in them, a warning before, and the first day back asks for what waited."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from bench_cases import WEDNESDAY, Desk, weekend
from icalendar import Calendar


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def titles(desk: Desk, now: str = WEDNESDAY) -> dict[str, str]:
    """Titles by day."""
    path = desk.store.parent / "away.ics"
    desk.did("feed", "-o", path, now=now)
    events = Calendar.from_ical(path.read_bytes()).events
    return {str(e["SUMMARY"]): f"{e.start:%Y-%m-%d}" for e in events}


def test_days_off_say_what_they_cost_and_mend_the_plan(desk: Desk) -> None:
    said = desk.did("away", "2027-05-08", "2027-05-09", now=WEDNESDAY)
    assert "nobody is at SAT-08 (Sat 09:00) and SUN-09 (Sun 14:00)" in said
    assert "back on Mon 10 May" in said
    planned = json.loads(desk.did("plan", "--format", "json", now=WEDNESDAY))
    assert [s["session"] for s in planned["sessions"]] == []


def test_the_calendar_has_no_session_in_them_and_warns_on_the_day_before(desk: Desk) -> None:
    desk.did("away", "2027-05-08", "2027-05-11", now=WEDNESDAY)
    told = titles(desk)
    assert not [t for t in told if t.startswith("Bench")]
    assert not [t for t in told if t.startswith("Chamber: in")]
    assert told["Away from Sat: B3 due, B10 due"] == "2027-05-07"
    assert told["B3: test M-05"] == "2027-05-12", "the first day back asks for what waited"
    off = {f"2027-05-{d:02}" for d in range(8, 12)}
    assert not off & set(told.values())


def test_what_is_in_the_chamber_must_leave_it_before(desk: Desk) -> None:
    desk.did("relax", "K-07", now="2027-05-06T20:00")
    said = desk.did("away", "2027-05-08", "2027-05-16", now="2027-05-06T20:05")
    assert "Out of the chamber before: K-07" in said
    said = desk.did("today", now="2027-05-06T20:10")
    assert "away from Sat 8 May to Sun 16 May" in said
    assert "wingrest putback K-07 fridge" in said


def test_today_in_days_off_asks_nobody_to_a_session(desk: Desk) -> None:
    desk.did("away", "2027-05-08", "2027-05-09", now=WEDNESDAY)
    today = json.loads(desk.did("today", "--format", "json", now="2027-05-08T08:00"))
    assert today["session"] is None
    assert [w["text"] for w in today["worries"] if w["kind"] == "away"]


def test_undo_brings_the_sessions_back(desk: Desk) -> None:
    before = titles(desk)
    desk.did("away", "2027-05-08", "2027-05-09", now=WEDNESDAY)
    desk.did("undo", now=WEDNESDAY)
    desk.did("plan", now=WEDNESDAY)
    sessions = {t: d for t, d in titles(desk).items() if t.startswith("Bench")}
    assert set(sessions.values()) == {d for t, d in before.items() if t.startswith("Bench")}


def test_the_same_days_twice_record_nothing(desk: Desk) -> None:
    desk.did("away", "2027-05-08", "2027-05-09", now=WEDNESDAY)
    assert "recorded already" in desk.did("away", "2027-05-08", "2027-05-08", now=WEDNESDAY)


@pytest.mark.parametrize(
    ("first", "last", "reason"),
    [
        ("2027-05-09", "2027-05-08", "is before 2027-05-09"),
        ("2027-05-08", "2028-05-09", "more than a year"),
        ("2026-05-08", "2026-05-09", "is over"),
        ("soon", "later", "date"),
    ],
)
def test_days_that_cannot_be_meant_are_refused(
    desk: Desk, first: str, last: str, reason: str
) -> None:
    run = desk("away", first, last, now=WEDNESDAY)
    assert (run.status, run.out) == (2, "")
    assert reason in run.err


def test_a_day_off_within_others_is_one_stretch() -> None:
    from scheduler.record.snapshot import Snapshot
    from scheduler.words.records import Away

    days = tuple(Away(date(2027, 5, a), date(2027, 5, b)) for a, b in ((8, 9), (9, 12)))
    facts = Snapshot(away=days)
    assert facts.there_on(date(2027, 5, 8)) == date(2027, 5, 13)
    assert facts.there_on(date(2027, 5, 7)) == date(2027, 5, 7)


def test_back_sooner_and_not_going_at_all(desk: Desk) -> None:
    desk.did("away", "2027-05-08", "2027-05-24")
    said = desk.did("away", "2027-05-12", "2027-05-14", "--there")
    assert "still away from Sat 8 May to Tue 11 May and Sat 15 May to Mon 24 May" in " ".join(
        said.split()
    )
    desk.did("away", "2027-05-15", "2027-05-30", "--there")
    said = desk.did("away", "2027-05-08", "2027-05-08", "--there")
    assert "wins a place" in said, "Saturday's session is held again"
    assert "SAT-08" in desk.did("plan")
    said = desk("away", "2027-05-20", "2027-05-21", "--there").err
    assert "has no days off. Those recorded are Sun 9 May to Tue 11 May" in " ".join(said.split())
    desk.did("undo")
    assert "Sat 8 May to Tue 11 May is recorded already" in desk.did(
        "away", "2027-05-08", "2027-05-11"
    )


def test_one_of_two_people_is_away(desk: Desk) -> None:
    desk.did("session", "SAT-08", "--minutes", "180", "--who", "Anke")
    desk.did("session", "2027-05-08 09:00", "--minutes", "120", "--who", "Bo")
    said = desk.did("away", "2027-05-08", "2027-05-16", "--who", "anke")
    assert "away from Sat 8 May to Sun 16 May (Anke)" in said
    assert "nobody is at SAT-08 (Sat 09:00)" in said
    told = titles(desk)
    assert not [t for t in told if "Anke" in t]
    assert [t for t in told if t.startswith("Bench Bo 9:00, 120 min")]
    assert "B3: test M-05" in told, "the boards are asked for: Bo is there"
    assert "Those with a name are" in desk("away", "2027-05-08", "2027-05-09", "--who", "Cy").err
