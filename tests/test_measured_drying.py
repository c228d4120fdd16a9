"""Dates and progress by measured air: the laws of the trade, on whole records.

What the sums themselves obey is in test_drying_sums.py; here stands what the record makes of
them, with boards that move, gaps, dials and clocks that change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import pairwise

import pytest
from air_cases import Air, dialled, logged
from bench_cases import BERLIN, local, on_board, one_board, rules, seen
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.drying import dates as drying
from scheduler.drying.law import AskedOfTable, SteadyAir, time_in_air
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Regime, Room, Specimen, State

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
    return MOTH._replace(body_mm=body_mm, state=state)


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
@given(bodies, days_of_air, st.floats(-5, 45), st.floats(0, 15), offsets)
def test_cooler_air_is_never_earlier(
    body_mm: float, days: list[float], temp_c: float, warmer_c: float, offset: int
) -> None:
    snap = one_board(moth(body_mm))
    first = MAY + timedelta(days=offset)
    here, warmer = (
        dates(logged(snap, "study", first, [(rh, t) for rh in days]))
        for t in (temp_c, temp_c + warmer_c)
    )
    never_earlier(warmer, here)


@slowly
@given(bodies, bodies, days_of_air, offsets)
def test_a_thicker_body_is_never_earlier(
    one: float, two: float, days: list[float], offset: int
) -> None:
    first = MAY + timedelta(days=offset)
    thin, thick = (
        dates(logged(one_board(moth(body)), "study", first, days)) for body in sorted((one, two))
    )
    never_earlier(thin, thick)


@slowly
@given(
    bodies,
    st.lists(st.tuples(st.integers(-20, 40), humidities), max_size=8),
    st.integers(-20, 40),
    humidities,
    st.floats(30, 90),
)
def test_a_reading_drier_than_all_that_is_believed_is_never_later_a_damper_one_never_earlier(
    body_mm: float, read: list[tuple[int, float]], day: int, rh_pct: float, assumed: float
) -> None:
    """What is believed rests on what was read and on what is said of the room."""
    snap = one_board(moth(body_mm), rooms=[Room("study", "room", assumed)])

    def dial(days: int, pct: float) -> dict[str, float]:
        return {f"{(datetime.combine(MAY, time(19)) + timedelta(days=days)).isoformat()}": pct}

    for n, (days, pct) in enumerate(read):
        snap = dialled(snap, "study", {f"{next(iter(dial(days, pct)))[:14]}{n:02}:00": pct})
    before, after = dates(snap), dates(dialled(snap, "study", dial(day, rh_pct)))
    values = [assumed, *(pct for _, pct in read)]
    if rh_pct <= min(values):
        never_earlier(after, before)
    elif rh_pct >= max(values) and before.due is not None:
        # A reading may bring the end of what is known nearer to a date far ahead.
        never_earlier(before, after)


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
            # A move is the last that is known of it, so a far date may come into sight.
            assert a is None or b is None or abs((a - b).days) <= 1


@slowly
@given(bodies, days_of_air, offsets, st.integers(1, 24 * 30))
def test_progress_never_falls_and_is_whole_at_the_hour_of_mounting_on_the_due_date(
    body_mm: float, days: list[float], offset: int, step: int
) -> None:
    snap = logged(one_board(moth(body_mm)), "study", MAY + timedelta(days=offset), days)
    begin = datetime.combine(MAY, time(10), BERLIN)
    assert progress(snap, begin) == 0
    assert progress(snap, begin + timedelta(hours=step)) >= progress(
        snap, begin + timedelta(hours=step - 1)
    )
    due = dates(snap).due
    if due is not None:
        assert progress(snap, datetime.combine(due, time(10), BERLIN)) >= 1 - 1e-7
        eve = datetime.combine(due - timedelta(days=1), time(10), BERLIN)
        assert progress(snap, eve) < 1 + 1e-7


# --- constant air -----------------------------------------------------------------------------


@slowly
@given(bodies, states, st.integers(20, 90), humidities)
def test_constant_measured_air_takes_the_tables_days_exactly(
    body_mm: float, state: State, rh_pct: int, assumed: float
) -> None:
    """Measured from the mounting until it is dry; what is assumed is no matter."""
    snap = one_board(moth(body_mm, state), rooms=[Room("study", "room", assumed)])
    found = dates(logged(snap, "study", MAY, [float(rh_pct)] * 100))
    table = time_in_air(rules(), AskedOfTable("Noctuidae", body_mm, state), SteadyAir(rh_pct))
    for day, exact in ((found.due, table.min_days_exact), (found.clear, table.plan_days_exact)):
        if exact is not None and abs(exact - round(exact)) > 1e-6:
            assert day == MAY + timedelta(days=int(exact) + 1)


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


# --- what lies ahead --------------------------------------------------------------------------


@slowly
@given(bodies, days_of_air, offsets, st.integers(0, 500))
def test_dates_are_the_records_and_the_clock_only_brings_far_ones_near_enough_to_be_told(
    body_mm: float, days: list[float], offset: int, later: int
) -> None:
    snap = logged(one_board(moth(body_mm)), "study", MAY + timedelta(days=offset), days)
    moments = [local("2027-05-08T12:00") + timedelta(days=n) for n in (0, later)]
    now, then = (on_board(snap, at) for at in moments)
    assert now.dates == then.dates
    told = [seen(snap, at).answer_of(on_board(snap, at)) for at in moments]
    first, second = ((a.due, a.clear) for a in told)
    assert second in (first, now.dates)
    assert first in ((None, None), now.dates)


@slowly
@given(
    bodies,
    st.lists(st.tuples(st.integers(0, 40), st.integers(45, 95)), max_size=5),
    st.integers(0, 40),
    st.integers(45, 95),
    st.integers(1, 30),
    st.integers(40, 75),
)
def test_the_drier_of_two_readings_moves_no_end_of_a_span_later_and_takes_no_date_back(
    body_mm: float, read: list[tuple[int, int]], day: int, rh_pct: int, drier: int, assumed: int
) -> None:
    snap = one_board(moth(body_mm), rooms=[Room("study", "room", assumed)])

    def at(days: int, hour: int) -> str:
        return f"{MAY + timedelta(days=days)}T{hour:02}:00"

    for n, (days, pct) in enumerate(read):
        snap = dialled(snap, "study", {at(days, 10 + n): float(pct)})
    found = [
        on_board(dialled(snap, "study", {at(day, 19): float(pct)}))
        for pct in (rh_pct - drier, rh_pct)
    ]
    for dry, damp in zip(*(one.spans for one in found), strict=True):
        assert (dry.earliest or date.max) <= (damp.earliest or date.max)
        assert (dry.latest or date.max) <= (damp.latest or date.max)
    never_earlier(*(one.told(MAY + timedelta(days=day)) for one in found))


def test_air_beyond_all_drying_has_no_sooner_end_than_air_on_its_edge() -> None:
    # Above 85 % nothing dries whatever the air, so a spread changes nothing: that is no certainty.
    snap = one_board(moth(8), rooms=[Room("study", "room", 62.0)])
    edge, beyond = (
        on_board(dialled(snap, "study", {"2027-05-11T13:00": rh_pct})).spans[0]
        for rh_pct in (81.0, 92.0)
    )
    assert edge.latest is None
    assert beyond.latest is None


@pytest.mark.parametrize(
    ("body_mm", "rh_pct", "told"),
    [(4.5, 55.0, True), (12.0, 55.0, True), (4.5, 72.0, False), (12.0, 72.0, False)],
)
def test_a_date_far_ahead_in_damp_air_is_told_a_fortnight_before(
    body_mm: float, rh_pct: float, told: bool
) -> None:
    snap = dialled(one_board(moth(body_mm)), "study", {"2027-05-08T10:00": rh_pct})
    one = on_board(snap)
    assert (one.told(MAY).due is not None) == told
    due = one.dates.due
    if due is not None:
        assert one.told(due - timedelta(days=14)) == one.dates


@slowly
@given(bodies, st.integers(40, 62), st.integers(1, 30))
def test_days_read_as_they_were_said_to_be_move_nothing(
    body_mm: float, rh_pct: int, more: int
) -> None:
    snap = one_board(moth(body_mm), rooms=[Room("study", "room", rh_pct)])
    one, two = dates(snap), dates(logged(snap, "study", MAY, [float(rh_pct)] * more))
    for a, b in zip(one, two, strict=True):
        assert a is None or b is None or abs((a - b).days) <= 1, "but for a hair"


# --- dials and moves --------------------------------------------------------------------------


def test_no_hour_has_a_cliff_after_a_dial_was_read() -> None:
    snap = dialled(one_board(MOTH), "study", {"2027-05-08T10:00": 75.0})
    begin = local("2027-05-08T10:00")
    hours = [progress(snap, begin + timedelta(hours=n)) for n in range(24 * 30)]
    # The hour it was read in is as read; from then on its day, and those after, are believed.
    paces = [14 * 24 * (after - before) for before, after in pairwise(hours[1:])]
    assert all(later >= earlier - 1e-9 for earlier, later in pairwise(paces))
    assert max(later - earlier for earlier, later in pairwise(paces)) < 0.12
    assert paces[0] < 0.4 < 0.45 < paces[-1] < 1


def test_each_room_counts_by_its_own_logger() -> None:
    rooms = [Room("study", "room", 50.0), Room("loft", "room", 50.0)]
    snap = one_board(
        MOTH, mounted="2027-05-08T00:00", rooms=rooms, moves={"2027-05-15T00:00": "loft"}
    )
    snap = logged(logged(snap, "study", MAY, [65.0] * 20), "loft", MAY, [40.0] * 20)
    # Seven days at 0.7 are 4.9; 9.1 are left, at 1.2 they take 7.6.
    assert dates(snap).due == date(2027, 5, 23)


@pytest.mark.parametrize("regime", ["warm", "desiccant"])
def test_a_logger_in_a_box_or_cabinet_counts(regime: Regime) -> None:
    snap = one_board(MOTH, rooms=[Room("closed", regime)])
    damp = logged(snap, "closed", MAY, [(83.0, 20.0)] * 21)
    assert progress(damp, local("2027-05-29T00:00")) < 0.1
    cool = logged(snap, "closed", MAY, [(75.0, 18.0)] * 14)
    assert progress(cool, local("2027-05-22T00:00")) < 0.25


def test_if_another_room_had_been_logged_nothing_would_be_otherwise() -> None:
    snap = replace(one_board(MOTH), rooms={r: Room(r, "room", 50.0) for r in ("study", "loft")})
    assert dates(logged(snap, "loft", MAY, [80.0] * 30)) == dates(snap)
