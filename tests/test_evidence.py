"""What a date rests on: days and their worth, damp spells, what was measured, the range."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest
from air_cases import dialled, logged
from bench_cases import local, on_board, one_board, rules, seen
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.cli.ready import said
from scheduler.drying.evidence import Evidence
from scheduler.faces.answer_json import evidence_json
from scheduler.looks.ready import evidence, ready
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Room, Specimen

MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
MAY = date(2027, 5, 8)
"""The day of mounting."""

DAMP_PCT = 70.0
"""A body of 4.5 mm dries in it at 0.45 of the pace at 50 %: rules/humidity.csv."""

RATE = 0.45
RECORD = one_board(MOTH, mounted="2027-05-08T00:00")


def proof(snap: Snapshot, moment: str) -> Evidence:
    return seen(snap, local(moment)).evidence(on_board(snap))


def screen(snap: Snapshot, moment: str) -> str:
    view = seen(snap, local(moment))
    found = ready(view, ["B1"])
    lines = said(found, evidence(view, found), view.now.date())
    assert max(map(len, lines)) <= 80
    return " ".join(" ".join(lines).split())


# --- days -----------------------------------------------------------------------------------


def test_a_week_at_50_pct_is_worth_a_week() -> None:
    found = proof(logged(RECORD, "study", MAY, [50.0] * 7), "2027-05-15T00:00")
    assert found.worth_days == pytest.approx(7)
    # The day of mounting counts whole, and so does the one that has just begun.
    assert (found.days, found.days_at_50, found.days_expected) == (8, 14, 14)


def test_what_the_table_asks_in_ordinary_and_in_expected_air() -> None:
    found = proof(logged(RECORD, "study", MAY, [65.0] * 14), "2027-05-22T00:00")
    # 14 / 0.7 are 20; two weeks of readings tell nearly all of what is usual there.
    assert found.days_at_50 == 14
    assert 19 <= (found.days_expected or 0) <= 20


def test_without_readings_the_days_are_those_of_the_assumed_air() -> None:
    damp = one_board(MOTH, mounted="2027-05-08T00:00", rooms=[Room("study", "room", 65.0)])
    found = proof(damp, "2027-05-22T00:00")
    assert (found.days_at_50, found.days_expected) == (14, 20)
    assert found.worth_days == pytest.approx(14 * 0.7)
    assert (found.known.assumed_pct, found.spells) == (100, ())


def test_a_cabinet_in_which_nobody_measured_has_its_heat() -> None:
    found = proof(one_board(MOTH, rooms=[Room("oven", "warm")]), "2027-05-09T00:00")
    assert (found.days_at_50, found.days_expected) == (14, 6)
    assert found.known.regime_pct == 100


# --- damp spells ------------------------------------------------------------------------------


def test_a_damp_spell_costs_its_days_less_what_they_were_worth() -> None:
    days = [50.0] * 4 + [DAMP_PCT] * 5 + [50.0] * 3
    found = proof(logged(RECORD, "study", MAY, days), "2027-05-20T00:00")
    (spell,) = found.spells
    assert spell[:3] == ("study", date(2027, 5, 12), date(2027, 5, 16))
    assert [spell.rh_pct, spell.counts_pct] == pytest.approx([70, 70])
    assert spell.lost_days == pytest.approx(5 * (1 - RATE))
    assert found.worth_days == pytest.approx(12 - spell.lost_days)


def test_one_damp_day_is_no_spell_and_a_dry_one_ends_it() -> None:
    days = [50.0, 70.0, 50.0, 70.0, 70.0, 50.0, 70.0, 70.0]
    found = proof(logged(RECORD, "study", MAY, days), "2027-05-16T00:00")
    assert [(s.first.day, s.last.day) for s in found.spells] == [(11, 12), (14, 15)]


def test_a_day_at_the_limit_is_not_damp() -> None:
    found = proof(
        logged(RECORD, "study", MAY, [rules().limit("mould_rh_pct")] * 5), "2027-05-13T00:00"
    )
    assert found.spells == ()


def test_cold_days_are_a_spell_by_what_counts() -> None:
    # The WMO-No. 8 formula: 58 % at 15 C has the vapour-pressure deficit of 69.4 % at 20 C.
    found = proof(logged(RECORD, "study", MAY, [(58.0, 15.0)] * 5), "2027-05-13T00:00")
    (spell,) = found.spells
    assert spell.rh_pct == pytest.approx(58)
    assert spell.counts_pct == pytest.approx(69.4, abs=0.1)


def test_a_day_of_which_less_than_half_was_read_is_neither() -> None:
    some = [(70.0, 20.0)] * 11 + [(None, None)] * 13
    enough = [(70.0, 20.0)] * 12 + [(None, None)] * 12
    assert not proof(logged(RECORD, "study", MAY, [some] * 5), "2027-05-13T00:00").spells
    assert proof(logged(RECORD, "study", MAY, [enough] * 5), "2027-05-13T00:00").spells


def test_damp_air_before_the_mounting_and_after_now_costs_nothing() -> None:
    snap = logged(RECORD, "study", MAY - timedelta(days=10), [70.0] * 10 + [50.0] * 5 + [70.0] * 9)
    assert proof(snap, "2027-05-13T00:00").spells == ()


def test_a_board_that_left_the_damp_room_keeps_its_spell() -> None:
    rooms = [Room("study", "room", 50.0), Room("loft", "room", 50.0)]
    moves = {"2027-05-12T12:00": "loft"}
    snap = one_board(MOTH, mounted="2027-05-08T00:00", rooms=rooms, moves=moves)
    snap = logged(snap, "study", MAY, [70.0] * 20)
    (spell,) = proof(snap, "2027-05-20T00:00").spells
    # Four days and a half in the study.
    assert spell[:3] == ("study", MAY, date(2027, 5, 12))
    assert spell[3:] == pytest.approx((70, 70, 4.5 * (1 - RATE)))


@settings(deadline=None)
@given(st.lists(st.sampled_from([40.0, 50.0, 66.0, 70.0, 76.0]), min_size=1, max_size=30))
def test_days_are_worth_at_50_pct_what_the_spells_did_not_cost(days: list[float]) -> None:
    """In air of exactly 50 % but for damp spells, what is lost is what the spells lost."""
    days = [50.0 if rh < 65 else rh for rh in days]
    snap = logged(RECORD, "study", MAY, days)
    found = proof(snap, (MAY + timedelta(days=len(days))).isoformat() + "T00:00")
    rate = {rh: rules().rate(4.5, rh) for rh in set(days)}
    lonely = [
        rh
        for n, rh in enumerate(days)
        if rh > 65 and (n == 0 or days[n - 1] <= 65) and (n + 1 == len(days) or days[n + 1] <= 65)
    ]
    lost = sum(s.lost_days for s in found.spells) + sum(1 - rate[rh] for rh in lonely)
    assert found.worth_days == pytest.approx(len(days) - lost)


# --- how much was measured --------------------------------------------------------------------


def test_shares_of_logger_dial_and_assumed_air() -> None:
    snap = dialled(logged(RECORD, "study", MAY, [50.0] * 5), "study", {"2027-05-15T09:00": 55.0})
    known = proof(snap, "2027-05-18T00:00").known
    assert known == (50, 10, 40, 0), "a dial tells of its day"


@settings(deadline=None)
@given(st.integers(0, 400), st.integers(0, 20), st.integers(0, 20))
def test_the_shares_add_up(hours: int, before: int, days: int) -> None:
    snap = logged(RECORD, "study", MAY + timedelta(days=before - 10), [50.0] * days)
    snap = dialled(snap, "study", {"2027-05-12T07:40": 60.0})
    moment = local("2027-05-08T10:20") + timedelta(hours=hours)
    known = seen(snap, moment).evidence(on_board(snap)).known
    assert sum(known) == pytest.approx(100, abs=0.3)
    assert min(known) >= 0


# --- what is to come --------------------------------------------------------------------------


def test_the_span_is_what_the_unmeasured_air_and_the_belief_leave_open() -> None:
    snap = logged(RECORD, "study", MAY - timedelta(days=7), [50.0] * 14)
    (due, _), (earliest, latest) = on_board(snap).dates, on_board(snap).spans[0]
    assert due == date(2027, 5, 22)
    # Seven of fourteen are left: by a spread of some points drier or damper.
    assert date(2027, 5, 20) <= (earliest or date.min) <= due
    assert due < (latest or date.max) <= date(2027, 5, 26)


def test_where_all_was_measured_until_it_is_due_the_span_is_that_date() -> None:
    snap = logged(RECORD, "study", MAY, [50.0] * 20)
    assert on_board(snap).spans[0] == (date(2027, 5, 22), date(2027, 5, 22))
    assert "between" not in screen(snap, "2027-05-15T00:00")


def test_a_span_without_an_end_says_so() -> None:
    stout = MOTH._replace(body_mm=12)
    damp = [Room("study", "room", 66.0)]
    snap = logged(one_board(stout, rooms=damp), "study", MAY, [66.0] * 7)
    assert on_board(snap).spans[0].latest is None
    assert "and with no end in sight" in screen(snap, "2027-05-15T00:00")


@settings(deadline=None, max_examples=30)
@given(st.lists(st.integers(30, 90), min_size=1, max_size=40), st.floats(1, 14))
def test_the_date_lies_within_its_span(days: list[int], body_mm: float) -> None:
    snap = one_board(MOTH._replace(body_mm=body_mm))
    snap = logged(snap, "study", MAY - timedelta(days=20), [float(rh) for rh in days])
    one = on_board(snap)
    for day, span in zip(one.dates, one.spans, strict=True):
        assert (span.earliest or date.max) <= (day or date.max) <= (span.latest or date.max)


def test_the_next_date_is_today_once_it_is_due() -> None:
    snap = logged(RECORD, "study", MAY, [50.0] * 14)
    assert proof(snap, "2027-05-20T12:00").next_date == date(2027, 5, 22)
    assert proof(snap, "2027-05-25T12:00").next_date == date(2027, 5, 25)


def test_what_the_assumed_air_alone_says_stands_beside_it() -> None:
    snap = logged(RECORD, "study", MAY, [50.0] * 4 + [DAMP_PCT] * 10)
    found = proof(snap, "2027-05-22T00:00")
    assert found.assumed_due == date(2027, 5, 22)
    due = on_board(snap).dates.due
    assert due is not None
    assert due > date(2027, 5, 29)


# --- how it is said ---------------------------------------------------------------------------


def test_on_the_screen_in_few_words() -> None:
    snap = logged(RECORD, "study", MAY - timedelta(days=7), [50.0] * 10 + [70.0] * 4)
    text = screen(snap, "2027-05-15T00:00")
    assert "M-1: 8 days so far, worth 4.8 days at 50 % (it needs 14); " in text
    assert (
        "damp from 11 May to 14 May (70 %), 2.2 days lost; measured 100 % of the time by a logger"
        in text
    )
    assert "by the assumed air alone it would be due on 22 May" in text
    assert "M-1: test from 28 May, between " in text


def test_where_nothing_was_measured_the_screen_says_nothing_of_it() -> None:
    assert "so far" not in screen(RECORD, "2027-05-15T00:00")


def test_specimens_alike_share_their_evidence() -> None:
    snap = one_board(MOTH, MOTH._replace(specimen="M-2"))
    text = screen(logged(snap, "study", MAY, [50.0] * 7), "2027-05-15T00:00")
    assert text.count("so far") == 1
    assert "M-1 and M-2: 8 days so far" in text


def test_the_json_of_the_evidence() -> None:
    days = [50.0] * 4 + [DAMP_PCT] * 5 + [50.0] * 5
    found = evidence_json(proof(logged(RECORD, "study", MAY, days), "2027-05-22T00:00"))
    assert json.loads(json.dumps(found)) == {
        "days": 15, "worth_days": 11.2, "days_at_50": 14, "days_expected": 16,
        "assumed_due": "2027-05-22",
        "damp_spells": [{"room": "study", "first": "2027-05-12", "last": "2027-05-16",
                         "rh_pct": 70.0, "counts_pct": 70.0, "lost_days": 2.8}],
        "known": {"logger_pct": 100.0, "dial_pct": 0.0, "assumed_pct": 0.0, "regime_pct": 0.0},
        "next_date": "2027-05-25",
    }  # fmt: skip


def test_a_board_without_a_room_has_evidence_of_nothing() -> None:
    found = proof(replace(RECORD, stays=()), "2027-05-22T00:00")
    assert (found.days, found.worth_days, found.days_expected) == (15, 0.0, None)
    assert (found.known, found.next_date) == ((0, 0, 0, 0), None)
