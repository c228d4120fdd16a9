"""Bench time: one evening, one Saturday after another, and what is called off."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from bench_cases import Desk, local, weekend
from hypothesis import given
from hypothesis import strategies as st
from verb_cases import changes_nothing, recorded, refused, snapshot

from scheduler.words.repeats import WEEKDAY_WORDS, Repeat, RepeatFault, parse_repeat
from scheduler.words.wording import WEEKDAYS


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def session(desk: Desk, name: str) -> tuple[datetime, int]:
    found = snapshot(desk).sessions[name]
    return found.start, found.minutes


# --- one session -----------------------------------------------------------------------------


def test_a_free_evening(desk: Desk) -> None:
    run = recorded(desk, "session", "2027-05-06", "20:00", "--minutes", "90")
    assert session(desk, "2027-05-06") == (local("2027-05-06T20:00"), 90)
    assert run.out.startswith("session 2027-05-06: Thu 6 May 20:00, 90 min\n")
    assert run.err == ""


@pytest.mark.parametrize("words", [("2027-05-06T20:00",), ("2027-05-06 20:00",)])
def test_the_moment_may_be_one_word(desk: Desk, words: tuple[str, ...]) -> None:
    recorded(desk, "session", *words, "--minutes", "90")
    assert session(desk, "2027-05-06") == (local("2027-05-06T20:00"), 90)


def test_a_day_without_a_time_begins_at_nine_and_says_so(desk: Desk) -> None:
    run = recorded(desk, "session", "2027-05-15", "--minutes", "90")
    assert session(desk, "2027-05-15") == (local("2027-05-15T09:00"), 90)
    assert "no time was said: 09:00" in run.out


def test_less_time_on_saturday(desk: Desk) -> None:
    run = recorded(desk, "session", "2027-05-08", "--minutes", "90")
    assert run.out.startswith("SAT-08 (Sat 8 May 09:00): 90 min instead of 180\n")
    assert session(desk, "SAT-08") == (local("2027-05-08T09:00"), 90)


def test_the_plan_is_mended_at_once_and_said_to_be(desk: Desk) -> None:
    # The desk has a plan of nine specimens for that Saturday, of 180 minutes.
    said = recorded(desk, "session", "SAT-08", "--minutes", "30").out
    assert "The plan was mended: " in said
    assert "more: `wingrest plan` shows it all" in said
    desk.did("session", "SAT-08", "--minutes", "30")
    assert "of 30 min" in desk.did("plan", "SAT-08")


def test_saturday_is_called_off(desk: Desk) -> None:
    run = recorded(desk, "session", "sat-08", "--minutes", "0")
    assert run.out.startswith("SAT-08 (Sat 8 May 09:00) is cancelled\n")
    assert session(desk, "SAT-08")[1] == 0
    assert "already" in changes_nothing(desk, "session", "SAT-08", "--minutes", "0")


def test_a_second_session_of_the_day_carries_its_time(desk: Desk) -> None:
    desk.did("session", "2027-05-15", "--minutes", "90")
    recorded(desk, "session", "2027-05-15", "14:30", "--minutes", "60")
    assert session(desk, "2027-05-15-1430") == (local("2027-05-15T14:30"), 60)
    said = refused(desk, "session", "2027-05-15", "--minutes", "30", status=2)
    assert "there are 2027-05-15 (09:00) and 2027-05-15-1430 (14:30)" in said
    recorded(desk, "session", "2027-05-15", "9:00", "--minutes", "30")
    assert session(desk, "2027-05-15") == (local("2027-05-15T09:00"), 30)


def test_a_session_that_bears_a_date_and_was_moved(desk: Desk) -> None:
    desk.did("session", "2027-05-15", "--minutes", "90")
    desk.did("amend", "2027-05-15", "start=2027-05-16T09:00")
    recorded(desk, "session", "2027-05-15", "--minutes", "60")
    assert session(desk, "2027-05-15") == (local("2027-05-16T09:00"), 60)


def test_sessions_that_run_into_each_other_are_a_warning(desk: Desk) -> None:
    run = recorded(desk, "session", "2027-05-08", "11:00", "--minutes", "60")
    assert "2027-05-08 runs into SAT-08 (Sat 8 May 09:00, 180 min)" in run.err
    # From 9 to 12: at noon the bench is free.
    assert recorded(desk, "session", "2027-05-08", "12:00", "--minutes", "60").err == ""


def test_a_session_that_is_over_is_a_warning(desk: Desk) -> None:
    assert (
        "is over already" in recorded(desk, "session", "2027-05-01", "20:00", "--minutes", "45").err
    )


def test_words_that_name_no_session(desk: Desk) -> None:
    assert "Did you mean SAT-08" in refused(desk, "session", "SAT-8", "--minutes", "9", status=2)
    said = refused(desk, "session", "Saterdays", "--minutes", "9", status=2)
    assert "Did you mean Saturdays" in said
    assert "--minutes: is not given" in refused(desk, "session", "SAT-08", status=2)
    said = refused(desk, "session", "2027-05-32", "25:00", "--minutes", "9", status=2)
    assert "date: is not a day of the calendar" in said
    assert "time: is not a time of day" in said


def test_the_hour_that_the_clocks_leave_out(desk: Desk) -> None:
    said = refused(desk, "session", "2028-03-26", "02:30", "--minutes", "60", status=2)
    assert "does not exist in Europe/Berlin" in said


# --- several people --------------------------------------------------------------------------


def whose(desk: Desk) -> dict[str, tuple[str | None, int]]:
    return {s.session: (s.who, s.minutes) for s in snapshot(desk).sessions.values()}


def test_two_people_at_one_hour_have_a_session_each(desk: Desk) -> None:
    run = recorded(desk, "session", "2027-05-15 09:00", "--minutes", "150", "--who", "Anke")
    assert run.out.startswith("session 2027-05-15-Anke: Sat 15 May 09:00, 150 min, Anke\n")
    run = recorded(desk, "session", "2027-05-15 09:00", "--minutes", "60", "--who", "Bo Holm")
    assert run.err == "", "two people at one hour are no mistake"
    recorded(desk, "session", "2027-05-15", "09:00", "--minutes", "0", "--who", "anke")
    assert whose(desk)["2027-05-15-Anke"] == ("Anke", 0)
    assert whose(desk)["2027-05-15-Bo-Holm"] == ("Bo Holm", 60)
    said = refused(desk, "session", "2027-05-15", "--minutes", "30", status=2)
    assert "2027-05-15-Anke (09:00, Anke) and 2027-05-15-Bo-Holm (09:00, Bo Holm)" in " ".join(
        said.split()
    )


def test_saturdays_of_two_people(desk: Desk) -> None:
    words = ("Saturdays 09:00", "--minutes", "150", "--until", "2027-05-29", "--who")
    run = recorded(desk, "session", *words, "Anke")
    assert "2027-05-08-Anke runs into SAT-08" in run.err, "whose SAT-08 is nobody has said"
    assert "`wingrest amend SAT-08 who=Anke`" in run.err
    assert recorded(desk, "session", *words, "Bo").err.count("\n") == 2, "of SAT-08 alone"
    assert "nothing to record" in changes_nothing(desk, "session", *words, "BO")
    recorded(desk, "amend", "SAT-08", "who=bo")
    assert whose(desk)["SAT-08"] == ("Bo", 180)
    assert "runs into" in recorded(desk, "session", "SAT-08", "--minutes", "120").err


def test_a_session_is_not_taken_from_one_person_in_passing(desk: Desk) -> None:
    recorded(desk, "session", "SAT-08", "--minutes", "150", "--who", "Anke")
    assert whose(desk)["SAT-08"] == ("Anke", 150)
    said = refused(desk, "session", "SAT-08", "--minutes", "90", "--who", "Bo", status=2)
    assert "SAT-08 is Anke's. `wingrest amend SAT-08 who=Bo`" in said
    said = refused(desk, "session", "2027-05-08 09:00", "--minutes", "0", "--who", "Bo", status=2)
    assert "no such session to cancel, only SAT-08 (09:00, Anke)" in said
    recorded(desk, "amend", "SAT-08", "who=")
    assert whose(desk)["SAT-08"] == (None, 150)


def test_a_table_says_whose_a_session_is(desk: Desk, tmp_path: Path) -> None:
    folder = tmp_path / "two"
    folder.mkdir()
    (folder / "sessions.csv").write_text(
        "session,start,minutes,who\nA-15,2027-05-15T09:00,150,Anke\nB-15,2027-05-15T09:00,60,\n",
        encoding="utf-8",
    )
    desk.did("load", folder)
    assert whose(desk)["A-15"] == ("Anke", 150)
    assert whose(desk)["B-15"] == (None, 60)
    (folder / "sessions.csv").write_text(
        "session,start,minutes\nA-15,2027-05-15T09:00,90\n", encoding="utf-8"
    )
    desk.did("load", folder)
    assert whose(desk)["A-15"] == ("Anke", 90), "a table without the column takes nobody's away"


# --- sessions that repeat --------------------------------------------------------------------


def test_saturdays_until_july(desk: Desk) -> None:
    had = set(snapshot(desk).sessions)
    words = ("Saturdays 09:00", "--minutes", "180", "--until", "2027-07-31")
    run = recorded(desk, "session", *words)
    new = [s for name, s in snapshot(desk).sessions.items() if name not in had]
    # SAT-08 stands at nine already.
    assert [s.start for s in new] == [
        local("2027-05-15T09:00") + timedelta(weeks=n) for n in range(12)
    ]
    assert {s.minutes for s in new} == {180}
    assert "1 session at those times exist already: left as they are" in run.out
    assert "nothing to record" in changes_nothing(desk, "session", *words)


def test_it_can_be_said_in_one_breath(desk: Desk) -> None:
    run = recorded(desk, "session", "Saturdays 09:00, 180 min until 2027-05-22")
    assert "2 sessions of 180 min: 2027-05-15 (Sat 15 May 09:00)" in run.out


def test_without_a_last_day_they_go_on_for_half_a_year(desk: Desk) -> None:
    said = recorded(desk, "session", "Sundays 10:00", "--minutes", "60").out
    assert said.startswith("26 sessions of 60 min: 2027-05-09")
    assert "2027-10-31" in said.split("\nThe plan")[0]


def test_nine_stays_nine_when_the_clocks_change(desk: Desk) -> None:
    # Summer time ends in the European Union on the last Sunday of October (Directive
    # 2000/84/EC, from memory): 31 October 2027.
    recorded(desk, "session", "Saturdays", "09:00", "--minutes", "60", "--until", "2027-11-06")
    snap = snapshot(desk)
    before, after = snap.sessions["2027-10-30"].start, snap.sessions["2027-11-06"].start
    assert {snap.local(s).hour for s in (before, after)} == {9}
    assert after - before == timedelta(days=7, hours=1)


def test_what_a_repeat_lacks_is_said_at_once(desk: Desk) -> None:
    said = refused(desk, "session", "Saturdays 09:00", status=2)
    assert "--minutes: is not given" in said
    said = refused(desk, "session", "Saturdays", "--minutes", "9", status=2)
    assert "it names no time of day" in said
    until = ("--until", "2072-07-31")
    said = refused(desk, "session", "Saturdays 09:00", "--minutes", "9", *until, status=2)
    assert "more than 3 years ahead" in said
    until = ("--until", "2027-05-07")
    said = refused(desk, "session", "Saturdays 09:00", "--minutes", "9", *until, status=2)
    assert "no such day comes before" in said
    assert "goes with a session that repeats" in refused(
        desk, "session", "SAT-08", "--minutes", "9", "--until", "2027-07-31", status=2
    )


# --- how repeats are read --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "repeat"),
    [
        (
            "Saturdays 09:00, 180 min until 2027-07-31",
            Repeat((5,), time(9), 180, date(2027, 7, 31)),
        ),
        ("every saturday at 9:00", Repeat((5,), time(9))),
        ("Tue and Thu 19.30 for 90 minutes", Repeat((1, 3), time(19, 30), 90)),
        ("Sun, Sat, Sundays 14:00; 45min", Repeat((5, 6), time(14), 45)),
    ],
)
def test_as_people_say_it(text: str, repeat: Repeat) -> None:
    assert parse_repeat(text) == repeat


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "names no weekday"),
        ("09:00, 180 min", "names no weekday"),
        ("Saturdays", "names no time of day"),
        ("Saturdays 09:00 14:00", "more than one time"),
        ("Saturdays 25:00", "'25:00' is not a time of day"),
        ("Saturdys 09:00", "'Saturdys' is not understood (did you mean Saturdays?)"),
        ("Saturdays 09:00, 0 min", "0 minutes are not from 1 to 14400"),
        ("Saturdays 09:00 until July", "'July' is not a date"),
        ("Saturdays 09:00 fortnightly", "'fortnightly' is not understood"),
    ],
)
def test_what_cannot_be_meant_is_said(text: str, reason: str) -> None:
    with pytest.raises(RepeatFault) as fault:
        parse_repeat(text)
    assert reason in fault.value.reason
    assert fault.value.remedy


@given(
    weekday=st.integers(0, 6),
    clock=st.times(max_value=time(23, 59)).map(lambda t: t.replace(second=0, microsecond=0)),
    minutes=st.integers(1, 14_400),
    after=st.datetimes(datetime(2027, 1, 1), datetime(2028, 12, 31)),  # noqa: DTZ001 - wall clock
    days=st.integers(0, 200),
)
def test_every_such_weekday_and_no_other(
    weekday: int, clock: time, minutes: int, after: datetime, days: int
) -> None:
    until = after.date() + timedelta(days=days)
    for word in (WEEKDAY_WORDS[weekday], WEEKDAYS[weekday].lower()):
        repeat = parse_repeat(f"{word} {clock:%H:%M}, {minutes} min until {until}")
        assert (repeat.minutes, repeat.until) == (minutes, until)
        starts = list(repeat.starts(after))
        assert {(s.weekday(), s.time()) for s in starts} <= {(weekday, clock)}
        assert all(after < s and s.date() <= until for s in starts)
        assert {b - a for a, b in pairwise(starts)} <= {timedelta(weeks=1)}
        missed = [s - timedelta(weeks=1) for s in starts[:1]]
        assert all(s <= after for s in missed)
        assert len(starts) >= (until - after.date()).days // 7
