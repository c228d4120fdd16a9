"""Recording what was mounted: a session as planned, or one specimen by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, Run, local, narrow_weekend, planned, weekend

from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.journal import read_journal
from scheduler.record.store import Store
from scheduler.words.records import Specimen

SATURDAY = "2027-05-08T12:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """The first weekend, planned; what must come off for Saturday is off."""
    desk = weekend(tmp_path)
    desk.did("release", "B3", "B5", "B10", now=SATURDAY)
    return desk


def standing(desk: Desk) -> dict[str, tuple[str, int, int]]:
    with Store(desk.store) as store:
        return {p.specimen: (p.board, p.from_mm, p.to_mm) for p in store.snapshot().standing()}


def image(desk: Desk) -> str:
    with Store(desk.store) as store:
        return store.image()


def refused(desk: Desk, *words: str, status: int, now: str = SATURDAY) -> Run:
    """A command that must fail, and must leave the record as it was."""
    before = image(desk)
    run = desk(*words, now=now)
    assert run.status == status, run
    assert run.out == ""
    assert image(desk) == before
    return run


# --- a session as planned -----------------------------------------------------------------


def test_a_session_stands_where_the_plan_put_it(desk: Desk) -> None:
    before, plan = standing(desk), planned(desk, "SAT-08")
    said = desk.did("mount", "SAT-08", now=SATURDAY)
    new = {k: v for k, v in standing(desk).items() if k not in before}
    assert new == {p.specimen: (p.board, p.from_mm, p.to_mm) for p in plan}
    *most, last = [f"{p.specimen} on {p.board}" for p in plan]
    mounted = f"session SAT-08: mounted {', '.join(most)} and {last} "
    assert " ".join(said.split()).startswith(mounted)
    assert all(f"{p.specimen} · 8.V. · test from " in said for p in plan if p.due)


def test_the_session_is_found_whatever_its_case_and_mounted_when_told(desk: Desk) -> None:
    desk.did("mount", "sat-08", "--at", "2027-05-08T12:10", now="2027-05-08T13:00")
    with Store(desk.store) as store:
        (placement,) = [p for p in store.snapshot().placements if p.specimen == "K-07"]
        assert placement.mounted_at.isoformat() == "2027-05-08T10:10:00+00:00"
        assert placement.rule_ids
        line = read_journal(store)[-1]
    assert line.happened_at.isoformat() == "2027-05-08T10:10:00+00:00"
    assert line.recorded_at.isoformat() == "2027-05-08T11:00:00+00:00"


def test_except_leaves_specimens_out(desk: Desk) -> None:
    before, (one, *others, last) = set(standing(desk)), planned(desk, "SAT-08")
    words = ("--except", one.specimen.lower(), "--except", last.specimen)
    desk.did("mount", "SAT-08", *words, now=SATURDAY)
    assert set(standing(desk)) - before == {p.specimen for p in others}


def test_a_specimen_that_is_not_in_the_session_cannot_be_excepted(desk: Desk) -> None:
    run = refused(desk, "mount", "SAT-08", "--except", "K-77", status=2)
    assert "no planned specimen 'K-77'. Did you mean K-07" in run.err


def test_a_session_of_which_all_is_excepted_mounts_nothing_and_says_so(desk: Desk) -> None:
    words = [w for p in planned(desk, "SAT-08") for w in ("--except", p.specimen)]
    assert (
        "--except leaves nothing to mount at SAT-08"
        in refused(desk, "mount", "SAT-08", *words, status=2).err
    )


def test_refused_while_what_should_be_off_still_stands(tmp_path: Path) -> None:
    desk, one = narrow_weekend(tmp_path)
    run = refused(desk, "mount", "SAT-08", status=3)
    where = f"{one.specimen} cannot go to {one.from_mm}-{one.to_mm} mm of {one.board}"
    assert f"{where}: {one.after[0]} still stands at" in run.problems
    assert "wingrest release" in run.err


def test_all_but_the_one_whose_slot_is_taken_can_be_mounted(tmp_path: Path) -> None:
    desk, _ = narrow_weekend(tmp_path)
    plan = planned(desk, "SAT-08")
    waits = [w for p in plan if p.after for w in ("--except", p.specimen)]
    free = {p.specimen for p in plan if not p.after}
    assert free
    desk.did("mount", "SAT-08", *waits, now=SATURDAY)
    assert free <= set(standing(desk))


def test_a_session_is_not_mounted_twice(desk: Desk) -> None:
    first = planned(desk, "SAT-08")[0]
    desk.did("mount", "SAT-08", now=SATURDAY)
    told = f"{first.specimen} stands on {first.board} already"
    assert told in refused(desk, "mount", "SAT-08", status=3).err


def test_a_session_that_the_plan_leaves_empty_is_refused(desk: Desk) -> None:
    run = refused(desk, "mount", "WED-12", status=3)
    assert "mounts nothing at WED-12" in run.err


def test_an_unknown_session_is_named_with_the_nearest(desk: Desk) -> None:
    assert "Did you mean SAT-08" in refused(desk, "mount", "SAT-8", status=2).err


def test_without_a_plan_there_is_nothing_to_mount(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    with Store(desk.store) as store, store.transaction():
        store.db.execute("DELETE FROM kept_plan")
    assert "no plan is kept" in refused(desk, "mount", "SAT-08", status=3).err


# --- one specimen by hand -----------------------------------------------------------------


def test_by_hand_with_its_position(desk: Desk) -> None:
    words = ("--board", "b7", "--from-mm", "100", "--to-mm", "150")
    said = desk.did("mount", "m-14", *words, now=SATURDAY)
    assert standing(desk)["M-14"] == ("B7", 100, 150)
    assert "M-14 · 8.V. · test from " in said


def test_by_hand_without_a_position_takes_the_first_free_stretch_that_is_long_enough(
    tmp_path: Path,
) -> None:
    # B3 is taken to 93 mm; once M-03 is off, 0-31 mm are free too, too short for M-20.
    desk = weekend(tmp_path)
    desk.did("release", "M-03", now=SATURDAY)
    desk.did("mount", "M-20", "--board", "B3", now=SATURDAY)
    board, from_mm, to_mm = standing(desk)["M-20"]
    assert (board, from_mm) == ("B3", 93)
    assert to_mm - from_mm == 42
    with Store(desk.store) as store:
        assert [p.estimated for p in store.snapshot().standing("B3")] == [False, False, True]


def test_by_hand_with_a_beginning_alone_takes_the_length_of_the_rules(desk: Desk) -> None:
    desk.did("mount", "M-14", "--board", "B7", "--from-mm", "200", now=SATURDAY)
    assert standing(desk)["M-14"] == ("B7", 200, 238)


def test_by_hand_takes_it_out_of_the_chamber(desk: Desk) -> None:
    with Store(desk.store) as store:
        moment = local(SATURDAY)
        with store.deed(When(moment, moment), "test", "K-07 into the chamber") as deed:
            since = "2027-05-06T18:00:00Z"
            deed.insert("chamber_stay", {"specimen": "K-07", "since": since})
    desk.did("mount", "K-07", "--board", "B5", now=SATURDAY)
    with Store(desk.store) as store:
        (stay,) = store.snapshot().chamber
    assert stay.until is not None
    assert stay.until.isoformat() == "2027-05-08T10:00:00+00:00"


def test_it_was_not_mounted_before_it_went_into_the_chamber(desk: Desk) -> None:
    desk.did("relax", "M-14", now="2027-05-07T18:00")
    run = desk("mount", "M-14", "--board", "B7", "--at", "2027-05-06T10:00", now=SATURDAY)
    assert run.status == 3
    assert "M-14 went into the chamber after that, on Fri 7 May 18:00" in run.err


def test_a_session_leaves_out_what_was_mounted_by_hand_or_is_lost(desk: Desk) -> None:
    by_hand, lost, *others = planned(desk, "SAT-08")
    desk.did("mount", by_hand.specimen, "--board", "B9", "--from-mm", "300", now=SATURDAY)
    desk.did("lost", lost.specimen, "antenna", "broken", now=SATURDAY)
    said = desk.did("mount", "SAT-08", now=SATURDAY)
    assert f"\n  left out: {by_hand.specimen}, on B9 already\n" in said
    assert f"\n  left out: {lost.specimen}, lost already\n" in said
    stands = standing(desk)
    assert stands[by_hand.specimen][:2] == ("B9", 300)
    assert all(stands[p.specimen][0] == p.board for p in others)
    assert lost.specimen not in stands


def test_what_is_lost_is_not_mounted(desk: Desk) -> None:
    desk.did("lost", "M-14", "dropped", now=SATURDAY)
    run = desk("mount", "M-14", "--board", "B7", now=SATURDAY)
    assert run.status == 3
    assert "M-14 is lost (dropped)" in run.err


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["M-14", "--board", "B77"], 2, "no board 'B77'. Did you mean B7"),
        (["M-99", "--board", "B7"], 2, "no specimen 'M-99'"),
        (["M-14"], 2, "M-14 is a specimen. Say where it stands: --board"),
        (["M-14", "--from-mm", "0"], 2, "a slot without a board"),
        (["M-14", "--board", "B7", "--to-mm", "40"], 2, "Give --from-mm too"),
        (["M-14", "--board", "B7", "--from-mm", "60", "--to-mm", "60"], 2, "is no stretch of B7"),
        (["M-14", "--board", "B7", "--from-mm", "360"], 2, "is 380 mm long"),
        (["M-14", "--board", "B8", "--from-mm", "70"], 3, "M-08 still stands at 40-79 mm"),
        (["M-07", "--board", "B7"], 3, "M-07 stands on B8 already"),
        (["M-14", "--board", "B7", "--except", "M-15"], 2, "Give one of them"),
        (["M-14", "--board", "B7", "--from-mm", "-1"], 2, "--from-mm"),
    ],
)
def test_by_hand_refused(desk: Desk, words: list[str], status: int, said: str) -> None:
    assert said in refused(desk, "mount", *words, status=status).err


def test_a_full_board_is_said_to_be_full(desk: Desk) -> None:
    desk.did("mount", "M-14", "--board", "B1", "--from-mm", "0", "--to-mm", "300", now=SATURDAY)
    run = refused(desk, "mount", "K-02", "--board", "B1", status=2)
    assert "would take 36 mm of B1, but it is full" in run.err


def test_a_board_without_a_long_enough_stretch_says_how_long_its_longest_is(desk: Desk) -> None:
    desk.did("mount", "M-14", "--board", "B1", "--from-mm", "20", "--to-mm", "280", now=SATURDAY)
    run = refused(desk, "mount", "K-02", "--board", "B1", status=2)
    assert "its longest free stretch is 20 mm" in run.err


# --- warnings: facts are never refused because they break a rule of the trade --------------


def test_a_groove_too_narrow_is_recorded_with_a_warning(desk: Desk) -> None:
    run = desk("mount", "M-14", "--board", "B1", now=SATURDAY)
    assert run.status == 0
    assert "warning: M-14 on B1: body 6.6 mm: groove 2 mm is too narrow" in run.err
    assert "warning" not in run.out
    assert standing(desk)["M-14"][0] == "B1"


def test_a_groove_far_too_wide_is_recorded_with_the_advice_to_pack_it(desk: Desk) -> None:
    run = desk("mount", "M-22", "--board", "B7", now=SATURDAY)
    assert run.status == 0
    assert "warning: M-22 on B7: " in run.err
    assert "pack the groove" in run.err


def test_a_slot_too_short_is_recorded_with_what_the_rules_would_give(desk: Desk) -> None:
    words = ("--board", "B7", "--from-mm", "0", "--to-mm", "30")
    run = desk("mount", "M-14", *words, now=SATURDAY)
    assert run.status == 0
    assert "warning: M-14 has 30 mm of B7; the rules would give it 38 mm" in run.err


def test_what_fits_is_recorded_without_a_warning(desk: Desk) -> None:
    assert desk("mount", "M-14", "--board", "B7", now=SATURDAY).err == ""


def test_a_specimen_of_unknown_size_needs_a_position_and_is_counted_by_its_groove(
    desk: Desk,
) -> None:
    with Store(desk.store) as store:
        moment = local(SATURDAY)
        with store.deed(When(moment, moment), "test", "X-1 came in a matchbox") as deed:
            deed.put("specimen", rows.specimen_row(Specimen("X-1", state="fresh")))
    run = refused(desk, "mount", "X-1", "--board", "B7", status=2)
    assert "nothing tells the size of X-1" in run.err
    words = ("--board", "B7", "--from-mm", "0", "--to-mm", "40")
    run = desk("mount", "X-1", *words, now=SATURDAY)
    assert run.status == 0
    assert "count as for a body of 8 mm, the groove" in run.problems


# --- when ---------------------------------------------------------------------------------


def test_at_in_the_past_counts_from_then(desk: Desk) -> None:
    words = ("--board", "B7", "--at", "2027-04-24T10:00")
    said = desk.did("mount", "M-14", *words, now=SATURDAY)
    assert "M-14 · 24.IV. · test from " in said


def test_at_in_the_future_is_refused(desk: Desk) -> None:
    words = ("--board", "B7", "--at", "2027-05-08T12:01")
    run = refused(desk, "mount", "M-14", *words, status=2)
    assert "has not happened yet" in run.err


def test_a_slot_that_was_taken_then_is_refused_though_it_is_free_now(desk: Desk) -> None:
    # M-01 stood at 0-26 mm of B5 until today.
    words = ("--board", "B5", "--from-mm", "0", "--to-mm", "40", "--at", "2027-05-01T10:00")
    run = refused(desk, "mount", "K-02", *words, status=3)
    assert "M-01 stood at 0-26 mm until Sat 8 May 12:00" in run.err


# --- undo ---------------------------------------------------------------------------------


@pytest.mark.parametrize("words", [["SAT-08"], ["M-14", "--board", "B7"]])
def test_undo_of_a_mount_restores_the_record_byte_for_byte(desk: Desk, words: list[str]) -> None:
    before = image(desk)
    desk.did("mount", *words, now=SATURDAY)
    assert image(desk) != before
    desk.did("undo", now=SATURDAY)
    assert image(desk) == before
