"""`wingrest rooms`, and what does not fit in a room's tests. Rooms and specimens are invented."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from bench_cases import Desk, rules, weekend

from scheduler.learning.doubts import Doubt, doubts
from scheduler.learning.lessons import Lessons
from scheduler.learning.posterior import DryBetween
from scheduler.learning.taught import Judged, prior_of, shares_of
from scheduler.learning.witness import Drier, Witness

STUDY = Drier("study", False)
FIRST = datetime(2027, 1, 1, tzinfo=UTC)


def said(*found: Judged) -> list[Doubt]:
    """The doubts of a room with those tests, one a day."""
    every = [
        Witness(f"M-{n:02}", STUDY, 1, FIRST, FIRST + timedelta(days=n), 0.0, one)
        for n, one in enumerate(found)
    ]
    lessons = Lessons(every, shares_of(rules(), 0.7), rules())
    return list(doubts(lessons.rooms[STUDY], prior_of(rules())))


def between(above: float, below: float) -> Judged:
    return Judged(DryBetween(above, below))


def test_tests_that_agree_are_not_doubted() -> None:
    assert said(*[between(0.9, 1.2)] * 20) == []


def test_a_room_that_changed_is_named_with_both_figures() -> None:
    (doubt,) = said(*[between(0.8, 1.05)] * 12, *[between(1.4, 1.7)] * 6)
    assert doubt.kind == "changed"
    assert "the last 6 dried in 1.54 times" in doubt.text
    assert "those before in 0.92" in doubt.text


def test_a_droop_is_named_until_twenty_more_were_tested() -> None:
    droop = replace_droop(between(0.9, 1.2))
    assert [d.kind for d in said(*[between(0.9, 1.2)] * 5, droop)] == ["drooped"]
    assert said(*[between(0.9, 1.2)] * 5, droop, *[between(0.9, 1.2)] * 20) == []


def replace_droop(one: Judged) -> Judged:
    return one._replace(drooped=True)


def test_a_hand_that_never_finds_one_soft_is_asked_to_try_earlier() -> None:
    assert [d.kind for d in said(*[between(0.0, 1.1)] * 20)] == ["never soft"]
    assert said(*[between(0.0, 1.1)] * 19, between(0.9, 1.2)) == []


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A study in which eight were tested, and a cabinet in which nobody tested anything."""
    desk = Desk(tmp_path / "record.sqlite")
    now = "2027-05-01T10:00"
    desk.did("room", "study", "--rh", "50", "--temp", "20", now=now)
    desk.did("room", "cabinet", "--rh", "50", "--temp", "20", now=now)
    desk.did(*"board B1 --room study --groove 6 --span 120 --length 900".split(" "), now=now)
    desk.did(
        *"add Noctuidae --count 9 --frozen --body 4.5 --wingspan 38 --as M".split(" "), now=now
    )
    names = [f"M-0{n}" for n in range(1, 10)]
    desk.did("mount", "B1:", *names, now=now)
    desk.did("air", "study", "50", "20", now="2027-05-19T09:00")
    for n, name in enumerate(names[:8]):
        desk.did("test", name, "soft" if n % 2 else "stiff", now="2027-05-19T10:00")
    return desk


LATER = "2027-05-19T11:00"


def test_rooms_say_how_many_times_the_table(desk: Desk) -> None:
    out = " ".join(desk.did("rooms", now=LATER).split())
    assert "times the table's days (" in out
    assert "by 8 tests" in out
    assert "cabinet: 50 % assumed, 0 boards, 0 standing" in out


def test_ready_says_what_the_table_the_air_and_the_tests_bring(desk: Desk) -> None:
    run = desk("ready", "M-09", now=LATER)
    text = " ".join(run.out.split())
    assert "14 days by the table, +0 by the air, +" in text
    assert "70 % of such are dry by" in text
    assert "by tests" not in desk("ready", "M-09", "--table-only", now=LATER).out


def test_a_careful_person_has_later_dates(desk: Desk) -> None:
    before = due(desk)
    desk.did("rooms", "--share", "85", now=LATER)
    assert due(desk) > before
    desk.did("undo", now=LATER)
    assert due(desk) == before


def due(desk: Desk) -> str:
    run = desk("ready", "M-09", "--format", "json", now=LATER)
    (board,) = json.loads(run.out)["boards"]
    (specimen,) = board["specimens"]
    assert specimen["learned"]["tests"] == 8
    return str(specimen["due"])


def stiff_study(tmp_path: Path) -> Desk:
    """Twelve were stiff at once on their fifteenth day; five more stand, the last four younger."""
    desk = Desk(tmp_path / "record.sqlite")
    begin = "2027-05-01T10:00"
    desk.did("room", "study", "--rh", "50", "--temp", "20", now=begin)
    desk.did(*"board B1 --room study --groove 6 --span 120 --length 900".split(" "), now=begin)
    owlets = "add Noctuidae --count 17 --frozen --body 4.5 --wingspan 38 --as M"
    desk.did(*owlets.split(" "), now=begin)
    names = [f"M-{n:02}" for n in range(1, 18)]
    desk.did("mount", "B1:", *names[:12], now=begin)
    desk.did("release", *names[:12], now="2027-05-16T10:00")
    desk.did("mount", "B1:", names[12], now="2027-05-17T10:00")
    desk.did("mount", "B1:", *names[13:], now="2027-05-23T10:00")
    desk.did("air", "study", "50", "20", now="2027-05-31T17:00")
    return desk


def test_today_proposes_probes_beside_what_is_tested_anyway(tmp_path: Path) -> None:
    desk = stiff_study(tmp_path)
    day = json.loads(desk.did("today", "--format", "json", now="2027-05-31T18:00"))
    assert [t["specimens"] for t in day["test"]] == [["M-13"]]
    (probe,) = day["probes"]
    assert len(probe["specimens"]) <= 3
    assert set(probe["specimens"]) <= {"M-14", "M-15", "M-16", "M-17"}
    assert probe["gain_days"] >= 0.5
    said = " ".join(desk.did("today", now="2027-05-31T18:00").split())
    assert "Feel early" in said
    assert "would bring dates in study forward by about" in said


def answer(desk: Desk, name: str, now: str) -> tuple[str, str]:
    run = desk("ready", name, "--format", "json", now=now)
    (board,) = json.loads(run.out)["boards"]
    return board["answer"], board["specimens"][0]["note"]


def test_a_probe_that_is_stiff_stays_until_it_dried_on_and_is_stiff_again(tmp_path: Path) -> None:
    desk = stiff_study(tmp_path)
    felt = desk.did("test", "M-14", "stiff", now="2027-06-01T18:00")
    assert "wingrest release" not in felt
    said, why = answer(desk, "M-14", "2027-06-01T18:30")
    assert said == "not yet"
    assert "felt stiff on 1 Jun, too early to come off: leave it until Thu 3 Jun" in why
    run = desk("release", "M-14", now="2027-06-01T18:40")
    assert (run.status, "M-14 stays on B1" in run.err) == (3, True)
    # Seven hundredths of its fourteen days have not passed on the next morning.
    desk.did("test", "M-14", "stiff", now="2027-06-02T09:00")
    assert answer(desk, "M-14", "2027-06-02T09:30")[0] == "not yet"
    desk.did("air", "study", "50", "20", now="2027-06-03T17:50")
    said, why = answer(desk, "M-14", "2027-06-03T17:55")
    assert said == "test it now"
    assert "if it is stiff again, it may come off" in why
    again = desk.did("test", "M-14", "stiff", now="2027-06-03T18:00")
    assert "take off with: wingrest release B1" in again
    assert answer(desk, "M-14", "2027-06-03T18:10")[0] == "take off"


def test_a_probe_that_is_soft_when_felt_again_waits_as_any_soft_one(tmp_path: Path) -> None:
    desk = stiff_study(tmp_path)
    desk.did("test", "M-14", "stiff", now="2027-06-01T18:00")
    desk.did("air", "study", "50", "20", now="2027-06-03T17:50")
    desk.did("test", "M-14", "soft", now="2027-06-03T18:00")
    assert answer(desk, "M-14", "2027-06-09T18:00")[0] == "not yet"


def test_a_probe_that_was_stiff_is_tested_again_when_it_is_due(tmp_path: Path) -> None:
    desk = stiff_study(tmp_path)
    desk.did("test", "M-14", "stiff", now="2027-05-31T18:00")
    desk.did("air", "study", "50", "20", now="2027-06-06T09:00")
    assert answer(desk, "M-14", "2027-06-06T10:00")[0] == "test it now"
    desk.did("test", "M-14", "stiff", now="2027-06-06T10:30")
    assert answer(desk, "M-14", "2027-06-06T11:00")[0] == "take off"


def crowded_study(tmp_path: Path) -> Desk:
    """The study with forty more that wait and a session on 5 June, a day before four are due."""
    desk = stiff_study(tmp_path)
    now = "2027-06-01T10:00"
    desk.did("session", "2027-06-05", "10:00", "--minutes", "120", now=now)
    desk.did(*"add Noctuidae --count 40 --frozen --body 4.5 --wingspan 38 --as W".split(), now=now)
    desk.did("air", "study", "50", "20", now=now)
    desk.did("plan", now=now)
    return desk


def felt_for(desk: Desk, now: str) -> list[tuple[str | None, list[str]]]:
    day = json.loads(desk.did("today", "--format", "json", now=now))
    return [(p["session"], p["specimens"]) for p in day["probes"] if p["session"]]


def test_what_may_be_dry_is_felt_on_the_last_day_before_a_session_that_wants_its_slot(
    tmp_path: Path,
) -> None:
    desk = crowded_study(tmp_path)
    four = ["M-14", "M-15", "M-16", "M-17"]
    assert felt_for(desk, "2027-06-02T18:00") == [], "tomorrow is early enough"
    assert felt_for(desk, "2027-06-03T18:00") == [("2027-06-05", four)]
    assert felt_for(desk, "2027-06-04T18:00") == [], "too late"
    said = " ".join(desk.did("today", now="2027-06-03T18:00").split())
    assert "What is stiff now, and again then, frees its slot" in said
    assert "wingrest test M-14 M-15 M-16 M-17 stiff|soft" in said


def test_a_slot_that_was_felt_stiff_ahead_is_planned_for_the_session(tmp_path: Path) -> None:
    desk = crowded_study(tmp_path)
    desk.did("test", "M-14", "stiff", now="2027-06-03T18:00")
    assert felt_for(desk, "2027-06-03T18:01") == [("2027-06-05", ["M-15", "M-16", "M-17"])]
    desk.did("air", "study", "50", "20", now="2027-06-05T09:00")
    day = json.loads(desk.did("today", "--format", "json", now="2027-06-05T09:30"))
    assert "M-14" in [name for due in day["test"] for name in due["specimens"]]


def test_nothing_is_felt_ahead_where_no_slot_is_wanted(tmp_path: Path) -> None:
    desk = crowded_study(tmp_path)
    for n in range(1, 41):
        desk.did("lost", f"W-{n:02}", "given away", now="2027-06-02T18:00")
    assert felt_for(desk, "2027-06-03T18:00") == []


def test_no_probe_where_nothing_is_tested_or_on_the_only_one_of_its_kind(tmp_path: Path) -> None:
    desk = stiff_study(tmp_path)
    day = json.loads(desk.did("today", "--format", "json", now="2027-05-27T18:00"))
    assert (day["test"], day["probes"]) == ([], [])
    for name in ("M-14", "M-15", "M-16"):
        desk.did("lost", name, "fell", now="2027-05-28T18:00")
    desk.did("amend", "M-17", "taxon=Noctua fimbriata", now="2027-05-28T18:00")
    day = json.loads(desk.did("today", "--format", "json", now="2027-05-31T18:00"))
    assert (day["test"] != [], day["probes"]) == (True, [])


def test_a_cabinet_whose_air_nobody_knows_is_listed_all_the_same(tmp_path: Path) -> None:
    out = weekend(tmp_path).did("rooms")
    assert "cabinet: warm, air unknown, 1 board, 0 standing" in out
    assert "north: 62 % assumed, 4 boards, 3 standing" in out


def test_what_was_felt_soft_in_the_same_round_holds_back_nothing_that_was_due(
    tmp_path: Path,
) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    begin, bench = "2027-05-01T10:00", "2027-05-15T18:00"
    desk.did("room", "study", "--rh", "50", "--temp", "20", now=begin)
    desk.did(*"board B1 --room study --groove 6 --span 120 --length 900".split(" "), now=begin)
    owlets = "add Noctuidae --count 8 --frozen --body 4.5 --wingspan 38 --as M"
    desk.did(*owlets.split(" "), now=begin)
    names = [f"M-{n:02}" for n in range(1, 9)]
    desk.did("mount", "B1:", *names, now=begin)
    desk.did("air", "study", "50", "20", now="2027-05-15T17:00")
    desk.did("test", *names[:6], "soft", now=bench)
    # Six soft ones move the dates of the room's others, but these two were felt stiff beside them.
    assert "not yet" in desk("ready", "M-07", now=bench).out
    desk.did("release", "M-07", now="2027-05-15T18:02")
    assert "M-08 stays" in desk("release", "M-08", now="2027-05-16T18:00").err
