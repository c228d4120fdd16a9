"""The feed: what is due becomes events that phones keep apart and keep up to date.

Section numbers in test ids are those of RFC 5545 unless another standard is named.
"""

from __future__ import annotations

import importlib
import random
import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

import pytest
from calendar_lint import lint
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar, Event

from scheduler.feed.bench_days import BenchSession, Done, SessionLine, bench_days
from scheduler.feed.calendars import Calendars
from scheduler.feed.first_days import first_days, lab_days, still_due
from scheduler.feed.ical import LedgerRow, Reminder, calendar_bytes, clean_text, update_ledger
from scheduler.feed.in_chamber import Cold, GoingIn, Inside, chamber_events
from scheduler.feed.releases import FeedDays, Release, SoftTest, every_asked
from scheduler.feed.titles import MOST, fitted, whom_to_test
from scheduler.feed.told_days import as_told, told_days
from scheduler.feed.variants import ALL

VIENNA = ZoneInfo("Europe/Vienna")
RECORD = UUID("0f9b7a52-3d1c-4a6e-8f00-51c2d1e7a900")
SAT_8_MAY = datetime(2027, 5, 8, 9, 0, tzinfo=VIENNA)
MOUNTED = datetime(2027, 5, 8, 12, 0, tzinfo=UTC)
LATER = MOUNTED + timedelta(days=1)
LATER_STILL = MOUNTED + timedelta(days=2)

HAWKMOTH = Release(
    placement=3,
    specimen="K-07",
    board="B3",
    room="north room",
    due=date(2027, 5, 22),
    clear=date(2027, 5, 29),
    taxon="Laothoe populi",
    body_mm=9.5,
    basis="published",
)
EMPEROR = replace(
    HAWKMOTH, placement=4, specimen="K-08", taxon="Saturnia pavonia", body_mm=11.0,
    estimated="from the wingspan", basis="scaled", clear=date(2027, 6, 5),
)  # fmt: skip
BURNET = replace(HAWKMOTH, placement=5, specimen="K-09", taxon="Zygaena filipendulae", body_mm=4.0)
BOARD_B3 = (HAWKMOTH, EMPEROR, BURNET)

K_21 = SessionLine(
    specimen="K-21",
    board="B10",
    from_mm=0,
    to_mm=41,
    minutes=12,
    due=date(2027, 5, 22),
    clear=date(2027, 5, 29),
    room="north room",
    taxon="Mimas tiliae",
    pin="3",
    basis="scaled",
)
K_22 = replace(K_21, specimen="K-22", board="B9", from_mm=50, to_mm=72)
K_23 = replace(K_21, specimen="K-23", board="B9")
SATURDAY = BenchSession("sat", SAT_8_MAY, 150, (K_21, K_22, K_23))
THU, SUN = (datetime(2027, 5, d, 20, 0, tzinfo=VIENNA) for d in (6, 9))
IN_ON_THURSDAY = GoingIn("K-21", THU, SUN, SAT_8_MAY, "B10")
IN_ON_FRIDAY = replace(IN_ON_THURSDAY, specimen="K-22", by=THU + timedelta(days=1), board="B9")
IS_IN = Inside("K-21", since=THU, look_at=THU + timedelta(hours=24), out_by=SUN)


def days(today: date = date(2027, 5, 9), *away: date) -> FeedDays:
    """Today, and days off on which nobody is there."""

    def there(day: date) -> date:
        return there(day + timedelta(days=1)) if day in away else day

    return FeedDays(today, there, away=lambda day: day in away)


def boards_of(placed: Iterable[Release], today: FeedDays | None = None) -> tuple[Reminder, ...]:
    """The events of boards."""
    the_days = today or days()
    return first_days(every_asked(placed, the_days), the_days)


def labs_of(placed: Iterable[Release], today: FeedDays | None = None) -> tuple[Reminder, ...]:
    """A lab's events."""
    the_days = today or days()
    return lab_days(every_asked(placed, the_days), the_days)


def released(*placed: Release, on: date = date(2027, 5, 22)) -> tuple[Release, ...]:
    return tuple(replace(one, off_on=on) for one in placed)


def uid(key: str) -> str:
    return str(uuid5(RECORD, key))


def published(reminders: Iterable[Reminder], name: str = "Bench") -> bytes:
    told = tuple(reminders)
    ledger = update_ledger(told, {}, RECORD, MOUNTED)
    return calendar_bytes(told, ledger, RECORD, name, "As of Sat 8 May")


def read_back(data: bytes) -> list[Event]:
    calendar = Calendar.from_ical(data)
    assert isinstance(calendar, Calendar)
    assert [error for event in calendar.walk() for error in event.errors] == []
    return calendar.events


def lines_of(data: bytes) -> list[str]:
    return data.decode().replace("\r\n ", "").split("\r\n")


def blocks(data: bytes) -> dict[str, bytes]:
    """Return each event's bytes by UID."""
    parts = [p.partition(b"END:VEVENT")[0] for p in data.split(b"BEGIN:VEVENT")[1:]]
    return {part.split(b"UID:")[1].split(b"\r\n")[0].decode(): part for part in parts}


# Titles


@pytest.mark.parametrize(
    ("names", "title"),
    [
        (["K-07"], "Chamber: in K-07 for Sat"),
        (["K-07", "M-15"], "Chamber: in K-07, M-15 for Sat"),
        ([f"M-{n}" for n in range(10, 16)], "Chamber: in M-10, M-11, M-12 +3 for Sat"),
        (["2027-000123-a"] * 9, "Chamber: in 2027-000123-a +8 for Sat"),
    ],
)
def test_as_many_are_named_as_a_lock_screen_shows(names: list[str], title: str) -> None:
    assert fitted("Chamber: in ", names, " for Sat") == title
    assert len(title) <= MOST


@pytest.mark.parametrize(
    ("test", "leave", "title"),
    [
        (["M-03", "M-04"], ["M-05"], "B3: test M-03, M-04 - leave M-05"),
        (["M-03", "M-04", "M-05"], [], "B3: test all 3"),
        (["M-03", "M-04"], [], "B3: test M-03, M-04"),
        (
            [f"M-0{n}" for n in range(1, 6)],
            [f"M-0{n}" for n in range(6, 10)],
            "B3: test M-01 +4 - leave M-06, M-07 +2",
        ),
    ],
)
def test_a_title_says_who_is_tested_and_who_stays(
    test: list[str], leave: list[str], title: str
) -> None:
    assert whom_to_test("B3", test, leave) == title


# The first day


def test_a_board_that_comes_due_is_one_all_day_event() -> None:
    (event,) = boards_of(BOARD_B3)
    assert event.key == "release/3"
    assert event.title == "B3: test all 3"
    assert (event.start, event.end) == (date(2027, 5, 22), date(2027, 5, 23))
    assert event.location == "north room"
    assert event.alarms == (timedelta(hours=-15),)


def test_the_stoutest_is_tested_first_and_cautions_come_last() -> None:
    (event,) = boards_of(BOARD_B3)
    assert event.text.startswith("Test first, as the stoutest: K-08.")
    order = [
        event.text.index(said)
        for said in (
            "- K-08",
            "- K-07",
            "- K-09",
            "lift a vein",
            "Take nothing off on a damp",
            "Mind pins",
        )
    ]
    assert order == sorted(order)
    assert event.text.count("Mind pins") == 1


@pytest.mark.parametrize(
    "said",
    [
        "Saturnia pavonia",
        "body 11 mm (estimated: from the wingspan)",
        "clear Sat 5 Jun; basis: scaled",
        "clear Sat 29 May; basis: published",
    ],
)
def test_the_text_of_a_board_says(said: str) -> None:
    (event,) = boards_of(BOARD_B3)
    assert said in event.text


def test_a_partly_freed_board_asks_for_what_still_stands_and_says_what_is_done() -> None:
    (event,) = boards_of([*released(EMPEROR), HAWKMOTH, BURNET])
    assert event.title == "B3: test K-07, K-09"
    assert "Test first, as the stoutest: K-07" in event.text
    assert "Taken off on Sat 22 May: K-08 Saturnia pavonia." in event.text


def test_a_freed_carrier_still_carries_its_group() -> None:
    (event,) = boards_of([*released(HAWKMOTH), EMPEROR])
    assert (event.key, event.title) == ("release/3", "B3: test K-08")


@pytest.mark.parametrize(
    ("off", "day", "title"),
    [
        (date(2027, 5, 22), date(2027, 5, 22), "✓ B3: K-07, K-08, K-09 off"),
        (date(2027, 5, 29), date(2027, 5, 22), "✓ B3: K-07, K-08, K-09 off 29 May"),
        (date(2027, 5, 15), date(2027, 5, 15), "✓ B3: K-07, K-08, K-09 off"),
    ],
    ids=["on its day", "later: stays where it was asked for", "early: on the day it was done"],
)
def test_what_came_off_is_ticked_and_rings_no_more(off: date, day: date, title: str) -> None:
    (event,) = boards_of(released(*BOARD_B3, on=off))
    assert (event.key, event.title, event.start) == ("release/3", title, day)
    assert event.alarms == ()
    assert "Taken off on " in event.text


def test_what_is_lost_frees_no_board() -> None:
    (lost,) = released(EMPEROR)
    (event,) = boards_of([replace(lost, lost=True)])
    assert event.title == "✓ B3: K-08 lost"
    both, _ = boards_of(
        [*released(HAWKMOTH), replace(lost, lost=True), replace(BURNET, board="B4")]
    )
    assert both.title == "✓ B3: 1 off, 1 lost"


def test_the_first_day_of_what_came_off_stays_though_the_air_is_read_anew() -> None:
    off = replace(HAWKMOTH, off_on=date(2027, 5, 29), asked_on=date(2027, 5, 22))
    (event,) = boards_of([replace(off, due=date(2027, 5, 25))])
    assert event.start == date(2027, 5, 22)


def test_a_soft_test_stays_where_it_was_and_asks_again_later() -> None:
    tested = SoftTest(date(2027, 5, 22), date(2027, 5, 22))
    again = replace(HAWKMOTH, due=date(2027, 5, 29), soft=(tested,))
    was, next_time = boards_of([again])
    assert (was.key, was.title, was.start) == ("release/3", "✓ B3: K-07 soft", date(2027, 5, 22))
    assert (next_time.key, next_time.title) == ("release/3/1", "B3: test K-07")
    assert next_time.start == date(2027, 5, 29)


def test_without_a_date_there_is_no_event() -> None:
    assert boards_of([replace(HAWKMOTH, due=None, clear=None)]) == ()


def test_what_is_not_due_yet_is_named_to_be_left_standing() -> None:
    later = replace(EMPEROR, due=date(2027, 6, 1))
    first, second = boards_of([HAWKMOTH, later])
    assert first.title == "B3: test K-07 - leave K-08"
    assert "Leave what is not due on Sat 22 May: K-08 Saturnia pavonia." in first.text
    assert second.title == "B3: test K-08"


def test_what_is_stiff_is_taken_off_and_what_is_too_damp_or_not_known_is_left_for_today() -> None:
    (stiff,) = boards_of([replace(HAWKMOTH, stiff=True)])
    assert stiff.title == "B3: take off K-07"
    (damp,) = boards_of([replace(HAWKMOTH, too_damp=True)], days(date(2027, 5, 22)))
    assert damp.title == "B3: too damp today for K-07"
    (unread,) = boards_of([replace(HAWKMOTH, unread=True)], days(date(2027, 5, 22)))
    assert unread.title == "B3: read the air first: K-07"


def test_a_first_day_that_went_by_says_that_it_was_not_done() -> None:
    (event,) = boards_of(BOARD_B3, days(date(2027, 5, 23)))
    assert (event.title, event.start) == ("B3: due, not done: K-07, K-08, K-09", date(2027, 5, 22))


def test_boards_and_dates_are_events_of_their_own() -> None:
    other_board = replace(EMPEROR, board="B4")
    other_date = replace(BURNET, due=date(2027, 5, 23))
    events = boards_of([HAWKMOTH, other_board, other_date])
    assert [event.key for event in events] == ["release/3", "release/4", "release/5"]


def test_what_falls_due_in_days_off_is_asked_for_on_the_first_day_back() -> None:
    (event,) = boards_of(BOARD_B3, days(date(2027, 5, 9), date(2027, 5, 22), date(2027, 5, 23)))
    assert event.start == date(2027, 5, 24)


# Still due


def test_what_was_due_moves_with_the_day_and_says_for_how_long() -> None:
    placed = [*BOARD_B3, replace(HAWKMOTH, placement=9, specimen="K-30", board="B10")]
    (event,) = still_due(placed, days(date(2027, 5, 26)), "still-due")
    assert (event.start, event.title) == (date(2027, 5, 26), "Still due: B3 4 d, B10 4 d")
    assert "B10: test K-30 Laothoe populi (since Sat 22 May, 4 days)" in event.text
    (next_day,) = still_due(placed, days(date(2027, 5, 27)), "still-due")
    assert (next_day.start, next_day.title) == (date(2027, 5, 27), "Still due: B3 5 d, B10 5 d")


def test_nothing_is_still_due_on_its_first_day_once_done_or_on_days_off() -> None:
    assert still_due(BOARD_B3, days(date(2027, 5, 22)), "still-due") == ()
    assert still_due(released(*BOARD_B3), days(date(2027, 5, 26)), "still-due") == ()
    off = days(date(2027, 5, 26), date(2027, 5, 26))
    assert still_due(BOARD_B3, off, "still-due") == ()


def test_where_no_board_is_late_the_chamber_and_the_cold_are_named() -> None:
    late = {"chamber": ["Out of the chamber: M-15, since Tue 25 May 20:00"],
            "cold": ["Into the fridge: E-01, since Mon 24 May 9:00"]}  # fmt: skip
    (event,) = still_due((), days(date(2027, 5, 26)), "still-due", late)
    assert event.title == "Chamber and cold: 2 things late"
    assert event.text == "\n".join(line for lines in late.values() for line in lines)
    (event,) = still_due((), days(date(2027, 5, 26)), "still-due", {"cold": late["cold"]})
    assert event.title == "Cold: 1 thing late"
    (event,) = still_due(BOARD_B3, days(date(2027, 5, 26)), "still-due", late)
    assert event.title.startswith("Still due: chamber 1, cold 1, B3 4 d")


def test_what_is_stiff_waits_to_come_off() -> None:
    stiff = replace(HAWKMOTH, stiff=True)
    (event,) = still_due([stiff, EMPEROR], days(date(2027, 5, 26)), "still-due")
    assert "B3: test K-08 Saturnia pavonia (since Sat 22 May, 4 days); take off K-07" in event.text


# A lab


def test_a_lab_gets_one_event_a_day() -> None:
    placed = [HAWKMOTH, replace(EMPEROR, board="B10", room="attic"), replace(BURNET, board="B9")]
    (event,) = labs_of(placed)
    assert event.key == "bench-day/2027-05-22"
    assert event.title == "3 boards to test: B3, B9, B10"
    assert event.location == "attic, north room"
    (done,) = labs_of(released(*placed))
    assert (done.key, done.title) == ("bench-day/2027-05-22", "✓ 3 boards: 3 off")


def test_a_labs_day_has_what_is_overdue() -> None:
    early = replace(EMPEROR, board="B10", due=date(2027, 5, 18))
    today = next(e for e in labs_of([HAWKMOTH, early], days(date(2027, 5, 22))) if "B3" in e.title)
    assert today.title == "2 boards to test: B3, B10"
    assert "B10: test K-08 Saturnia pavonia (since Tue 18 May, 4 days)" in today.text


# The chamber and the cold


def test_a_chamber_event_per_day_on_which_something_goes_in() -> None:
    thursday, friday = chamber_events([IN_ON_THURSDAY, IN_ON_FRIDAY], [], [])
    assert thursday.key == "chamber/2027-05-06"
    assert thursday.title == "Chamber: in K-21 for Sat"
    assert thursday.start == datetime(2027, 5, 6, 18, 0, tzinfo=UTC)
    assert "- K-21: in Thu 6 May 20:00, out by Sun 9 May 20:00 at the latest" in thursday.text
    assert "mould" in thursday.text
    assert "safety data sheet" in thursday.text
    assert friday.key == "chamber/2027-05-07"


def test_a_chamber_event_begins_with_the_earliest_that_goes_in() -> None:
    early = replace(IN_ON_FRIDAY, specimen="K-24", by=datetime(2027, 5, 7, 7, 30, tzinfo=VIENNA))
    (event,) = chamber_events([IN_ON_FRIDAY, early], [], [])
    assert event.start == datetime(2027, 5, 7, 5, 30, tzinfo=UTC)
    assert event.text.index("K-24") < event.text.index("K-22")


def test_a_session_that_changed_sends_nobody_in_unasked() -> None:
    (event,) = chamber_events([replace(IN_ON_THURSDAY, stale=True)], [], [])
    assert event.title == "Chamber: plan again first (1 for Sat)"


def test_what_went_in_is_ticked_looked_at_and_comes_out_in_time() -> None:
    went_in, look, out = chamber_events([], [IS_IN], [])
    assert (went_in.key, went_in.title) == ("chamber/2027-05-06", "✓ Chamber: in K-21")
    assert (look.key, look.title) == ("look/2027-05-07", "Chamber: look at K-21")
    assert "flutter" in look.text
    assert (out.key, out.title) == ("out/2027-05-09", "Chamber: out K-21 by 20:00")
    assert out.end == SUN.astimezone(UTC)


def test_what_came_out_is_ticked_when_it_did() -> None:
    mounted = replace(IS_IN, until=SAT_8_MAY, mounted=True)
    titles = {e.key: e.title for e in chamber_events([], [mounted], [])}
    assert titles == {
        "chamber/2027-05-06": "✓ Chamber: in K-21",
        "look/2027-05-07": "✓ Chamber: first look K-21",
        "out/2027-05-08": "✓ Chamber: out K-21",
    }
    early = replace(IS_IN, until=THU + timedelta(hours=2))
    assert "look/2027-05-07" not in {e.key for e in chamber_events([], [early], [])}


def test_who_is_not_in_yet_is_asked_for_and_who_is_is_said() -> None:
    (event, *_) = chamber_events([replace(IN_ON_FRIDAY, by=THU)], [IS_IN], [])
    assert event.title == "Chamber: in K-22 for Sat"
    assert "In since Thu 6 May 20:00: K-21" in event.text


def test_what_keeps_in_the_cold_is_named_with_place_and_moment() -> None:
    (event,) = chamber_events([], [], [Cold("K-07", "freezer", SUN)])
    assert (event.key, event.title) == ("cold/2027-05-09", "Freezer: K-07 by 20:00")
    (done,) = chamber_events([], [], [Cold("K-07", "freezer", SUN, done=SUN)])
    assert done.title == "✓ Freezer: K-07"


# The bench day


def test_a_session_event_lists_what_is_due_then_what_is_mounted_by_board() -> None:
    session = replace(SATURDAY, test=BOARD_B3[:2], leave=BOARD_B3[2:])
    (event,) = bench_days([session])
    assert event.key == "session/sat"
    assert event.title == "Bench 9:00, 150 min: test 2, mount 3"
    assert event.text.startswith("B3 (north room): test K-08 first, then K-07; leave K-09")
    order = [event.text.index(s) for s in ("B9 (north", "K-23", "K-22", "B10 (north", "K-21")]
    assert order == sorted(order)
    assert "0-41 mm, pin 3, 12 min, test from Sat 22 May, clear Sat 29 May" in event.text


def test_a_session_in_air_that_gives_no_date_says_what_to_do() -> None:
    damp = replace(SATURDAY, lines=(replace(K_23, due=None, clear=None),))
    (event,) = bench_days([damp])
    assert "move the board to a drier room" in event.text


@pytest.mark.parametrize(
    ("changes", "title"),
    [
        ({"lines": ()}, "Bench 9:00, 150 min: nothing to do"),
        ({"lines": (), "planned": False}, "Bench 9:00, 150 min: not planned"),
        ({"stale": "it takes 90 min, but Sat has only 30"}, "Bench 9:00, 150 min: plan again"),
        ({"over": True}, "Bench 9:00, 150 min: nothing recorded"),
        ({"over": True, "done": Done((("K-21", "B10"),), ("K-07",), ("K-08",))},
         "✓ Bench: 1 mounted, 1 off, 1 soft"),
        ({"done": Done((("K-01", "B1"),))}, "Bench 9:00, 150 min: mount 3"),
        ({"lines": (), "done": Done((("K-01", "B1"),))}, "✓ Bench: 1 mounted"),
    ],
)  # fmt: skip
def test_the_title_of_a_session_is_true_at_its_moment(
    changes: dict[str, object], title: str
) -> None:
    (event,) = bench_days([replace(SATURDAY, **changes)])  # type: ignore[arg-type]
    assert event.title == title


def test_a_plan_that_does_not_hold_says_why_and_what_of_it_still_does() -> None:
    (event,) = bench_days([replace(SATURDAY, stale="it takes 90 min, but Sat has only 30")])
    assert event.text.startswith("The plan no longer holds: it takes 90 min, but Sat has only 30.")
    assert "This part of the plan still holds:" in event.text


def test_a_cancelled_session_has_no_event() -> None:
    assert bench_days([replace(SATURDAY, minutes=0)]) == ()


def test_a_session_over_the_change_of_the_clocks_lasts_its_minutes() -> None:
    night = datetime(2027, 10, 31, 1, 30, tzinfo=VIENNA)  # 03:00 becomes 02:00
    (event,) = bench_days([BenchSession("night", night, 120)])
    assert event.start == datetime(2027, 10, 30, 23, 30, tzinfo=UTC)
    assert event.end == datetime(2027, 10, 31, 1, 30, tzinfo=UTC)


# What stands in the file

WEEKEND = (
    *boards_of(BOARD_B3),
    *bench_days([SATURDAY]),
    *chamber_events([IN_ON_THURSDAY, IN_ON_FRIDAY], [], [Cold("K-30", "fridge", SUN)]),
)


def test_the_lint_finds_nothing_in_a_weekend() -> None:
    assert lint(published(WEEKEND, name="Bench, north; \\ 標本")) == []


@pytest.mark.parametrize(
    "line",
    [
        pytest.param("DESCRIPTION:As of Sat 8 May", id="RFC 7986 5.2: what it is"),
        pytest.param("X-WR-CALDESC:As of Sat 8 May", id="3.8.8.2: the same for older readers"),
        pytest.param("PRODID:-//wingrest//bench calendar//EN", id="3.7.3: product"),
        pytest.param("VERSION:2.0", id="3.7.4: version"),
        pytest.param("NAME:Bench\\, north", id="RFC 7986 5.1: name, escaped"),
        pytest.param("X-WR-CALNAME:Bench\\, north", id="3.8.8.2: name for older readers"),
        pytest.param("REFRESH-INTERVAL;VALUE=DURATION:PT1H", id="RFC 7986 5.7: refresh"),
        pytest.param("X-PUBLISHED-TTL:PT1H", id="3.8.8.2: refresh for older readers"),
        pytest.param("DTSTART;VALUE=DATE:20270522", id="3.3.4: a date says that it is one"),
        pytest.param("DTEND;VALUE=DATE:20270523", id="3.6.1: the end is exclusive"),
        pytest.param("TRANSP:TRANSPARENT", id="3.8.2.7: a day's work does not block the day"),
        pytest.param("TRANSP:OPAQUE", id="3.8.2.7: a session blocks its time"),
        pytest.param("DTSTART:20270508T070000Z", id="3.3.5: 09:00 in Vienna is 07:00 UTC"),
        pytest.param("DTEND:20270508T093000Z", id="3.3.5: 150 minutes later"),
        pytest.param("DTSTAMP:20270508T120000Z", id="3.8.7.2: stamp = last change"),
        pytest.param("LAST-MODIFIED:20270508T120000Z", id="3.8.7.3: last change"),
        pytest.param("SEQUENCE:0", id="3.8.7.4: begins at 0"),
        pytest.param("UID:" + uid("release/3"), id="RFC 7986 5.3: a UUID of the key"),
        pytest.param("ACTION:DISPLAY", id="3.6.6: an alarm shows"),
        pytest.param("TRIGGER:-PT15H", id="3.8.6.3: 09:00 on the day before"),
        pytest.param("SUMMARY:Bench 9:00\\, 150 min: mount 3", id="3.3.11: escapes"),
    ],
)
def test_the_file_has_the_line(line: str) -> None:
    assert line in lines_of(published(WEEKEND, name="Bench, north"))


@pytest.mark.parametrize("name", ["METHOD", "TZID", "RRULE", "ACKNOWLEDGED"])
def test_the_file_never_has(name: str) -> None:
    assert not any(line.startswith(name) for line in lines_of(published(WEEKEND)))


def test_only_events_have_a_uid() -> None:
    data = published(WEEKEND)
    uids = [line for line in lines_of(data) if line.startswith("UID:")]
    assert len(uids) == len(set(uids)) == len(WEEKEND)
    assert "UID:" not in data.decode().partition("BEGIN:VEVENT")[0]


def test_every_event_has_one_alarm() -> None:
    assert all(len(event.alarms.times) == 1 for event in read_back(published(WEEKEND)))


def test_events_come_by_start_then_uid() -> None:
    found = [
        (event.start.isoformat(), str(event["UID"])) for event in read_back(published(WEEKEND))
    ]
    assert found == sorted(found)


def test_3_6_an_empty_calendar_holds_one_vtimezone() -> None:
    data = published([])
    assert lint(data) == []
    assert read_back(data) == []
    assert data.count(b"BEGIN:VTIMEZONE") == 1
    assert b"BEGIN:VTIMEZONE" not in published(WEEKEND)


def test_icalendar_reads_back_what_was_said() -> None:
    events = {str(event["UID"]): event for event in read_back(published(WEEKEND))}
    assert set(events) == {uid(reminder.key) for reminder in WEEKEND}
    for reminder in WEEKEND:
        event = events[uid(reminder.key)]
        assert (event.start, event.end) == (reminder.start, reminder.end)
        assert str(event["SUMMARY"]) == reminder.title
        assert str(event["DESCRIPTION"]) == reminder.text
        assert str(event.get("LOCATION", "")) == reminder.location


@pytest.mark.parametrize("name", ["ics", "vobject", "ical"])
def test_another_reader_agrees(name: str) -> None:
    module = importlib.import_module(name)
    text = published(WEEKEND, name="Bench, north").decode()
    assert READERS[name](module, text) == {(uid(r.key), r.title) for r in WEEKEND}


def by_ics(module: object, text: str) -> set[tuple[str, str]]:
    return {(e.uid, e.name) for e in module.Calendar(text).events}  # type: ignore[attr-defined]


def by_vobject(module: object, text: str) -> set[tuple[str, str]]:
    calendar = module.readOne(text)  # type: ignore[attr-defined]
    return {(e.uid.value, e.summary.value) for e in calendar.vevent_list}


def by_ical(_: object, text: str) -> set[tuple[str, str]]:
    from importlib import import_module

    stream = import_module("ical.calendar_stream").IcsCalendarStream
    return {(e.uid, e.summary) for e in stream.calendar_from_ics(text).events}


READERS = {"ics": by_ics, "vobject": by_vobject, "ical": by_ical}


# Any text


def reminder_of(title: str, text: str = "", location: str = "") -> Reminder:
    return Reminder("a", date(2027, 5, 22), date(2027, 5, 23), title, text, location)


ANY_TEXT = st.text(st.characters(), max_size=200)
AWKWARD = st.text(st.sampled_from('\\;,:"\n\r\t\x00\x07\x7f\x85\u2028\ud800nN ü標🦋\u0301'))


@settings(deadline=None)
@given(text=ANY_TEXT | AWKWARD, title=ANY_TEXT | AWKWARD, place=ANY_TEXT | AWKWARD)
def test_any_text_comes_through_clean(text: str, title: str, place: str) -> None:
    said = reminder_of("Board " + title, text, place)
    data = published([said], name=title)
    assert lint(data) == []
    (event,) = read_back(data)
    assert str(event["SUMMARY"]) == said.title
    assert str(event.get("DESCRIPTION", "")) == said.text
    assert str(event.get("LOCATION", "")) == said.location


@given(ANY_TEXT | AWKWARD)
def test_cleaning_twice_is_cleaning_once(text: str) -> None:
    assert clean_text(clean_text(text)) == clean_text(text)


@given(st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"])))
def test_a_harmless_text_is_left_alone(text: str) -> None:
    assert clean_text(text) == re.sub(r"\\([nN])", r"/\1", text)


@pytest.mark.parametrize("sign", ["n", "N"])
def test_3_3_11_a_backslash_before_an_n_is_no_line_end(sign: str) -> None:
    (event,) = read_back(published([reminder_of(f"Board A\\{sign}1")]))
    assert str(event["SUMMARY"]) == f"Board A/{sign}1"


def test_3_3_11_a_taxon_with_every_awkward_sign() -> None:
    taxon = 'Zygaena; \\filipendulae, \\n\x07 \u2028"f. chrysanthemi"\r\n標本'
    (event,) = read_back(published(boards_of([replace(HAWKMOTH, taxon=taxon)])))
    assert '- K-07 Zygaena; \\filipendulae, /n "f. chrysanthemi" 標本, body' in str(
        event["DESCRIPTION"]
    )


def test_a_very_long_list_is_cut_and_says_so() -> None:
    many = [replace(HAWKMOTH, placement=n, specimen=f"K-{n}") for n in range(2000)]
    (event,) = boards_of(many)
    assert event.title == "B3: test all 2000"
    assert len(event.text) <= 6000
    assert event.text.endswith("`wingrest today` has the whole list)")


def test_a_very_long_title_is_cut() -> None:
    said = reminder_of("Test " + "ü" * 5000)
    assert len(said.title) == 200
    assert said.title.endswith("…")


@pytest.mark.parametrize(
    ("start", "end", "title", "reason"),
    [
        (date(2027, 5, 22), date(2027, 5, 22), "a", "later than the start"),
        (date(2027, 5, 22), date(2027, 5, 21), "a", "later than the start"),
        (MOUNTED, MOUNTED + timedelta(milliseconds=900), "a", "later than the start"),
        (MOUNTED.replace(tzinfo=None), MOUNTED, "a", "time zone"),
        (date(2027, 5, 22), MOUNTED, "a", "both be dates"),
        (date(2027, 5, 22), date(2027, 5, 23), " \x07\n", "title"),
    ],
)
def test_an_impossible_reminder_is_refused(start: date, end: date, title: str, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        Reminder("a", start, end, title)


# The ledger: what phones were last told


def told(
    ledger: dict[str, LedgerRow], placed: Iterable[Release], at: datetime
) -> dict[str, LedgerRow]:
    return update_ledger(boards_of(placed), ledger, RECORD, at)


def test_a_new_event_begins_at_sequence_nought() -> None:
    ledger = told({}, BOARD_B3, MOUNTED)
    assert set(ledger) == {uid("release/3")}
    row = ledger[uid("release/3")]
    assert (row.sequence, row.changed, row.gone) == (0, MOUNTED, False)


def test_telling_the_same_again_changes_nothing() -> None:
    ledger = told({}, BOARD_B3, MOUNTED)
    assert told(ledger, BOARD_B3, LATER) == ledger


def test_a_change_counts_one_and_is_stamped() -> None:
    ledger = told(told({}, BOARD_B3, MOUNTED), BOARD_B3[:2], LATER)
    row = ledger[uid("release/3")]
    assert (row.sequence, row.changed) == (1, LATER)


def test_a_board_that_moves_whole_keeps_its_event() -> None:
    moved = [replace(one, due=date(2027, 6, 1)) for one in BOARD_B3]
    ledger = told(told({}, BOARD_B3, MOUNTED), moved, LATER)
    assert {row.uid: row.sequence for row in ledger.values()} == {uid("release/3"): 1}


def test_a_split_leaves_the_event_with_its_carrier() -> None:
    split = [HAWKMOTH, *(replace(one, due=date(2027, 6, 1)) for one in (EMPEROR, BURNET))]
    ledger = told(told({}, BOARD_B3, MOUNTED), split, LATER)
    assert ledger[uid("release/3")].sequence == 1
    assert ledger[uid("release/4")].sequence == 0


def test_a_merge_leaves_the_event_of_the_lowest() -> None:
    apart = [HAWKMOTH, replace(EMPEROR, due=date(2027, 6, 1)), BURNET]
    ledger = told(told({}, apart, MOUNTED), BOARD_B3, LATER)
    assert not ledger[uid("release/3")].gone
    assert ledger[uid("release/4")].gone
    assert (ledger[uid("release/4")].sequence, ledger[uid("release/4")].changed) == (0, MOUNTED)


def later_of(
    ledger: dict[str, LedgerRow], placed: Iterable[Release], today: date
) -> dict[str, tuple[date, str]]:
    """The events of boards on a later day, by key, with their days and titles."""
    the_days, now = days(today), tuple(placed)
    asked = as_told(every_asked(now, the_days), told_days(ledger.values(), today), now, today)
    return {r.key: (r.start, r.title) for r in first_days(asked, the_days)}


def asked_for_on_22_may() -> dict[str, LedgerRow]:
    return told({}, BOARD_B3, MOUNTED)


def test_new_air_moves_no_day_that_is_over_and_has_an_event_of_its_own_ahead() -> None:
    ledger, today = asked_for_on_22_may(), date(2027, 5, 23)
    sooner = [replace(one, due=date(2027, 5, 20)) for one in BOARD_B3]
    asked = (date(2027, 5, 22), "B3: due, not done: K-07, K-08, K-09")
    assert later_of(ledger, BOARD_B3, today) == {"release/3": asked}
    assert later_of(ledger, sooner, today) == {"release/3": asked}
    one_later = [replace(HAWKMOTH, due=date(2027, 5, 26)), EMPEROR, BURNET]
    ahead = (date(2027, 5, 26), "B3: test K-07")
    found = {"release/3": asked, "release/3/2027-05-22": ahead}
    assert later_of(ledger, one_later, today) == found


def test_a_day_that_is_not_over_moves_with_the_air() -> None:
    moved = [replace(one, due=date(2027, 5, 24)) for one in BOARD_B3]
    found = later_of(asked_for_on_22_may(), moved, date(2027, 5, 22))
    assert [day for day, _ in found.values()] == [date(2027, 5, 24)]


def test_what_comes_of_it_ticks_the_day_that_asked_for_it_last() -> None:
    ledger, today = asked_for_on_22_may(), date(2027, 5, 30)
    off = [replace(one, off_on=date(2027, 5, 29), due=date(2027, 5, 24)) for one in BOARD_B3]
    ticked = {"release/3": (date(2027, 5, 22), "✓ B3: all 3 off 29 May")}
    found = later_of(ledger, off, today)
    assert found["release/3"][0] == ticked["release/3"][0]
    assert found["release/3"][1].startswith("✓ B3: ")
    assert list(found) == ["release/3"]


def test_what_never_stood_there_is_said_to_be_taken_back() -> None:
    found = later_of(asked_for_on_22_may(), BOARD_B3[:2], date(2027, 5, 23))
    assert found["release/3"][1] == "B3: due, not done: K-07, K-08"
    (alone,) = later_of(told({}, [HAWKMOTH], MOUNTED), [], date(2027, 5, 23)).values()
    assert alone == (date(2027, 5, 22), "✓ B3: K-07 taken back")


def test_without_a_date_any_more_what_was_asked_for_stays_said() -> None:
    undated = [replace(one, due=None) for one in BOARD_B3]
    found = later_of(asked_for_on_22_may(), undated, date(2027, 5, 23))
    assert found["release/3"][1] == "B3: due, not done: K-07, K-08, K-09"


def test_an_event_that_returns_goes_on_counting() -> None:
    ledger = told(told({}, BOARD_B3, MOUNTED), [], LATER)
    assert ledger[uid("release/3")].gone
    assert told(ledger, [], LATER_STILL) == ledger
    back = told(ledger, BOARD_B3, LATER_STILL)[uid("release/3")]
    assert (back.sequence, back.changed, back.gone) == (1, LATER_STILL, False)


@pytest.mark.parametrize("at", [MOUNTED, MOUNTED - timedelta(days=3)])
def test_3_8_7_3_a_later_telling_is_stamped_later(at: datetime) -> None:
    # Two commands in one second, or a clock put back: some readers look at this stamp alone.
    ledger = told(told({}, BOARD_B3, MOUNTED), BOARD_B3[:1], at)
    assert ledger[uid("release/3")].changed == MOUNTED + timedelta(seconds=1)


def test_moments_are_kept_in_utc_and_whole_seconds() -> None:
    at = MOUNTED.astimezone(VIENNA).replace(microsecond=999_999)
    assert str(told({}, BOARD_B3, at)[uid("release/3")].changed) == "2027-05-08 12:00:00+00:00"


def test_two_reminders_with_one_key_are_refused() -> None:
    with pytest.raises(ValueError, match="one key"):
        update_ledger(WEEKEND + WEEKEND[:1], {}, RECORD, MOUNTED)


@pytest.mark.parametrize("case", ["unknown", "older", "gone"])
def test_a_ledger_that_lags_behind_is_refused(case: str) -> None:
    ledger = {
        "unknown": {},
        "older": told({}, BOARD_B3[:1], MOUNTED),
        "gone": told(told({}, BOARD_B3, MOUNTED), [], LATER),
    }[case]
    with pytest.raises(ValueError, match="older than the reminder"):
        calendar_bytes(boards_of(BOARD_B3), ledger, RECORD, "Bench")


def test_another_record_has_other_uids() -> None:
    ours, theirs = (
        update_ledger(WEEKEND, {}, namespace, MOUNTED) for namespace in (RECORD, UUID(int=7))
    )
    assert not set(ours) & set(theirs)


# Same record, same bytes


def test_the_order_of_what_is_given_does_not_matter() -> None:
    boards = [*BOARD_B3, replace(HAWKMOTH, placement=9, specimen="K-30", board="B03")]
    shuffled = random.Random(1)
    expected = None
    for _ in range(20):
        shuffled.shuffle(boards)
        lines = list(SATURDAY.lines)
        shuffled.shuffle(lines)
        session = replace(SATURDAY, lines=tuple(lines))
        reminders = [
            *boards_of(boards),
            *labs_of(boards),
            *bench_days([session]),
        ]
        shuffled.shuffle(reminders)
        data = published(reminders)
        assert data == (expected or data)
        expected = data


def test_an_unchanged_event_keeps_its_bytes_when_another_changes() -> None:
    other = replace(HAWKMOTH, placement=9, specimen="K-30", board="B4")
    before = boards_of([*BOARD_B3, other])
    ledger = update_ledger(before, {}, RECORD, MOUNTED)
    first = blocks(calendar_bytes(before, ledger, RECORD, "Bench"))
    after = boards_of([*BOARD_B3[:2], other])
    ledger = update_ledger(after, ledger, RECORD, LATER)
    second = blocks(calendar_bytes(after, ledger, RECORD, "Bench"))
    assert first[uid("release/9")] == second[uid("release/9")]
    assert first[uid("release/3")] != second[uid("release/3")]
    assert b"SEQUENCE:1\r\n" in second[uid("release/3")]


PLACED = st.builds(
    Release,
    placement=st.integers(1, 12),
    specimen=st.sampled_from(["K-1", "K-2", "K-10"]),
    board=st.sampled_from(["B1", "B2"]),
    room=st.just("attic"),
    due=st.none() | st.dates(date(2027, 5, 20), date(2027, 5, 22)),
    clear=st.none() | st.just(date(2027, 6, 1)),
    off_on=st.none() | st.dates(date(2027, 5, 19), date(2027, 5, 23)),
    soft=st.sampled_from([(), (SoftTest(date(2027, 5, 19), date(2027, 5, 19)),)]),
)
RECORDS = st.lists(PLACED, unique_by=lambda r: r.placement, max_size=8)


@settings(deadline=None)
@given(st.lists(RECORDS, min_size=1, max_size=5))
def test_whatever_happens_sequence_and_stamp_only_grow(history: list[list[Release]]) -> None:
    ledger: dict[str, LedgerRow] = {}
    for day, placed in enumerate(history):
        at = LATER + timedelta(days=day)
        reminders = boards_of(placed)
        grown = update_ledger(reminders, ledger, RECORD, at)
        assert lint(calendar_bytes(reminders, grown, RECORD, "Bench")) == []
        assert update_ledger(reminders, grown, RECORD, at) == grown
        assert {u for u, row in grown.items() if not row.gone} == {uid(r.key) for r in reminders}
        for known, old in ledger.items():
            new = grown[known]
            assert new.sequence >= old.sequence
            assert (new.sequence > old.sequence) == (new.changed > old.changed)
        ledger = grown


@settings(deadline=None)
@given(RECORDS)
def test_every_first_day_is_in_exactly_one_event(placed: list[Release]) -> None:
    events = boards_of(placed)
    groups = {(one.one.board, one.day) for one in every_asked(placed, days())}
    assert len(events) == len(groups)
    assert len({event.key for event in events}) == len(groups)


def test_ten_thousand_events_are_built() -> None:
    placed = [
        replace(HAWKMOTH, placement=n, specimen=f"K-{n}", board=f"B{n}") for n in range(10_000)
    ]
    assert len(blocks(published(boards_of(placed)))) == 10_000


def test_a_calendar_holds_fewer_than_two_hundred_events_those_nearest_to_today() -> None:
    today = date(2027, 5, 9)
    many = tuple(
        Reminder(f"release/{n}", day, day + timedelta(days=1), f"B{n}: test K-{n}")
        for n in range(600)
        for day in [today + timedelta(days=n - 300)]
    )
    parts = {"boards": many, "due": (), "sessions": (), "chamber": (), "lab": ()}
    every = Calendars(parts, {}, RECORD, (), (), today, VIENNA)
    shown, more = every.reminders(ALL), every.reminders(replace(ALL, most=500))
    assert len(shown) < 200
    assert len(more) == 500, "more where more are asked for"
    assert {r.start for r in shown} == {today + timedelta(days=n) for n in range(len(shown))}
