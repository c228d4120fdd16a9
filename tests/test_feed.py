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

from scheduler.feed.ical import LedgerRow, Reminder, calendar_bytes, clean_text, update_ledger
from scheduler.feed.reminders import (
    BenchSession,
    Release,
    SessionLine,
    bench_day_reminders,
    chamber_reminders,
    release_reminders,
    session_reminders,
)

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

IN_ON_THURSDAY = SessionLine(
    specimen="K-21",
    board="B10",
    from_mm=0,
    to_mm=41,
    minutes=12,
    due=date(2027, 5, 22),
    clear=date(2027, 5, 29),
    taxon="Mimas tiliae",
    pin="3",
    basis="scaled",
    relax_from=datetime(2027, 5, 6, 20, 0, tzinfo=VIENNA),
    out_by=datetime(2027, 5, 9, 20, 0, tzinfo=VIENNA),
)
IN_ON_FRIDAY = replace(
    IN_ON_THURSDAY, specimen="K-22", board="B9", from_mm=50, to_mm=72,
    relax_from=datetime(2027, 5, 7, 20, 0, tzinfo=VIENNA),
)  # fmt: skip
FRESH = replace(IN_ON_THURSDAY, specimen="K-23", board="B9", relax_from=None, out_by=None)
SATURDAY = BenchSession(
    "sat", SAT_8_MAY, 150, (IN_ON_THURSDAY, IN_ON_FRIDAY, FRESH), test_first=("B3",)
)


def released(*placed: Release, at: datetime = LATER) -> tuple[Release, ...]:
    return tuple(replace(one, released_at=at) for one in placed)


def uid(key: str) -> str:
    return str(uuid5(RECORD, key))


def published(reminders: Iterable[Reminder], name: str = "Bench") -> bytes:
    told = tuple(reminders)
    return calendar_bytes(told, update_ledger(told, {}, RECORD, MOUNTED), RECORD, name)


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


# What the events say


def test_a_board_that_comes_due_is_one_all_day_event() -> None:
    (event,) = release_reminders(BOARD_B3, MOUNTED)
    assert event.key == "release/3"
    assert event.title == "Test and free board B3: 3 specimens"
    assert (event.start, event.end) == (date(2027, 5, 22), date(2027, 5, 23))
    assert event.location == "north room"
    assert event.alarms == (timedelta(hours=-15),)


def test_the_stoutest_is_tested_first() -> None:
    (event,) = release_reminders(BOARD_B3, MOUNTED)
    assert event.text.startswith("Test first, as the stoutest: K-08.")
    order = [event.text.index(name) for name in ("- K-08", "- K-07", "- K-09")]
    assert order == sorted(order)


@pytest.mark.parametrize(
    "said",
    [
        "lift a vein",
        "Not on a damp or rainy day",
        "Saturnia pavonia",
        "body 11 mm (estimated: from the wingspan)",
        "clear Sat 5 Jun; basis: scaled",
        "clear Sat 29 May; basis: published",
        "Mind pins and blades",
    ],
)
def test_the_text_of_a_board_says(said: str) -> None:
    (event,) = release_reminders(BOARD_B3, MOUNTED)
    assert said in event.text


def test_a_partly_freed_board_counts_what_still_stands() -> None:
    (event,) = release_reminders([*released(EMPEROR), HAWKMOTH, BURNET], LATER)
    assert event.title == "Test and free board B3: 2 specimens"
    assert "Test first, as the stoutest: K-07" in event.text
    assert "K-08" not in event.text


def test_a_freed_carrier_still_carries_its_group() -> None:
    (event,) = release_reminders([*released(HAWKMOTH), EMPEROR], LATER)
    assert (event.key, event.title) == ("release/3", "Test and free board B3: 1 specimen")


def test_a_freed_board_is_ticked_on_its_own_date() -> None:
    (event,) = release_reminders(released(*BOARD_B3), LATER)
    assert (event.key, event.title) == ("release/3", "✓ Board B3 freed: 3 specimens")
    assert event.start == date(2027, 5, 22)
    assert event.text.startswith("Taken off: K-07 Laothoe populi, K-08")


@pytest.mark.parametrize(
    ("since_last_release", "shown"),
    [
        (timedelta(0), 1),
        (timedelta(days=30) - timedelta(seconds=1), 1),
        (timedelta(days=30), 0),
        (timedelta(days=400), 0),
    ],
)
def test_a_freed_board_stays_thirty_days(since_last_release: timedelta, shown: int) -> None:
    board = released(HAWKMOTH) + released(EMPEROR, at=LATER_STILL)
    assert len(release_reminders(board, LATER_STILL + since_last_release)) == shown


def test_one_that_still_stands_keeps_an_old_event() -> None:
    board = [*released(EMPEROR), HAWKMOTH]
    assert len(release_reminders(board, LATER + timedelta(days=400))) == 1


def test_without_a_date_there_is_no_event() -> None:
    assert release_reminders([replace(HAWKMOTH, due=None, clear=None)], MOUNTED) == ()


def test_what_is_not_due_yet_is_named_to_be_left_standing() -> None:
    later = replace(EMPEROR, due=date(2027, 6, 1))
    never = replace(BURNET, due=None)
    first, second = release_reminders([HAWKMOTH, later, never], MOUNTED)
    assert "Leave standing, not due yet: K-08 Saturnia pavonia, K-09" in first.text
    assert "Leave standing, not due yet: K-09" in second.text


def test_boards_and_dates_are_events_of_their_own() -> None:
    other_board = replace(EMPEROR, board="B4")
    other_date = replace(BURNET, due=date(2027, 5, 23))
    events = release_reminders([HAWKMOTH, other_board, other_date], MOUNTED)
    assert [event.key for event in events] == ["release/3", "release/4", "release/5"]


def test_a_lab_gets_one_event_per_bench_day() -> None:
    placed = [HAWKMOTH, replace(EMPEROR, board="B10", room="attic"), replace(BURNET, board="B9")]
    (event,) = bench_day_reminders(placed, MOUNTED)
    assert event.key == "bench-day/2027-05-22"
    assert event.title == "Test and free 3 boards: 3 specimens"
    assert "Boards: B3, B9, B10." in event.text
    assert event.location == "attic, north room"
    (done,) = bench_day_reminders(released(*placed), LATER)
    assert (done.key, done.title) == ("bench-day/2027-05-22", "✓ 3 boards freed: 3 specimens")


def test_a_chamber_event_per_session_and_put_in_date() -> None:
    thursday, friday = chamber_reminders([SATURDAY])
    assert thursday.key == "chamber/sat/2027-05-06"
    assert thursday.title == "Into the relaxing chamber: 1 specimen for Sat 8 May 09:00"
    assert thursday.start == datetime(2027, 5, 6, 18, 0, tzinfo=UTC)
    assert "- K-21 Mimas tiliae: in Thu 6 May 20:00, out by Sun 9 May 20:00" in thursday.text
    assert "mould" in thursday.text
    assert "safety data sheet" in thursday.text
    assert friday.key == "chamber/sat/2027-05-07"


def test_a_chamber_event_begins_with_the_earliest_that_goes_in() -> None:
    early = replace(
        IN_ON_FRIDAY, specimen="K-24", relax_from=datetime(2027, 5, 7, 7, 30, tzinfo=VIENNA)
    )
    session = replace(SATURDAY, lines=(IN_ON_FRIDAY, early))
    (event,) = chamber_reminders([session])
    assert event.start == datetime(2027, 5, 7, 5, 30, tzinfo=UTC)
    assert event.text.index("K-24") < event.text.index("K-22")


def test_a_session_event_lists_by_board() -> None:
    (event,) = session_reminders([SATURDAY])
    assert event.key == "session/sat"
    assert event.title == "At the bench, 150 min: 3 to mount"
    assert event.text.startswith("Test and take off first: B3.")
    order = [event.text.index(s) for s in ("Board B9", "K-23", "K-22", "Board B10", "K-21")]
    assert order == sorted(order)
    assert "0-41 mm, pin 3, 12 min, test from Sat 22 May, clear Sat 29 May" in event.text


def test_a_session_in_air_that_gives_no_date_says_what_to_do() -> None:
    damp = replace(SATURDAY, lines=(replace(FRESH, due=None, clear=None),))
    (event,) = session_reminders([damp])
    assert "move the board to a drier room" in event.text


def test_a_session_with_nothing_to_mount_says_so() -> None:
    (event,) = session_reminders([BenchSession("sun", SAT_8_MAY, 60)])
    assert event.title == "At the bench, 60 min: nothing to mount"


def test_a_cancelled_session_has_no_events() -> None:
    cancelled = [replace(SATURDAY, minutes=0)]
    assert session_reminders(cancelled) == ()
    assert chamber_reminders(cancelled) == ()


def test_a_session_over_the_change_of_the_clocks_lasts_its_minutes() -> None:
    night = datetime(2027, 10, 31, 1, 30, tzinfo=VIENNA)  # 03:00 becomes 02:00
    (event,) = session_reminders([BenchSession("night", night, 120)])
    assert event.start == datetime(2027, 10, 30, 23, 30, tzinfo=UTC)
    assert event.end == datetime(2027, 10, 31, 1, 30, tzinfo=UTC)


# What stands in the file

WEEKEND = (
    *release_reminders(BOARD_B3, MOUNTED),
    *session_reminders([SATURDAY]),
    *chamber_reminders([SATURDAY]),
)


def test_the_lint_finds_nothing_in_a_weekend() -> None:
    assert lint(published(WEEKEND, name="Bench, north; \\ 標本")) == []


@pytest.mark.parametrize(
    "line",
    [
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
        pytest.param("SUMMARY:At the bench\\, 150 min: 3 to mount", id="3.3.11: escapes"),
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
    (event,) = read_back(published(release_reminders([replace(HAWKMOTH, taxon=taxon)], MOUNTED)))
    assert '- K-07 Zygaena; \\filipendulae, /n "f. chrysanthemi" 標本, board' in str(
        event["DESCRIPTION"]
    )


def test_a_very_long_list_is_cut_and_says_so() -> None:
    many = [replace(HAWKMOTH, placement=n, specimen=f"K-{n}") for n in range(2000)]
    (event,) = release_reminders(many, MOUNTED)
    assert event.title == "Test and free board B3: 2000 specimens"
    assert len(event.text) <= 6000
    assert event.text.endswith("`wingrest today` has the whole list)")
    assert "Not on a damp or rainy day" in event.text


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
    return update_ledger(release_reminders(placed, at), ledger, RECORD, at)


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
        calendar_bytes(release_reminders(BOARD_B3, MOUNTED), ledger, RECORD, "Bench")


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
            *release_reminders(boards, MOUNTED),
            *bench_day_reminders(boards, MOUNTED),
            *chamber_reminders([session]),
            *session_reminders([session]),
        ]
        shuffled.shuffle(reminders)
        data = published(reminders)
        assert data == (expected or data)
        expected = data


def test_an_unchanged_event_keeps_its_bytes_when_another_changes() -> None:
    other = replace(HAWKMOTH, placement=9, specimen="K-30", board="B4")
    before = release_reminders([*BOARD_B3, other], MOUNTED)
    ledger = update_ledger(before, {}, RECORD, MOUNTED)
    first = blocks(calendar_bytes(before, ledger, RECORD, "Bench"))
    after = release_reminders([*BOARD_B3[:2], other], LATER)
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
    released_at=st.none() | st.just(LATER),
)
RECORDS = st.lists(PLACED, unique_by=lambda r: r.placement, max_size=8)


@settings(deadline=None)
@given(st.lists(RECORDS, min_size=1, max_size=5))
def test_whatever_happens_sequence_and_stamp_only_grow(history: list[list[Release]]) -> None:
    ledger: dict[str, LedgerRow] = {}
    for day, placed in enumerate(history):
        at = LATER + timedelta(days=day)
        reminders = release_reminders(placed, at)
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
def test_every_dated_placement_is_in_exactly_one_group(placed: list[Release]) -> None:
    events = release_reminders(placed, LATER)
    groups = {(one.board, one.due) for one in placed if one.due}
    assert len(events) == len(groups)
    assert len({event.key for event in events}) == len(groups)


def test_ten_thousand_events_are_built() -> None:
    placed = [
        replace(HAWKMOTH, placement=n, specimen=f"K-{n}", board=f"B{n}") for n in range(10_000)
    ]
    assert len(blocks(published(release_reminders(placed, MOUNTED)))) == 10_000
