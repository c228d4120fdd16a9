"""Recording what came off: due, not due, early, in damp air; and taking it back."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, Run, local, weekend

from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.journal import read_journal
from scheduler.record.rows import Value
from scheduler.record.store import Store
from scheduler.words.records import DrynessTest, Placement

SATURDAY = "2027-05-08T12:00"
NEXT = "  next: `wingrest print labels`; `wingrest bag`, 2-5 days frozen (S1 p. 49)"
"""What follows for everything that came off."""


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def placements(desk: Desk) -> dict[str, Placement]:
    with Store(desk.store) as store:
        return {p.specimen: p for p in store.snapshot().placements}


def dryness_tests(desk: Desk, specimen: str) -> tuple[DrynessTest, ...]:
    with Store(desk.store) as store:
        snap = store.snapshot()
        (placement,) = [p for p in snap.placements if p.specimen == specimen]
        return snap.tests_of(placement.id)


def off(desk: Desk) -> list[str]:
    return sorted(s for s, p in placements(desk).items() if p.released_at is not None)


def image(desk: Desk) -> str:
    with Store(desk.store) as store:
        return store.image()


def refused(desk: Desk, *words: str, status: int) -> Run:
    before = image(desk)
    run = desk("release", *words, now=SATURDAY)
    assert run.status == status, run
    assert run.out == ""
    assert image(desk) == before
    return run


def by_hand(desk: Desk, specimen: str, verdict: str, when: str) -> None:
    """Record a dryness test by hand, as the bench would."""
    moment = local(when)
    with (
        Store(desk.store) as store,
        store.deed(When(moment, moment), "test", f"{specimen} {verdict}") as deed,
    ):
        (placement,) = [p for p in store.snapshot().placements if p.specimen == specimen]
        at = rows.moment_text(moment)
        row: dict[str, Value] = {"placement": placement.id, "tested_at": at, "verdict": verdict}
        deed.insert("dryness_test", row)


# --- due ----------------------------------------------------------------------------------


def test_what_is_due_comes_off_and_its_test_is_recorded(desk: Desk) -> None:
    assert desk.did("release", "m-01", now=SATURDAY) == f"took M-01 off\n{NEXT}\n"
    taken = placements(desk)["M-01"]
    assert taken.released_at == local(SATURDAY)
    assert taken.early_reason is None
    assert [(t.verdict, t.tested_at) for t in dryness_tests(desk, "M-01")] == [
        ("stiff", local(SATURDAY))
    ]


def test_a_board_gives_up_what_is_due_and_lists_the_rest(desk: Desk) -> None:
    said = desk.did("release", "B10", now=SATURDAY).splitlines()
    assert said == ["took M-06 off", "M-09 stays on B10: it is due on Mon 10 May", NEXT]
    assert off(desk) == ["M-06"]


def test_it_comes_off_on_the_due_date_itself_but_not_the_evening_before(desk: Desk) -> None:
    assert desk("release", "M-07", now="2027-05-06T23:59").status == 3
    assert desk("release", "M-07", now="2027-05-07T00:00").status == 0


def test_several_boards_and_specimens_at_once_are_one_line(desk: Desk) -> None:
    with Store(desk.store) as store:
        lines = len(read_journal(store))
    said = desk.did("release", "B5", "M-03", "b3", "B1", now=SATURDAY)
    assert off(desk) == ["M-01", "M-02", "M-03", "M-04"]
    assert said.count("M-05 stays on B3") == 1
    with Store(desk.store) as store:
        assert len(read_journal(store)) == lines + 1


def test_what_was_felt_stiff_once_stays_and_comes_off_when_it_is_stiff_again(desk: Desk) -> None:
    by_hand(desk, "M-09", "stiff", "2027-05-07T09:00")
    run = refused(desk, "M-09", status=3)
    once = "M-09 stays on B10: it is due on Sun 9 May, and was felt stiff too early"
    assert once in " ".join(run.err.split())
    by_hand(desk, "M-09", "stiff", "2027-05-09T20:00")
    desk.did("release", "M-09", now="2027-05-09T21:00")
    assert placements(desk)["M-09"].early_reason is None


def test_what_was_tested_soft_waits_for_its_next_test(desk: Desk) -> None:
    by_hand(desk, "M-02", "soft", "2027-05-08T09:00")
    run = refused(desk, "M-02", status=3)
    assert "M-02 stays on B5: it is due on Sat 15 May" in run.err
    assert desk("release", "M-02", now="2027-05-15T09:00").status == 0


def test_an_empty_board_has_nothing_to_give_and_leaves_no_line(desk: Desk) -> None:
    before = image(desk)
    assert desk.did("release", "B1", now=SATURDAY) == "nothing stands on B1\n"
    assert image(desk) == before


# --- not due ------------------------------------------------------------------------------


def test_what_is_not_due_is_refused_with_its_date_and_the_way_out(desk: Desk) -> None:
    run = refused(desk, "K-01", status=3)
    assert "K-01 stays on B12: it is due on Mon 31 May" in run.err
    assert run.err.rstrip().endswith("--early REASON")


def test_a_board_of_which_nothing_is_due_is_refused(desk: Desk) -> None:
    assert "K-01 stays on B12" in refused(desk, "B12", status=3).err


def test_one_named_that_is_not_due_keeps_all_of_them_on(desk: Desk) -> None:
    assert "K-01 stays" in refused(desk, "M-01", "K-01", status=3).err


def test_what_has_no_date_says_so(desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "rooms.csv").write_text("room,regime,rh_pct\nnorth,room,90\n", encoding="utf-8")
    desk.did("load", tmp_path)
    said = refused(desk, "K-01", status=3).err
    assert "K-01 stays on B12: it has no date yet in this air" in said


def test_an_unknown_name_is_refused_with_the_nearest(desk: Desk) -> None:
    assert "Did you mean M-01" in refused(desk, "M-011", status=2).err


# --- early --------------------------------------------------------------------------------


def test_early_records_the_reason_and_no_test(desk: Desk) -> None:
    run = desk("release", "K-01", "--early", "mould on the abdomen", now=SATURDAY)
    assert run.status == 0
    assert run.out == f"took K-01 off early: mould on the abdomen\n{NEXT}\n"
    assert "warning: taken off before its time, a wing may droop" in run.err
    assert placements(desk)["K-01"].early_reason == "mould on the abdomen"
    assert dryness_tests(desk, "K-01") == ()


def test_early_of_a_board_still_tests_what_is_due(desk: Desk) -> None:
    said = desk.did("release", "B10", "--early", "the board is needed", now=SATURDAY)
    assert said == f"took M-06 off; took M-09 off early: the board is needed\n{NEXT}\n"
    assert placements(desk)["M-06"].early_reason is None
    assert placements(desk)["M-09"].early_reason == "the board is needed"
    assert [t.verdict for t in dryness_tests(desk, "M-06")] == ["stiff"]
    assert dryness_tests(desk, "M-09") == ()


def test_early_with_nothing_early_about_it_is_an_ordinary_release(desk: Desk) -> None:
    run = desk("release", "M-01", "--early", "impatience", now=SATURDAY)
    assert (run.status, run.out, run.err) == (0, f"took M-01 off\n{NEXT}\n", "")


@pytest.mark.parametrize("reason", ["", "  "])
def test_early_needs_a_reason(desk: Desk, reason: str) -> None:
    assert "without a reason" in refused(desk, "K-01", "--early", reason, status=2).err


# --- damp air, and when -------------------------------------------------------------------


def test_taking_off_in_damp_air_is_recorded_with_a_warning(desk: Desk) -> None:
    desk.did("air", "study", "76", "20", now="2027-06-30T11:00")
    run = desk("release", "M-06", now="2027-06-30T12:00")
    assert run.status == 0
    assert "the air of study is 76 % by the dial" in run.problems
    assert "above 75 %" in run.problems
    assert "warning" not in run.out


def test_what_comes_off_in_close_air_goes_into_drier_air(desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "rooms.csv").write_text("room,regime,rh_pct\nstudy,room,66\n", encoding="utf-8")
    desk.did("load", tmp_path)
    run = desk("release", "M-06", now="2027-06-30T12:00")
    assert run.status == 0
    assert "the air of study is damp, 66 % assumed: keep them in drier air" in run.problems


def test_taking_off_in_ordinary_air_warns_of_nothing(desk: Desk) -> None:
    assert desk("release", "M-01", now=SATURDAY).err == ""


def test_at_says_when_it_came_off(desk: Desk) -> None:
    desk.did("release", "M-01", "--at", "2027-05-04T19:30", now=SATURDAY)
    assert placements(desk)["M-01"].released_at == local("2027-05-04T19:30")


def test_what_was_not_due_then_is_refused_though_it_is_due_now(desk: Desk) -> None:
    assert "due on Sun 2 May" in refused(desk, "M-01", "--at", "2027-05-01T10:00", status=3).err


def test_at_in_the_future_is_refused(desk: Desk) -> None:
    assert "has not happened yet" in refused(desk, "M-01", "--at", "2027-06-01", status=2).err


def test_it_cannot_come_off_before_it_was_mounted(desk: Desk) -> None:
    words = ("M-01", "--early", "a slip of the pen", "--at", "2027-04-01T10:00")
    assert "before it was mounted" in refused(desk, *words, status=3).err


# --- undo ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [["M-01"], ["B10"], ["B5", "B3"], ["K-01", "--early", "mould"], ["B10", "--early", "mould"]],
    ids=" ".join,
)
def test_undo_of_a_release_restores_the_record_byte_for_byte(desk: Desk, words: list[str]) -> None:
    before = image(desk)
    desk.did("release", *words, now=SATURDAY)
    assert image(desk) != before
    desk.did("undo", now=SATURDAY)
    assert image(desk) == before


def test_undo_of_a_release_is_refused_once_the_slot_is_used_again(desk: Desk) -> None:
    desk.did("release", "B5", now=SATURDAY)
    desk.did("mount", "K-07", "--board", "B5", now="2027-05-08T13:00")
    with Store(desk.store) as store:
        line = next(e.line for e in read_journal(store) if e.command == "release")
    before = image(desk)
    run = desk("undo", str(line), now="2027-05-08T14:00")
    assert run.status == 3
    assert "another specimen stands in that slot" in run.err
    assert image(desk) == before


def test_a_release_taken_back_brought_back_and_taken_back_again(desk: Desk) -> None:
    before = image(desk)
    desk.did("release", "M-01", now=SATURDAY)
    after = image(desk)
    with Store(desk.store) as store:
        line = read_journal(store)[-1].line
    for undone, expected in ((line, before), (line + 1, after), (line + 2, before)):
        desk.did("undo", str(undone), now=SATURDAY)
        assert image(desk) == expected
    run = desk("undo", str(line), now=SATURDAY)
    assert run.status == 3
    assert f"was taken back by line {line + 1}" in run.err
    assert image(desk) == before
    desk.did("undo", str(line + 1), now=SATURDAY)
    assert image(desk) == after
