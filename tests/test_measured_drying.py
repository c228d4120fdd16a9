"""Dates and progress by measured air: the laws of the trade, on whole records.

What the sums themselves obey is in test_drying_sums.py; here stands what the record makes of
them, with boards that move, gaps, dials and clocks that change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest
from air_cases import Air, dialled, logged
from bench_cases import BERLIN, local, on_board, one_board, rules, seen
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.drying import dates as drying
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Room, Specimen, State

MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
MAY = date(2027, 5, 8)
SPRING_FORWARD, FALL_BACK = date(2027, 3, 28), date(2027, 10, 31)
"""European summer time begins and ends: directive 2000/84/EC, from memory, as in test_drying."""

bodies = st.floats(0.5, 18)
humidities = st.integers(20, 95).map(float)
days_of_air = st.lists(humidities, min_size=1, max_size=40)
states = st.sampled_from(("fresh", "frozen", "dried"))
offsets = st.integers(-20, 20)

slowly = settings(deadline=None, max_examples=50)


def dates(snap: Snapshot) -> drying.Dates:
    return on_board(snap).dates


def progress(snap: Snapshot, at: datetime) -> float:
    return on_board(snap).progress(at)


def moth(body_mm: float, state: State = "fresh") -> Specimen:
    return replace(MOTH, body_mm=body_mm, state=state)


def never_earlier(one: drying.Dates, two: drying.Dates) -> None:
    """Assert that the second dates are never before the first."""
    assert (one.due or date.max) <= (two.due or date.max)
    assert (one.clear or date.max) <= (two.clear or date.max)


# --- damper, warmer, colder -------------------------------------------------------------------


@slowly
@given(bodies, states, days_of_air, st.data(), offsets, humidities)
def test_damper_air_is_never_earlier(
    body_mm: float, state: State, days: list[float], data: st.DataObject, offset: int, rest: float
) -> None:
    more = data.draw(st.lists(st.integers(0, 30), min_size=len(days), max_size=len(days)))
    snap = one_board(moth(body_mm, state), rooms=[Room("study", "room", rest)])
    first = MAY + timedelta(days=offset)
    damper = [min(100.0, rh + up) for rh, up in zip(days, more, strict=True)]
    drier = logged(snap, "study", first, days)
    never_earlier(dates(drier), dates(logged(snap, "study", first, damper)))


@slowly
@given(bodies, days_of_air, st.floats(0, 35), st.floats(0, 15), offsets)
def test_warmth_alone_never_shortens_and_cold_never_does(
    body_mm: float, days: list[float], temp_c: float, warmer_c: float, offset: int
) -> None:
    snap = one_board(moth(body_mm))
    first = MAY + timedelta(days=offset)
    here, warmer = (
        dates(logged(snap, "study", first, [(rh, t) for rh in days]))
        for t in (temp_c, temp_c + warmer_c)
    )
    never_earlier(warmer, here)  # colder is never earlier
    if temp_c >= 20:
        assert warmer == here


# --- the same time, cut otherwise -------------------------------------------------------------


@slowly
@given(bodies, days_of_air, offsets, st.lists(st.integers(0, 24 * 40), max_size=4), humidities)
def test_splitting_its_time_changes_nothing(
    body_mm: float, days: list[float], offset: int, cuts: Sequence[int], assumed: float
) -> None:
    """A board moved into the very room it stands in: the same stay, in pieces."""
    rooms = [Room("study", "room", assumed)]
    begin = datetime.combine(MAY, time())
    moves = {(begin + timedelta(hours=h)).isoformat(): "study" for h in sorted(set(cuts))}
    first = MAY + timedelta(days=offset)
    whole = logged(one_board(moth(body_mm), rooms=rooms), "study", first, days)
    pieces = logged(one_board(moth(body_mm), rooms=rooms, moves=moves), "study", first, days)
    at = local("2027-06-01T13:30")
    assert progress(pieces, at) == pytest.approx(progress(whole, at), abs=1e-9)
    one, two = dates(whole), dates(pieces)
    if one != two:
        # Where a sum is whole within a hair, floating point may fall to either side.
        for a, b in zip(one, two, strict=True):
            assert a is not None
            assert b is not None
            assert abs((a - b).days) <= 1
        for day in (one.due, two.due):
            assert day is not None
            morning = datetime.combine(min(one.due or day, two.due or day), time(), BERLIN)
            assert one.due == two.due or progress(whole, morning) == pytest.approx(1, abs=1e-6)


@slowly
@given(bodies, days_of_air, offsets, st.integers(1, 24 * 30))
def test_progress_never_falls_and_is_whole_on_the_due_date(
    body_mm: float, days: list[float], offset: int, step: int
) -> None:
    snap = logged(one_board(moth(body_mm)), "study", MAY + timedelta(days=offset), days)
    begin = datetime.combine(MAY, time(), BERLIN)
    assert progress(snap, begin) == 0
    assert progress(snap, begin + timedelta(hours=step)) >= progress(
        snap, begin + timedelta(hours=step - 1)
    )
    due = dates(snap).due
    if due is not None:
        assert progress(snap, datetime.combine(due, time(), BERLIN)) >= 1 - 1e-7
        eve = datetime.combine(due - timedelta(days=1), time(), BERLIN)
        assert progress(snap, eve) < 1 + 1e-7


# --- constant air -----------------------------------------------------------------------------


@slowly
@given(bodies, states, st.integers(20, 90), offsets, st.integers(0, 60), humidities)
def test_constant_measured_air_takes_the_tables_days_exactly(
    body_mm: float, state: State, rh_pct: int, offset: int, more: int, assumed: float
) -> None:
    """Measured from the mounting or before, for 14 days or more; what is assumed is no matter."""
    days = 14 + max(0, -offset) + more
    snap = one_board(moth(body_mm, state), rooms=[Room("study", "room", assumed)])
    first = MAY - timedelta(days=max(0, -offset))
    found = dates(logged(snap, "study", first, [float(rh_pct)] * days))
    table = rules().board_time(
        family="Noctuidae", body_mm=body_mm, state=state, regime="room", rh_pct=rh_pct
    )
    for day, exact in ((found.due, table.min_days_exact), (found.clear, table.plan_days_exact)):
        if exact is None:
            assert day is None
        elif abs(exact - round(exact)) > 1e-6:
            assert day == MAY + timedelta(days=int(exact) + 1)
        else:
            assert day is not None
            assert abs((day - MAY).days - round(exact)) <= (0 if float(exact).is_integer() else 1)


@pytest.mark.parametrize("change", [SPRING_FORWARD, FALL_BACK], ids=["march", "october"])
@pytest.mark.parametrize("days_before", range(0, 16, 3))
@pytest.mark.parametrize("missing", [False, True], ids=["whole", "hour missing"])
def test_14_days_at_50_pct_are_14_days_when_the_clocks_change(
    change: date, days_before: int, missing: bool
) -> None:
    mounted = change - timedelta(days=days_before)
    snap = one_board(MOTH, mounted=f"{mounted}T23:45", rooms=[Room("study", "room", 80.0)])
    day: list[Air] = [(50.0, 20.0)] * 24
    days: list[float | list[Air]] = [50.0] * 40
    if missing and change is SPRING_FORWARD:
        # 02:00 to 03:00 does not exist on that day: no logger reads in it.
        day[2] = (None, None)
        days[days_before + 10] = day
    snap = logged(snap, "study", mounted - timedelta(days=10), days)
    # fresh-room-4.5: 14 days, 17 on the plan.
    due, clear = (mounted + timedelta(days=days) for days in (14, 17))
    assert dates(snap) == drying.Dates(due, clear)


# --- gaps, and what lies ahead ----------------------------------------------------------------


@slowly
@given(bodies, st.lists(st.none() | humidities, min_size=1, max_size=30), humidities)
def test_gaps_count_at_the_assumed_air(
    body_mm: float, days: list[float | None], assumed: float
) -> None:
    snap = one_board(moth(body_mm), rooms=[Room("study", "room", assumed)])
    days = [*days, 50.0]
    nothing: Air = (None, None)
    gaps = logged(snap, "study", MAY, [nothing if rh is None else rh for rh in days])
    end = datetime.combine(MAY + timedelta(days=len(days)), time(), BERLIN)
    at_50 = rules().board_time(
        family="Noctuidae", body_mm=body_mm, state="fresh", regime="room", rh_pct=50
    )
    assert at_50.min_days_exact is not None
    worth = sum(rules().rate(body_mm, assumed if rh is None else rh) for rh in days)
    assert progress(gaps, end) == pytest.approx(worth / at_50.min_days_exact, abs=1e-9)


@slowly
@given(bodies, days_of_air, humidities)
def test_what_lies_ahead_is_assumed_until_a_week_of_a_fortnight_is_known(
    body_mm: float, days: list[float], assumed: float
) -> None:
    snap = one_board(moth(body_mm), rooms=[Room("study", "room", assumed)])
    snap = logged(snap, "study", MAY, days)
    (stretch,) = on_board(snap).air
    assert stretch.measured is not None
    last = days[-14:]
    expected = sum(rules().rate(body_mm, rh) for rh in last) / len(last)
    if len(days) < 7:
        expected = rules().rate(body_mm, assumed)
    assert stretch.measured.expected_rate == pytest.approx(expected, abs=1e-9)


@slowly
@given(bodies, days_of_air, offsets, st.integers(0, 500))
def test_dates_are_the_records_and_not_the_clocks(
    body_mm: float, days: list[float], offset: int, later: int
) -> None:
    snap = logged(one_board(moth(body_mm)), "study", MAY + timedelta(days=offset), days)
    asked = [
        seen(snap, at).answer_of(on_board(snap))
        for at in (local("2027-05-08T12:00"), local("2027-05-08T12:00") + timedelta(days=later))
    ]
    assert len({(a.due, a.clear) for a in asked}) == 1


@slowly
@given(bodies, days_of_air, st.integers(0, 40))
def test_every_further_day_read_as_it_was_expected_moves_nothing(
    body_mm: float, days: list[float], more: int
) -> None:
    """In constant air the expectation comes true: dates stay."""
    steady = [days[0]] * 14
    snap = one_board(moth(body_mm))
    one = dates(logged(snap, "study", MAY, steady))
    two = dates(logged(snap, "study", MAY, steady + [days[0]] * more))
    assert one == two


# --- dials and moves --------------------------------------------------------------------------


def test_a_dial_counts_for_three_days_and_then_the_assumed_air() -> None:
    snap = dialled(one_board(MOTH), "study", {"2027-05-08T00:00": 65.0})
    # Three days at 0.7 of the pace, eleven at 1: 14 - 2.1 = 11.9 are left after them.
    assert dates(snap).due == date(2027, 5, 23)
    assert progress(snap, local("2027-05-11T00:00")) == pytest.approx(3 * 0.7 / 14)


def test_each_room_counts_by_its_own_logger() -> None:
    rooms = [Room("study", "room", 50.0), Room("loft", "room", 50.0)]
    snap = one_board(MOTH, rooms=rooms, moves={"2027-05-15T00:00": "loft"})
    snap = logged(logged(snap, "study", MAY, [65.0] * 20), "loft", MAY, [40.0] * 20)
    # Seven days at 0.7 are 4.9; 9.1 are left, at 1.2 they take 7.6.
    assert dates(snap).due == date(2027, 5, 23)


def test_the_cabinet_keeps_its_own_days_whatever_its_logger_says() -> None:
    snap = one_board(MOTH, rooms=[Room("oven", "warm")])
    assert dates(logged(snap, "oven", MAY, [(90.0, 35.0)] * 10)) == dates(snap)


def test_if_another_room_had_been_logged_nothing_would_be_otherwise() -> None:
    snap = replace(one_board(MOTH), rooms={r: Room(r, "room", 50.0) for r in ("study", "loft")})
    assert dates(logged(snap, "loft", MAY, [80.0] * 30)) == dates(snap)


def test_if_the_room_went_on_otherwise_only_what_lies_ahead_changes() -> None:
    rooms = [Room("study", "room", 50.0), Room("loft", "room", 50.0)]
    snap = one_board(MOTH, rooms=rooms, moves={"2027-05-15T00:00": "loft"})
    snap = logged(snap, "loft", MAY - timedelta(days=4), [50.0] * 14)
    # Ten of fourteen are over on 18 May, when the loft was last read; four are left.
    assert on_board(snap).dates_if(0.5).due == date(2027, 5, 26)
    assert on_board(snap).dates_if(0.0).due is None
    assert on_board(snap).dates_if(None).due == date(2027, 5, 22)
