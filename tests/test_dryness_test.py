"""A dryness test recorded: which specimen it is about, what moves, which others may be as soft.

Specimens and boards are invented; the weekend is the sample batch.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest
from bench_cases import Desk, local, narrow_weekend, on_board, one_board, rules, seen, weekend
from hypothesis import given
from hypothesis import strategies as st

from scheduler.deeds.plan import plan
from scheduler.deeds.testing import sisters
from scheduler.record.kept import kept_plan
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.record.store import Store
from scheduler.words.records import Board, BoardStay, Placement, Room, Specimen


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def verdicts(desk: Desk) -> list[tuple[str, str]]:
    with Store(desk.store) as store:
        snap = store.snapshot()
    of = {p.id: p.specimen for p in snap.placements}
    return [(of[t.placement], t.verdict) for t in snap.tests]


def dates(desk: Desk, specimen: str) -> tuple[date | None, date | None]:
    with Store(desk.store) as store:
        snap = store.snapshot()
    (placement,) = [p for p in snap.standing() if p.specimen == specimen]
    return seen(snap).of(placement).dates


def test_a_board_stands_for_those_of_it_that_are_due(desk: Desk) -> None:
    # On 5 May M-03 and M-04 of B3 are due, M-05 is due on the 10th.
    said = desk.did("test", "B3", "stiff")
    assert verdicts(desk) == [("M-03", "stiff"), ("M-04", "stiff")]
    assert "not counted: M-05 is due on Mon 10 May. If you tested it too, name it" in said


def test_except_leaves_one_out(desk: Desk) -> None:
    desk.did("test", "B3", "stiff", "--except", "m-04")
    assert verdicts(desk) == [("M-03", "stiff")]


def test_of_a_board_on_which_nothing_is_due_everyone_was_tested(desk: Desk) -> None:
    run = desk("test", "B8", "stiff")
    assert run.status == 0
    assert verdicts(desk) == [("M-07", "stiff"), ("M-08", "stiff")]
    again = "M-07 is due on Fri 7 May: it stays. Stiff again on Fri 7 May or later, it may come off"
    assert again in " ".join(run.err.split())


def test_what_was_felt_stiff_twice_comes_off_without_a_reason(desk: Desk) -> None:
    # M-09 is due on 10 May; two days of its thirty must pass between the tests.
    desk.did("test", "M-09", "stiff", now="2027-05-06T09:00")
    assert desk("ready", "M-09", now="2027-05-07T18:00").out.startswith("B10, M-09 alone: NOT YET")
    assert dates(desk, "M-09") == (date(2027, 5, 8), date(2027, 5, 8))
    run = desk("test", "M-09", "stiff", now="2027-05-09T12:00")
    assert "it stays" not in run.err
    assert desk("ready", "M-09", now="2027-05-09T12:00").out.startswith("B10, M-09 alone: TAKE OFF")
    assert desk.did("release", "M-09", now="2027-05-09T12:00").startswith("took M-09 off")


def test_after_a_soft_test_due_and_clear_are_seven_days_on(desk: Desk) -> None:
    """If the wings still give, seven days more: S10, as in recheck.csv."""
    before = dates(desk, "M-01")
    assert before == (date(2027, 5, 2), date(2027, 5, 5))
    said = desk.did("test", "M-01", "soft")
    assert dates(desk, "M-01") == (date(2027, 5, 12), date(2027, 5, 12))
    assert "M-01 · 17.IV. · test from 12.V." in said


def test_a_soft_test_never_brings_a_date_nearer(desk: Desk) -> None:
    before = dates(desk, "K-01")
    desk.did("test", "K-01", "soft")
    assert dates(desk, "K-01") == before


def test_a_test_of_yesterday_counts_from_yesterday(desk: Desk) -> None:
    desk.did("test", "M-01", "soft", "--at", "2027-05-04T20:00")
    assert dates(desk, "M-01")[0] == date(2027, 5, 11)


def test_undo_takes_the_test_back(desk: Desk) -> None:
    desk.did("test", "M-01", "soft")
    desk.did("undo")
    assert verdicts(desk) == []
    assert dates(desk, "M-01")[0] == date(2027, 5, 2)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("stiff",), 2, "Write the ids, then stiff or soft"),
        (("B3",), 2, "Write the ids, then stiff or soft"),
        (("B3", "hard"), 2, "Write the ids, then stiff or soft"),
        (("B33", "stiff"), 2, "there is no board or mounted specimen 'B33'"),
        (("M-14", "stiff"), 2, "there is no board or mounted specimen 'M-14'"),
        (("B7", "stiff"), 2, "nothing is left to test on B7"),
        (("M-03", "stiff", "--except", "M-03"), 2, "nothing is left to test on M-03"),
        (("B3", "stiff", "--except", "M-01"), 2, "there is no specimen among them 'M-01'"),
        (("M-03", "stiff", "--at", "2027-04-16T10:00"), 3, "M-03 was mounted on Sat 17 Apr"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_recorded(
    desk: Desk, words: tuple[str, ...], status: int, said: str
) -> None:
    run = desk("test", *words)
    assert run.status == status, run.err
    assert said in run.err
    assert verdicts(desk) == []


MOTH = Specimen("M-1", family="Noctuidae", body_mm=6.0, wingspan_mm=40.0)
STUDY, ATTIC = Room("study", "room", 50.0), Room("attic", "room", 50.0)


def two(body_mm: float, mounted: str, room: Room = STUDY) -> Snapshot:
    """M-1 mounted on 8 May on B1 in the study, M-2 on B2 as told."""
    snap = one_board(MOTH, rooms=(STUDY, ATTIC))
    other = MOTH._replace(specimen="M-2", body_mm=body_mm)
    at = local(mounted)
    return replace(
        snap,
        boards={**snap.boards, "B2": Board("B2", 8.0, 120.0, 400)},
        stays=(*snap.stays, BoardStay("B2", room.room, ALWAYS)),
        specimens={**snap.specimens, "M-2": other},
        placements=(*snap.placements, Placement(9, "M-2", "B2", 0, 50, at, at.date())),
    )


@pytest.mark.parametrize(
    ("snap", "found"),
    [
        pytest.param(two(6.9, "2027-05-15T10:00"), ["M-2"], id="15 % stouter, 7 days later"),
        pytest.param(two(5.1, "2027-05-01T23:00"), ["M-2"], id="15 % slenderer, 7 days earlier"),
        pytest.param(two(7.0, "2027-05-08T10:00"), [], id="stouter than 15 %"),
        pytest.param(two(6.0, "2027-05-16T10:00"), [], id="8 days later"),
        pytest.param(two(6.0, "2027-05-08T10:00", ATTIC), [], id="in another room"),
    ],
)
def test_sisters_are_as_stout_mounted_the_same_days_in_the_same_room(
    snap: Snapshot, found: list[str]
) -> None:
    assert [p.specimen for p in sisters(on_board(snap), seen(snap))] == found


def test_what_came_off_or_was_found_stiff_is_no_sister_any_more(desk: Desk) -> None:
    assert "M-07 on B8" in desk.did("test", "M-08", "soft")
    desk.did("test", "M-07", "stiff", now="2027-05-08T12:00")
    assert "M-07" not in desk.did("test", "M-08", "soft", now="2027-05-08T12:00")


@given(
    body=st.floats(2.0, 12.0),
    other=st.floats(2.0, 12.0),
    days=st.integers(0, 20),
)
def test_sisters_by_the_law(body: float, other: float, days: int) -> None:
    snap = two(other, "2027-05-08T10:00")
    first, second = snap.placements
    at = datetime.fromordinal(first.mounted_on.toordinal() + days).date()
    snap = replace(
        snap,
        specimens={**snap.specimens, "M-1": MOTH._replace(body_mm=body)},
        placements=(first, second._replace(mounted_on=at)),
    )
    alike = abs(other - body) <= 0.15 * body + 1e-9 and days <= 7
    assert bool(sisters(on_board(snap), seen(snap))) == alike


def test_after_a_soft_test_the_plan_is_mended_and_only_what_changed_is_said(
    tmp_path: Path,
) -> None:
    """One was to take a slot on Saturday that is due; what lies there is soft."""
    desk, one = narrow_weekend(tmp_path)
    where = f"{one.specimen},{one.board},{one.from_mm},{one.to_mm},"
    before = desk.did("plan", "--format", "csv")
    assert f"SAT-08,{where}" in before
    said = desk.did("test", *one.after, "soft")
    assert "The plan was mended" in said
    after = desk.did("plan", "--format", "csv")
    assert f"SAT-08,{where}" not in after
    changed = {
        line.split(",")[1]
        for line in set(before.splitlines()) ^ set(after.splitlines())
        if _where(before, line.split(",")[1]) != _where(after, line.split(",")[1])
    }
    assert changed
    for name in changed:
        assert f"  {name}" in said
    untouched = {line.split(",")[1] for line in before.splitlines()[1:]} - changed
    assert not [name for name in untouched if f"  {name}:" in said or f"  {name} " in said]


def _where(plan: str, specimen: str) -> list[str]:
    return [
        ",".join(line.split(",")[:4])
        for line in plan.splitlines()
        if line.split(",")[1] == specimen and line.split(",")[0]
    ]


def test_a_soft_test_that_changes_nothing_says_so(desk: Desk) -> None:
    assert "The plan stands as it was." in desk.did("test", "K-01", "soft")


def test_without_a_kept_plan_nothing_is_said_of_one(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", Path(__file__).parent.parent / "sample_batches" / "first_weekend")
    assert "plan" not in desk.did("test", "B5", "soft")


def test_what_was_mounted_since_is_no_change(desk: Desk) -> None:
    with Store(desk.store) as store:
        kept = kept_plan(store)
    assert kept is not None
    first = kept.placements[0]
    slot = f"{first.specimen}={first.from_mm}-{first.to_mm}"
    desk.did("mount", f"{first.board}:", slot)
    with Store(desk.store) as store:
        made = plan(store, rules(), local("2027-05-05T18:00"))
    assert first.specimen not in [one.specimen for one in made.moved]
