"""On the very day and at the very figure: due, clear, the re-check, the limit for taking off."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from air_cases import dialled
from bench_cases import local, on_board, one_board, rules, seen

from scheduler.drying.answer import Answer
from scheduler.looks.ready import ready
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Room, Specimen

MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
STUDY = Room("study", "room", 50.0)
MOUNTED = date(2027, 5, 8)
DAY = timedelta(days=1)


def at(day: date) -> datetime:
    return local(f"{day}T10:00")


def answer(snap: Snapshot, day: date, dial_pct: float = 50.0) -> Answer | str:
    """What is said of the board on a day, the dial just read."""
    read = dialled(snap, "study", {f"{day}T09:30": dial_pct})
    (board,) = ready(seen(read, at(day)), ["B1"])
    return board.answer


def test_it_is_tested_on_the_day_it_is_due_and_not_the_day_before() -> None:
    snap = one_board(MOTH, rooms=[STUDY])
    due = on_board(snap).dates.due
    assert due is not None
    assert answer(snap, due - DAY) == "not yet"
    assert answer(snap, due) == "test it now"
    assert on_board(snap).is_due(due)
    assert not on_board(snap).is_due(due - DAY)


def test_due_and_clear_are_the_days_of_the_table_after_the_mounting_to_the_day() -> None:
    one = on_board(one_board(MOTH, rooms=[STUDY]))
    least, plan = one.paces.need(one.specimen, one.body_mm)
    assert least == int(least)
    assert plan == int(plan)
    assert one.dates == (MOUNTED + least * DAY, MOUNTED + plan * DAY)


def test_it_is_100_percent_on_the_day_it_is_due_and_99_at_most_before() -> None:
    snap = one_board(MOTH, rooms=[STUDY], mounted="2027-05-08T00:00")
    due = on_board(snap).dates.due
    assert due is not None
    for hours, shown in ((-1, 99), (0, 100)):
        (board,) = ready(seen(snap, local(f"{due}T00:00") + timedelta(hours=hours)), ["B1"])
        assert board.specimens[0].progress_pct == shown


def test_what_was_soft_is_tested_again_on_the_day_of_the_re_check() -> None:
    snap = one_board(MOTH, rooms=[STUDY])
    due = on_board(snap).dates.due
    assert due is not None
    soft = one_board(MOTH, rooms=[STUDY], tests=[("M-1", f"{due}T10:00", "soft")])
    again = due + timedelta(days=rules().recheck_days(4.5))
    assert on_board(soft).dates.due == again
    assert answer(soft, again - DAY) == "not yet"
    assert answer(soft, again) == "test it now"


def test_a_soft_test_long_before_moves_nothing() -> None:
    snap = one_board(MOTH, rooms=[STUDY])
    due = on_board(snap).dates.due
    assert due is not None
    early = due - timedelta(days=rules().recheck_days(4.5))
    for tested, then in ((early - DAY, due), (early, due), (early + DAY, due + DAY)):
        soft = one_board(MOTH, rooms=[STUDY], tests=[("M-1", f"{tested}T10:00", "soft")])
        assert on_board(soft).dates.due == then


@pytest.mark.parametrize(
    ("more_pct", "said"), [(-0.5, "take off"), (0.0, "take off"), (0.5, "dry, but not today")]
)
def test_at_the_limit_itself_it_still_comes_off(more_pct: float, said: str) -> None:
    due = on_board(one_board(MOTH, rooms=[STUDY])).dates.due
    assert due is not None
    due += 30 * DAY  # so late that a damp reading on the day itself takes nothing back
    felt = [("M-1", f"{day}T08:00", "stiff") for day in (due - DAY, due)]
    stiff = one_board(MOTH, rooms=[STUDY], tests=felt)
    limit = rules().limit("take_off_rh_pct")
    assert answer(stiff, due, limit + more_pct) == said


def test_what_was_dry_before_stands_its_two_days_to_the_day() -> None:
    # S2: 2 to 7 days for what was dried and relaxed.
    slender = MOTH._replace(body_mm=1.0, state="dried")
    one = on_board(one_board(slender, rooms=[Room("study", "warm", 20.0, 40.0)]))
    assert one.worth(at(MOUNTED + DAY)) > one.paces.need(one.specimen, one.body_mm)[0]
    assert one.dates.due == MOUNTED + timedelta(days=rules().limit("least_days_dried"))
