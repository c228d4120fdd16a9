"""The air of a room now: measured, by the dial, or assumed; and what may come off in it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from air_cases import dialled, logged
from bench_cases import local, one_board, rules, seen

from scheduler.air.latest import Air
from scheduler.looks.ready import ready
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Room, Specimen

MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
RECORD = one_board(MOTH)
JUNE = date(2027, 6, 1)


def air(snap: Snapshot, moment: str, room: str = "study") -> Air:
    return seen(snap, local(moment)).air_now(snap.rooms[room])


def answer(snap: Snapshot, moment: str) -> tuple[str, tuple[str, ...]]:
    (board,) = ready(seen(snap, local(moment)), ["B1"])
    return board.answer, board.specimens[0].notes


def test_it_is_the_mean_of_the_last_day() -> None:
    # Ten days at 70 %, then three at 50, of which half a day lies in the window.
    snap = logged(RECORD, "study", JUNE, [70.0] * 10 + [50.0] * 3)
    found = air(snap, "2027-06-11T12:00")
    assert found.how == "measured"
    assert found.rh_pct == pytest.approx((12 * 50 + 12 * 70) / 24)
    assert str(found) == "study 60 % measured (mean of 24 h to Fri 11 Jun 12:00)"


def test_the_latest_hour_counts_where_it_is_damper_than_the_day() -> None:
    snap = logged(RECORD, "study", JUNE, [50.0] * 10 + [70.0] * 3)
    found = air(snap, "2027-06-11T12:00")
    assert str(found) == "study 70 % measured (the hour to Fri 11 Jun 12:00)"


def test_what_was_measured_after_now_is_not_asked() -> None:
    snap = logged(RECORD, "study", JUNE, [50.0] * 3 + [90.0] * 3)
    assert air(snap, "2027-06-04T00:00").rh_pct == 50


def test_a_logger_that_stopped_within_the_window_still_counts_by_its_hours() -> None:
    snap = logged(RECORD, "study", JUNE, [60.0] * 3)
    found = air(snap, "2027-06-04T12:00")
    assert (found.how, found.hours, found.rh_pct) == ("measured", 12, 60)
    assert str(found) == "study 60 % measured (mean of 12 h to Fri 4 Jun 00:00)"


def test_older_readings_leave_the_assumed_air_and_say_until_when_it_was_known() -> None:
    snap = logged(RECORD, "study", JUNE, [60.0] * 3)
    assert str(air(snap, "2027-06-07T00:30")) == "study 50 % assumed (known to Fri 4 Jun 00:00)"


def test_a_dial_stands_for_a_day() -> None:
    snap = dialled(RECORD, "study", {"2027-06-08T20:10": 71.0})
    found = air(snap, "2027-06-09T20:09")
    assert (found.how, found.rh_pct) == ("dial", 71)
    assert str(found) == "study 71 % by the dial (read Tue 8 Jun 20:10)"
    assert air(snap, "2027-06-09T20:11").how == "assumed"


def test_the_latest_value_of_a_dial_counts_not_the_mean_of_them() -> None:
    values = {"2027-06-08T08:00": 50.0, "2027-06-10T08:00": 71.0}
    assert air(dialled(RECORD, "study", values), "2027-06-10T09:00").rh_pct == 71


def test_a_dial_read_after_the_logger_was_read_out_counts_now() -> None:
    snap = logged(RECORD, "study", JUNE, [50.0] * 8)
    snap = dialled(snap, "study", {"2027-06-09T08:00": 72.0})
    assert air(snap, "2027-06-09T09:00").rh_pct == 72


def test_a_dial_read_beside_a_logger_counts_where_it_is_the_damper() -> None:
    snap = logged(RECORD, "study", JUNE, [50.0] * 10)
    damp = dialled(snap, "study", {"2027-06-09T08:00": 90.0})
    assert str(air(damp, "2027-06-09T08:10")) == "study 90 % by the dial (read Wed 9 Jun 08:00)"
    dry = dialled(snap, "study", {"2027-06-09T08:00": 40.0})
    assert air(dry, "2027-06-09T08:10").rh_pct == 50
    assert air(damp, "2027-06-09T12:00").rh_pct == 50, "the logger was read since"


def test_a_dial_in_a_sealed_box_need_not_be_read_every_day() -> None:
    snap = replace(RECORD, rooms={"box": Room("box", "desiccant")})
    snap = dialled(snap, "box", {"2027-06-01T08:00": 70.0})
    found = air(snap, "2027-06-30T12:00", "box")
    assert str(found) == "box (desiccant) 70 % by the dial (read Tue 1 Jun 08:00)"
    assert found.damper_than(65)


def test_cold_air_says_what_it_counts_as() -> None:
    # 58 % at 15 C: the WMO-No. 8 formula gives 100 (1 - 17.017 / 23.326 x 0.42) = 69.4 %.
    snap = logged(RECORD, "study", JUNE, [(58.0, 15.0)] * 3)
    said = str(air(snap, "2027-06-04T00:00"))
    assert said.startswith("study 58 % at 15 °C, counts as 69.4 %, measured")


def test_warm_air_says_nothing_more() -> None:
    snap = logged(RECORD, "study", JUNE, [(58.0, 27.0)] * 3)
    assert "°C" not in str(air(snap, "2027-06-04T00:00"))


def test_boxes_and_rooms_that_nobody_knows() -> None:
    rooms = (Room("box", "desiccant", 20.0), Room("shed"))
    snap = replace(RECORD, rooms={r.room: r for r in rooms})
    assert str(air(snap, "2027-06-04T00:00", "box")) == "box (desiccant)"
    assert str(air(snap, "2027-06-04T00:00", "shed")) == "shed (air unknown)"


# --- what may come off --------------------------------------------------------------------


def test_damp_days_hold_back_what_the_assumed_air_would_free() -> None:
    snap = logged(RECORD, "study", JUNE, [50.0] * 10 + [78.0] * 3)
    assert answer(snap, "2027-06-11T00:00")[0] == "test it now"
    found, notes = answer(snap, "2027-06-14T00:00")
    assert found == "dry, but not today"
    assert "78 % measured (mean of 24 h to Mon 14 Jun 00:00), is above 75 %" in notes[0]


def test_a_rainy_last_day_forbids_whatever_was_before() -> None:
    snap = logged(RECORD, "study", JUNE, [52.0] * 20 + [84.0])
    stiff = replace(snap, tests=one_board(MOTH, tests=[("M-1", "2027-06-20T12:00", "stiff")]).tests)
    assert answer(stiff, "2027-06-22T00:00")[0] == "dry, but not today"


def test_dry_days_free_what_the_assumed_air_would_hold_back() -> None:
    snap = one_board(MOTH, rooms=[Room("study", "room", 76.0)])
    assert answer(snap, "2027-12-01T12:00")[0] == "dry, but not today"
    snap = logged(snap, "study", date(2027, 7, 1), [50.0] * 31)
    assert answer(snap, "2027-08-01T00:00")[0] == "test it now"


def test_it_is_judged_on_the_measured_humidity_not_on_the_one_that_counts() -> None:
    # Cold, 58 % counts as 69.4 %: it dries slowly, but nothing softens in it.
    snap = logged(RECORD, "study", date(2027, 5, 8), [(58.0, 15.0)] * 70)
    assert air(snap, "2027-07-16T00:00").counts_pct == pytest.approx(69.4, abs=0.1)
    assert answer(snap, "2027-07-16T00:00")[0] == "test it now"


def test_exactly_the_limit_is_dry_enough() -> None:
    limit = rules().limit("take_off_rh_pct")
    snap = logged(RECORD, "study", JUNE, [limit] * 40)
    assert answer(snap, "2027-07-10T00:00")[0] == "test it now"


ASKS = "wingrest air study RH"


def test_without_a_recent_value_the_answer_asks_for_one() -> None:
    found, notes = answer(RECORD, "2027-06-30T12:00")
    assert found == "test it now"
    assert "nobody ever read the air" in notes[0]
    assert ASKS in notes[0]
    stiff = one_board(MOTH, tests=[("M-1", "2027-06-20T12:00", "stiff")])
    assert ASKS in answer(stiff, "2027-06-30T12:00")[1][1]
    yesterday = dialled(stiff, "study", {"2027-06-29T08:00": 50.0})
    assert "was last read Tue 29 Jun 08:00" in answer(yesterday, "2027-06-30T12:00")[1][0]


def test_it_asks_for_nothing_that_is_known_or_not_needed() -> None:
    snap = dialled(RECORD, "study", {"2027-06-30T08:00": 50.0})
    assert not any(ASKS in note for note in answer(snap, "2027-06-30T12:00")[1])
    assert not any(ASKS in note for note in answer(RECORD, "2027-05-10T12:00")[1])
    box = one_board(MOTH, rooms=[Room("box", "desiccant")])
    assert not any("wingrest air" in note for note in answer(box, "2027-08-30T12:00")[1])
