"""The calendar of a real record: the same bytes twice, ticks, moved dates, changed plans.

What events say and how the ledger counts is tested beside the feed itself; here a record is
worked on with commands and read back with a general library.
"""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from bench_cases import FIRST_WEEKEND, WEDNESDAY, Desk, local, weekend
from calendar_lint import lint
from icalendar import Calendar

from scheduler.deeds import replan
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.rows import Value
from scheduler.record.store import Store

SATURDAY = "2027-05-08T12:00"


@dataclass(frozen=True)
class Told:
    """What a phone knows of one event."""

    uid: str
    sequence: int
    start: date
    title: str
    text: str
    changed: datetime


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def feed(desk: Desk, *words: str, now: str = SATURDAY) -> bytes:
    path = desk.store.parent / "wingrest.ics"
    desk.did("feed", "-o", path, *words, now=now)
    data = path.read_bytes()
    assert lint(data) == []
    return data


def told(desk: Desk, *words: str, now: str = SATURDAY) -> list[Told]:
    """Publish and read back."""
    return [
        Told(
            str(event["UID"]),
            event.sequence,
            event.start,
            str(event["SUMMARY"]),
            str(event.get("DESCRIPTION", "")),
            event.last_modified,
        )
        for event in Calendar.from_ical(feed(desk, *words, now=now)).events
    ]


def the(events: list[Told], title: str) -> Told:
    """The one event whose title begins so."""
    (one,) = [e for e in events if e.title.startswith(title)]
    return one


def air(desk: Desk, room: str, rh_pct: int, now: str = SATURDAY) -> None:
    """Correct the air assumed of a room."""
    folder = desk.store.parent / "air"
    folder.mkdir(exist_ok=True)
    text = f"room,regime,rh_pct\n{room},room,{rh_pct}\n"
    (folder / "rooms.csv").write_text(text, encoding="utf-8")
    desk.did("load", folder, now=now)


# --- the weekend --------------------------------------------------------------------------


def test_the_weekend_as_events(desk: Desk) -> None:
    events = told(desk, now=WEDNESDAY)
    assert {(e.title, e.start) for e in events if re.match(r"B\d+: ", e.title)} == {
        ("B10: due, not done: M-06", date(2027, 4, 25)),
        ("B3: due, not done: M-03, M-04", date(2027, 4, 28)),
        ("B5: due, not done: M-01, M-02", date(2027, 5, 2)),
        ("B8: test M-07, M-08", date(2027, 5, 7)),
        ("B3: test M-05", date(2027, 5, 10)),
        ("B10: test M-09", date(2027, 5, 10)),
        ("B12: test K-01", date(2027, 5, 31)),
    }
    still = the(events, "Still due")
    assert (still.title, still.start) == ("Still due: B10 10 d, B3 7 d, B5 3 d", date(2027, 5, 5))
    session = the(events, "Bench 9:00, 180 min: test 7, mount 9")
    assert session.start == local("2027-05-08T09:00")
    assert session.text.startswith("B3 (study): test M-03 first, then M-04; leave M-05")
    assert "K-07 Aglais io, 0-47 mm, pin 2, 15 min, test from Wed 26 May" in session.text
    chamber = [e for e in events if e.title.startswith("Chamber: in")]
    assert {e.start for e in chamber} == {local(f"2027-05-0{day}T20:00") for day in (6, 7, 8)}
    assert not [e for e in events if "WED-12" in e.text], "a cancelled session is no event"


def test_the_same_record_gives_the_same_bytes_all_day(desk: Desk) -> None:
    first = feed(desk)
    assert feed(desk) == first
    for clock in ("00:00", "07:00", "23:59"):
        assert feed(desk, now=f"2027-05-08T{clock}") == first
    assert feed(desk, now="2027-05-09T00:00") != first


def test_from_one_day_to_the_next_only_what_moves_with_the_day_is_told_anew(desk: Desk) -> None:
    before = {e.uid: e for e in told(desk, now="2027-05-06T07:00")}
    after = {e.uid: e for e in told(desk, now="2027-05-07T07:00")}
    new = [e.title for uid, e in after.items() if before.get(uid) != e]
    assert new == ["Still due: B10 12 d, B3 9 d, B5 5 d"]
    assert "B8: test M-07, M-08" in {e.title for e in after.values()}
    assert desk("ready", "M-07", now="2027-05-07T07:00").status == 0
    late = the(told(desk, now="2027-05-09T07:00"), "B8: due, not done: M-07, M-08")
    assert late.start == date(2027, 5, 7)


def test_planning_and_loading_again_what_is_known_changes_no_byte(desk: Desk) -> None:
    first = feed(desk)
    desk.did("plan")
    desk.did("load", FIRST_WEEKEND)
    assert feed(desk) == first


def test_the_time_of_planning_again_leaves_no_trace(desk: Desk, tmp_path: Path) -> None:
    other = Desk(tmp_path / "other" / "record.sqlite")
    other.store.parent.mkdir()
    shutil.copy(desk.store, other.store)
    other.did("plan", now="2027-05-05T21:00")
    assert feed(other) == feed(desk)


def test_one_event_per_bench_day_for_many_boards(desk: Desk) -> None:
    events = told(desk, "--by-bench-day")
    both = the(events, "2 boards to test: B3, B10")
    assert both.start == date(2027, 5, 10)
    today = the(events, "4 boards to test: B3, B5, B8, B10")
    assert today.start == date(2027, 5, 8), "what is overdue stands in the event of the day"


def test_both_ways_of_publishing_leave_each_other_as_they_were(desk: Desk) -> None:
    by_board, by_day = feed(desk), feed(desk, "--by-bench-day")
    assert by_board != by_day
    assert feed(desk) == by_board
    assert feed(desk, "--by-bench-day") == by_day


def test_an_empty_record_gives_a_calendar_without_events(tmp_path: Path) -> None:
    data = feed(Desk(tmp_path / "record.sqlite"))
    assert Calendar.from_ical(data).events == []


# --- what happens at the bench ------------------------------------------------------------


def test_a_release_ticks_its_event_and_leaves_the_others_alone(desk: Desk) -> None:
    before = told(desk)
    desk.did("release", "B5", now=SATURDAY)
    after = told(desk)
    old, new = the(before, "B5: "), the(after, "✓ B5: M-01, M-02 off 8 May")
    assert (new.uid, new.sequence, new.start) == (old.uid, old.sequence + 1, old.start)
    assert new.changed == local(SATURDAY)
    # What Saturday's bench, over at noon, has left is Sunday's work.
    benches = [e.uid for e in after if e.title.startswith("Bench")]
    of_the_day = {new.uid, the(after, "Still due").uid, *benches}
    assert [e for e in after if e.uid not in of_the_day] == [
        e for e in before if e.uid not in of_the_day
    ]
    assert "Taken off: M-01, M-02" in the(after, "Bench 9:00, 180 min: test 5").text


def test_a_ticked_event_stays_thirty_days(desk: Desk) -> None:
    desk.did("release", "B5", now=SATURDAY)  # due since 2 May
    assert the(told(desk, now="2027-06-01T12:00"), "✓ B5")
    assert not [e for e in told(desk, now="2027-06-02T12:00") if e.title.startswith("✓ B5")]


def test_a_moved_due_date_keeps_the_uid_and_raises_the_sequence(desk: Desk) -> None:
    before = the(told(desk), "B12: ")
    air(desk, "north", 55)
    after = the(told(desk), "B12: ")
    assert (after.uid, after.sequence) == (before.uid, before.sequence + 1)
    assert after.start < before.start
    assert after.changed > before.changed


def test_a_soft_test_is_ticked_asks_again_later_and_undo_takes_both_back(desk: Desk) -> None:
    before = the(told(desk), "B8: ")
    moment = local("2027-05-07T18:00")
    with Store(desk.store) as store, store.deed(When(moment, moment), "test", "B8 soft") as deed:
        for placement in store.snapshot().standing("B8"):
            row: dict[str, Value] = {
                "placement": placement.id,
                "tested_at": rows.moment_text(moment),
                "verdict": "soft",
            }
            deed.insert("dryness_test", row)
    events = told(desk)
    was, again = the(events, "✓ B8: M-07, M-08 soft"), the(events, "B8: ")
    assert (was.uid, was.sequence, was.start) == (before.uid, before.sequence + 1, before.start)
    assert (again.sequence, again.start) == (0, date(2027, 5, 14))
    desk.did("undo")
    back = the(told(desk), "B8: ")
    assert (back.uid, back.sequence, back.start) == (before.uid, before.sequence + 2, before.start)


def test_a_soft_test_before_its_first_day_moves_the_event(desk: Desk) -> None:
    before = the(told(desk), "B12: ")
    desk.did("test", "B12", "soft", now="2027-05-30T18:00")
    moved = the(told(desk, now="2027-05-30T18:00"), "B12: ")
    assert (moved.uid, moved.sequence) == (before.uid, before.sequence + 1)
    assert moved.start > before.start


def test_air_that_gives_no_time_takes_the_event_away_and_it_returns_counting_on(
    desk: Desk,
) -> None:
    before = the(told(desk), "B12: ")
    air(desk, "north", 90)
    assert not [e for e in told(desk) if "B12:" in e.title]
    air(desk, "north", 62)
    after = the(told(desk), "B12: ")
    assert (after.uid, after.start) == (before.uid, before.start)
    assert after.sequence > before.sequence
    assert after.changed > before.changed


def test_a_changed_plan_tells_the_chamber_and_the_session_anew(desk: Desk) -> None:
    before = told(desk)
    # K-07 is mounted beforehand: Saturday is planned without it.
    desk.did("release", "B5", now="2027-05-06T10:00")
    desk.did("mount", "K-07", "--board", "B5", now="2027-05-06T11:00")
    desk.did("plan", now="2027-05-06T12:00")
    after = {e.uid: e for e in told(desk)}
    thursday = [e for e in before if e.start == local("2027-05-06T20:00")]
    assert [e for e in thursday if "K-07" in e.text]
    for old in [*thursday, the(before, "Bench 9:00, 180 min")]:
        if "K-07" in old.text:
            new = after[old.uid]
            assert "K-07" not in new.text
            assert new.sequence == old.sequence + 1
            assert new.changed >= local("2027-05-06T12:00")


def test_undoing_the_load_of_planned_specimens_leaves_a_calendar_without_them(
    tmp_path: Path,
) -> None:
    rest, moths = tmp_path / "rest", tmp_path / "moths"
    for folder, names in ((rest, "boards rooms sessions"), (moths, "specimens")):
        folder.mkdir()
        for name in names.split():
            text = (FIRST_WEEKEND / f"{name}.csv").read_text(encoding="utf-8")
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", rest)
    desk.did("load", moths)
    desk.did("plan")
    assert "K-07" in the(told(desk), "Bench 9:00, 180 min").text
    desk.did("undo", "--yes")
    assert the(told(desk), "Bench 9:00, 180 min: nothing to do")


def test_the_file_is_named_and_its_events_counted(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "boards.ics"
    said = desk.did("feed", "-o", path)
    events = len(re.findall(b"BEGIN:VEVENT", path.read_bytes()))
    assert said == f"{events} events written to {path}\n"


def test_a_file_that_cannot_be_written_is_said_so(desk: Desk, tmp_path: Path) -> None:
    run = desk("feed", "-o", tmp_path / "nowhere" / "boards.ics")
    assert (run.status, run.out) == (2, "")
    assert "cannot be written" in run.err
    assert "Traceback" not in run.err


# --- never behind the record --------------------------------------------------------------


def test_a_session_cut_to_half_an_hour_tells_another_plan_at_once(desk: Desk) -> None:
    desk.did("session", "SAT-08", "--minutes", "30", now="2027-05-05T19:00")
    events = told(desk, now="2027-05-05T19:00")
    assert not [e for e in events if "plan again" in e.title + e.text]
    bench = the(events, "Bench 9:00, 30 min: test 7")
    mounted = re.findall(r"^- .* (\d+) min,", bench.text, re.M)
    assert sum(map(int, mounted)) <= 30
    assert not [e for e in events if e.title.endswith("+7 for Sat")], "nor do all nine go in"


def test_a_clock_set_back_a_little_makes_no_mended_plan_an_old_one(desk: Desk) -> None:
    desk.did("session", "2027-05-15", "09:00", "--minutes", "60", now="2027-05-06T12:05")
    desk.did("lost", "M-24", "mould", now="2027-05-06T12:00")
    events = told(desk, now="2027-05-06T12:06")
    assert not [e for e in events if "old plan" in e.title]


def test_where_mending_takes_long_the_titles_ask_for_another_plan(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(replan, "AT_ONCE", 0)
    desk.did("session", "SAT-08", "--minutes", "30", now="2027-05-05T19:00")
    events = told(desk, now="2027-05-05T19:00")
    bench = the(events, "Bench 9:00, 30 min: test 7, plan again")
    assert "but Sat has only 30" in bench.text
    assert the(events, "Chamber: plan again first (9 for Sat")
    desk.did("plan", now="2027-05-05T19:05")
    assert not [e for e in told(desk, now="2027-05-05T19:05") if "plan again" in e.title]


def test_what_is_lost_leaves_both_lists_at_once(desk: Desk) -> None:
    before = [e.title for e in told(desk, now=WEDNESDAY) if "K-07" in e.text + e.title]
    assert len(before) == 2
    desk.did("lost", "K-07", "dropped", now="2027-05-05T19:00")
    after = told(desk, now="2027-05-05T19:00")
    assert not [e.title for e in after if "K-07" in e.text + e.title]
    assert the(after, "Bench 9:00, 180 min: test 7, mount 9"), "another has its place"


def test_a_board_out_of_use_is_mounted_on_no_more_at_once(desk: Desk) -> None:
    assert "\nB9 " in the(told(desk, now=WEDNESDAY), "Bench 9:00, 180 min").text
    desk.did("board", "B9", "out", now="2027-05-05T19:00")
    bench = the(told(desk, now="2027-05-05T19:00"), "Bench 9:00, 180 min: test 7, mount ")
    assert "\nB9 " not in bench.text


def test_a_past_session_says_what_was_done_whatever_is_planned_after(desk: Desk) -> None:
    desk.did("release", "B5", now="2027-05-08T09:30")
    desk.did("mount", "SAT-08", "--except", "M-26", now=SATURDAY)
    desk.did("plan", now="2027-05-08T12:30")
    done = the(told(desk, now="2027-05-09T07:00"), "✓ Bench: 8 mounted, 2 off")
    assert done.start == local("2027-05-08T09:00")
    assert "Taken off: M-01, M-02" in done.text
    missed = the(told(desk, now="2027-05-10T07:00"), "Bench 14:00, 150 min: nothing recorded")
    assert missed.start == local("2027-05-09T14:00")
    assert the(told(desk, now="2027-05-12T07:00"), "✓ Bench: 8 mounted, 2 off").text == done.text


def test_what_went_in_is_ticked_and_stays_so_after_the_next_plan(desk: Desk) -> None:
    desk.did("relax", "K-07", "M-15", now="2027-05-06T20:00")
    told_then = the(told(desk, now="2027-05-06T20:30"), "Chamber: in M-14")
    assert "In since Thu 6 May 20:00: K-07" in told_then.text
    desk.did("mount", "K-07", "--board", "B6", now="2027-05-08T10:00")
    desk.did("plan", now="2027-05-08T12:30")
    events = told(desk, now="2027-05-09T07:00")
    assert the(events, "✓ Chamber: out K-07").start == local("2027-05-08T10:00")
    assert "In since Thu 6 May 20:00: K-07" in next(
        e.text for e in events if e.start == local("2027-05-06T20:00")
    )


def test_what_a_missed_session_had_asked_into_the_chamber_stays_said(desk: Desk) -> None:
    def put_ins(now: str) -> dict[date, str]:
        return {e.start: e.title for e in told(desk, now=now) if e.title.startswith("Chamber: in")}

    for_saturday = {
        start: title
        for start, title in put_ins("2027-05-05T19:00").items()
        if local("2027-05-06T00:00") < start < local("2027-05-08T00:00")
    }
    assert for_saturday
    desk.did("session", "SAT-08", "--minutes", "0", now="2027-05-08T20:00")
    desk.did("plan", "--anew", now="2027-05-08T20:05")
    afterwards = put_ins("2027-05-09T08:00")
    assert for_saturday.items() <= afterwards.items()


@pytest.mark.parametrize("state", ["--fresh", "--frozen=2026-09-01", "--frozen=2027-04-20"])
def test_a_first_look_stays_as_it_was_once_it_is_back_in_the_freezer(
    desk: Desk, state: str
) -> None:
    # From the freezer it counts as frozen from that day on, and would have softened sooner.
    add = ("add", "hawkmoth", "--as", "H", "--wingspan", "110", state)
    desk.did(*add, now="2027-05-05T07:00")
    desk.did("relax", "H-01", now="2027-05-05T08:00")
    look = the(told(desk, now="2027-05-05T09:00"), "Chamber: look at H-01")
    desk.did("putback", "H-01", "freezer", now="2027-05-07T20:00")
    for now in ("2027-05-07T20:30", "2027-05-09T20:00"):
        ticked = the(told(desk, now=now), "✓ Chamber: first look H-01")
        assert (ticked.uid, ticked.start) == (look.uid, look.start)
    desk.did("relax", "H-01", now="2027-05-12T20:00")
    assert the(told(desk, now="2027-05-12T20:30"), "✓ Chamber: first look H-01") == ticked


def test_what_should_have_gone_into_the_cold_stays_said_on_its_day_and_is_late_after_it(
    desk: Desk,
) -> None:
    add = ("add", "owlet", "--wingspan", "38", "--fresh")
    desk.did(*add, "--as", "F", now="2027-05-10T08:00")
    event = next(e for e in told(desk, now="2027-05-10T09:00") if "F-01 by" in e.title)
    day = event.start.date()  # type: ignore[attr-defined]
    # One that comes later and is forgotten as well has no business on that day.
    desk.did(*add, "--as", "G", "--at", f"{day}T07:00", now=f"{day + timedelta(days=4)}T07:00")
    after = told(desk, now=f"{day + timedelta(days=9)}T07:30")
    assert [e for e in after if e.uid == event.uid] == [event]
    (late,) = (e for e in after if e.title.startswith("Still due: "))
    assert "F-01" in late.text
    assert "G-01" in late.text
