"""What shows only weeks later, and what was known when it came off."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from bench_cases import Desk, local, rules, weekend
from verb_cases import recorded, refused, snapshot

from scheduler.words.records import Droop, DrynessTest

SATURDAY = "2027-05-08T12:00"
JUNE = "2027-06-05T12:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.fixture
def off(desk: Desk) -> Desk:
    """The weekend after M-01 and M-02 came off B5."""
    desk.did("air", "study", "54", "21", "--at", "2027-05-08T08:00", now=SATURDAY)
    desk.did("release", "B5", now=SATURDAY)
    return desk


def droops(desk: Desk) -> tuple[Droop, ...]:
    return snapshot(desk).droops


def done_on(desk: Desk, specimen: str) -> tuple[DrynessTest, ...]:
    snap = snapshot(desk)
    (placement,) = [p for p in snap.placements if p.specimen == specimen]
    return snap.tests_of(placement.id)


def test_it_is_kept_with_its_note_and_says_what_was_known_then(off: Desk) -> None:
    run = recorded(off, "drooped", "m-01", "left", "forewing", now=JUNE)
    assert run.out.splitlines() == [
        "M-01 drooped: left forewing",
        "  off B5 for 28 days",
        "  last tested stiff at 146 % of its minimum board time, in air of 54 %",
    ]
    (droop,) = droops(off)
    assert (droop.seen_at, droop.note) == (local(JUNE), "left forewing")


def test_a_note_is_not_needed_and_at_says_when_it_was_seen(off: Desk) -> None:
    recorded(off, "drooped", "M-01", "--at", "2027-06-01T09:00", now=JUNE)
    assert droops(off)[0] == Droop(droops(off)[0].placement, local("2027-06-01T09:00"), "")


def test_what_was_taken_off_early_says_why(desk: Desk) -> None:
    desk.did("release", "K-01", "--early", "board wanted", now=SATURDAY)
    assert "taken off early: board wanted" in desk.did("drooped", "K-01", now=JUNE)


REFUSED = [
    pytest.param(["M-03"], 3, "stands on B3", id="it stands on a board"),
    pytest.param(["M-15"], 3, "was never on a board", id="it still waits"),
    pytest.param(["M-99"], 2, "there is no specimen 'M-99'", id="nobody knows it"),
    pytest.param(["M-01", "--at", "2027-05-07T12:00"], 3, "Check --at", id="before it came off"),
    pytest.param(["M-02"], 3, "recorded as drooped, seen Sat 5 Jun 12:00: both", id="twice"),
]


@pytest.mark.parametrize(("words", "status", "why"), REFUSED)
def test_what_cannot_be_is_refused(off: Desk, words: list[str], status: int, why: str) -> None:
    off.did("drooped", "M-02", "both", now=JUNE)
    assert why in " ".join(refused(off, "drooped", *words, status=status, now=JUNE).split())


# --- what stands beside every dryness test ------------------------------------------------


def test_a_release_keeps_progress_and_air_of_the_moment(off: Desk) -> None:
    (test,) = done_on(off, "M-01")
    assert (test.rh_pct, test.temp_c) == (54, 21)
    # Since 17 April, almost all of it at 52 %, so 0.96 of the pace of the table's days.
    record = snapshot(off)
    moth = record.specimens["M-01"]
    days = rules().at_50(family=moth.family, body_mm=moth.body_mm or 0, state="fresh").min_days
    (mounted,) = (p.mounted_at for p in record.placements if p.specimen == "M-01")
    stood = (test.tested_at - mounted) / timedelta(days=1)
    assert test.progress_pct == pytest.approx(100 * 0.96 * stood / days, rel=0.02)


def test_a_test_by_hand_keeps_them_too(desk: Desk) -> None:
    desk.did("air", "study", "58", "--at", "2027-05-05T10:00")
    desk.did("test", "M-05", "soft")
    (test,) = done_on(desk, "M-05")
    assert (test.verdict, test.rh_pct, test.temp_c) == ("soft", 58, None)
    assert test.progress_pct is not None
    assert 40 < test.progress_pct < 70


def test_air_that_was_only_assumed_is_not_kept_as_if_it_had_been_measured(desk: Desk) -> None:
    desk.did("test", "M-05", "soft")
    (test,) = done_on(desk, "M-05")
    assert (test.rh_pct, test.temp_c) == (None, None)
    assert test.progress_pct is not None


def test_the_air_is_that_of_the_moment_it_was_done(desk: Desk, tmp_path: Path) -> None:
    lines = ["Time,Temperature (C),RH (%)"]
    lines += [f"2027-05-04 {hour:02}:00,20.0,{40 + hour}" for hour in range(24)]
    (tmp_path / "log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    desk.did("readings", tmp_path / "log.csv", "--room", "study", "--yes")
    desk.did("test", "M-05", "soft", "--at", "2027-05-04T10:30")
    assert done_on(desk, "M-05")[0].rh_pct == 50
    # At six in the evening of the next day nothing was read since midnight: what was read then,
    # damper than the mean of that day.
    desk.did("test", "M-04", "soft")
    assert done_on(desk, "M-04")[0].rh_pct == pytest.approx(63)
