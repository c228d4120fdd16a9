"""A wrong date, a wrong size, a wrong board: corrected, and the journal knows both."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, local, weekend
from verb_cases import changes_nothing, journal, recorded, refused, snapshot

from scheduler.words.records import Placement, Specimen


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def specimen(desk: Desk, name: str) -> Specimen:
    return snapshot(desk).specimens[name]


def placement(desk: Desk, name: str) -> Placement:
    return next(p for p in snapshot(desk).standing() if p.specimen == name)


# --- specimens -------------------------------------------------------------------------------


def test_a_size_was_misread(desk: Desk) -> None:
    run = recorded(desk, "amend", "m-14", "wingspan_mm=62", "Body_mm=7")
    new = specimen(desk, "M-14")
    assert (new.wingspan_mm, new.body_mm) == (62.0, 7.0)
    said = run.out.splitlines()[0]
    assert said == "amended M-14: body_mm 7 (was 6.6); wingspan_mm 62 (was 55)"


def test_what_was_not_amended_stays_to_the_last_digit(desk: Desk) -> None:
    before = specimen(desk, "M-14")
    desk.did("amend", "M-14", "body_mm=7.1")
    desk.did("amend", "M-14", "body_mm=6.6")
    assert specimen(desk, "M-14") == before


def test_an_empty_value_clears(desk: Desk) -> None:
    run = recorded(desk, "amend", "M-15", "wanted_by=", "priority=")
    new = specimen(desk, "M-15")
    assert (new.wanted_by, new.priority) == (None, 1)
    assert "wanted_by empty (was 2027-06-20)" in run.out


def test_the_label_is_corrected_term_by_term(desk: Desk) -> None:
    old = specimen(desk, "M-14").label
    run = recorded(desk, "amend", "M-14", "locality=Reed Bank (invented)", "habitat=fen")
    assert specimen(desk, "M-14").label == {
        **old,
        "locality": "Reed Bank (invented)",
        "habitat": "fen",
    }
    assert "habitat fen (was empty)" in run.out


def test_what_the_record_says_already(desk: Desk) -> None:
    assert "is recorded like that already" in changes_nothing(
        desk, "amend", "M-14", "wingspan_mm=55"
    )


def test_a_thicker_body_on_its_board_moves_its_dates(desk: Desk) -> None:
    run = recorded(desk, "amend", "M-05", "body_mm=5")
    assert "M-05: test from" in run.out
    assert "(before: Mon 10 May)" in run.out
    assert "M-05 on B3: body 5 mm: groove 4 mm is too narrow" in run.err


def test_a_size_that_leaves_nothing_to_go_by(desk: Desk) -> None:
    desk.did("add", "any", "--body", "5", "--dried", "--as", "X")
    said = refused(desk, "amend", "X-01", "body_mm=", status=2)
    assert "leaves nothing to judge the size by" in said


def test_everything_wrong_is_said_at_once(desk: Desk) -> None:
    said = refused(
        desk, "amend", "M-14", "wingspan_mm=6x", "priority=11", "bodymm=3", "lenght",
        "state=", "frozen_on=2027-01-01", "frozen_on=2027-01-02", "colour=red", status=2,
    )  # fmt: skip
    assert "M-14, wingspan_mm: carries a unit" in said
    assert "M-14, priority: is outside 1 to 10" in said
    assert 'M-14, bodymm: is not one of its columns. Did you mean "body_mm"?' in said
    assert "'lenght'). As in wingspan_mm=62" in said
    assert "M-14, state: cannot be left empty" in said
    assert "M-14, frozen_on: is given twice" in said
    assert "M-14, colour: is not one of its columns. Columns: family, group" in said
    assert "7 problems; nothing was recorded" in said


def test_what_contradicts_the_rest_of_the_specimen(desk: Desk) -> None:
    assert "is fresh, yet it was frozen" in refused(desk, "amend", "M-14", "state=fresh", status=2)
    assert "more than half of the wingspan" in refused(
        desk, "amend", "M-14", "body_mm=30", status=2
    )
    assert "Did you mean M-14" in refused(desk, "amend", "M-114", "body_mm=3", status=2)
    assert "Write column=value. Columns: family" in refused(desk, "amend", "M-14", status=2)


# --- what stands on a board ------------------------------------------------------------------


def test_the_date_written_yesterday_was_wrong(desk: Desk) -> None:
    run = recorded(desk, "amend", "M-05", "mounted=2027-04-28T19:30")
    assert placement(desk, "M-05").mounted_at == local("2027-04-28T19:30")
    assert str(placement(desk, "M-05").mounted_on) == "2027-04-28"
    assert run.out.splitlines()[:2] == [
        "amended M-05: mounted Wed 28 Apr 2027 19:30 (was Thu 29 Apr 2027 19:30)",
        "  M-05: test from Sun 9 May (before: Mon 10 May)",
    ]


def test_it_stands_on_another_board_than_was_written(desk: Desk) -> None:
    before = placement(desk, "M-05")
    run = recorded(desk, "amend", "M-05", "board=b4", "from_mm=100", "to_mm=140")
    now = placement(desk, "M-05")
    assert (now.board, now.from_mm, now.to_mm, now.estimated) == ("B4", 100, 140, False)
    assert (now.id, now.mounted_at) == (before.id, before.mounted_at)
    assert "board B4 (was B3)" in run.out


def test_a_slot_that_begins_elsewhere_keeps_its_length(desk: Desk) -> None:
    length = placement(desk, "M-05").to_mm - placement(desk, "M-05").from_mm
    recorded(desk, "amend", "M-05", "from_mm=200")
    assert (placement(desk, "M-05").from_mm, placement(desk, "M-05").to_mm) == (200, 200 + length)


def test_the_slot_of_another_is_taken(desk: Desk) -> None:
    said = refused(desk, "amend", "M-05", "from_mm=5", status=3)
    assert "M-05 cannot have stood at 5-35 mm of B3: M-03 stands at 0-31 mm" in said
    # A part of its own slot is free to it.
    recorded(desk, "amend", "M-05", "from_mm=70")


def test_a_slot_that_is_not_on_the_board(desk: Desk) -> None:
    said = refused(desk, "amend", "M-05", "from_mm=340", "to_mm=400", status=2)
    assert "340-400 mm is no stretch of B3, which is 350 mm long" in said
    assert "no board 'B33'. Did you mean B3" in refused(
        desk, "amend", "M-05", "board=B33", status=2
    )


def test_a_mounting_that_has_not_happened_or_came_after_its_test(desk: Desk) -> None:
    said = refused(desk, "amend", "M-05", "mounted=2027-05-06", status=2)
    assert "mounted: has not happened yet" in said
    desk.did("test", "M-05", "soft", "--at", "2027-05-03T10:00")
    said = refused(desk, "amend", "M-05", "mounted=2027-05-04", status=2)
    assert "is after it was tested, Mon 3 May 10:00" in said


def test_what_stands_on_no_board_has_no_slot(desk: Desk) -> None:
    said = refused(desk, "amend", "M-14", "mounted=2027-05-01", status=2)
    assert "mounted: cannot be amended: it stands on no board" in said


def test_the_chamber_is_left_when_it_was_really_mounted(desk: Desk) -> None:
    desk.did("relax", "M-10", "--at", "2027-05-03T20:00")
    desk.did("mount", "M-10", "--board", "B8")
    recorded(desk, "amend", "M-10", "mounted=2027-05-04T20:00")
    assert [s.until for s in snapshot(desk).chamber] == [local("2027-05-04T20:00")]
    said = refused(desk, "amend", "M-10", "mounted=2027-05-02T20:00", status=3)
    assert "M-10 went into the chamber after that, on Mon 3 May 20:00" in said


def test_mounted_before_it_was_frozen_is_a_warning(desk: Desk) -> None:
    run = recorded(desk, "amend", "M-05", "frozen_on=2027-05-01")
    assert "was mounted on 29 Apr 2027, before it was frozen on 1 May 2027" in run.err


# --- boards, rooms, sessions -----------------------------------------------------------------


def test_a_groove_measured_again(desk: Desk) -> None:
    run = recorded(desk, "amend", "B3", "groove_mm=3", "span_mm=90")
    board = snapshot(desk).boards["B3"]
    assert (board.groove_mm, board.span_mm) == (3.0, 90.0)
    assert "M-05 on B3: body 2.9 mm: groove 3 mm is too narrow" in run.err


def test_a_board_is_not_shorter_than_what_stands_on_it(desk: Desk) -> None:
    said = refused(desk, "amend", "B3", "length_mm=80", status=3)
    assert "B3 cannot be 80 mm long: M-05 (63-93 mm) would be past its end" in said
    recorded(desk, "amend", "B3", "length_mm=93")


@pytest.mark.parametrize(
    ("correction", "instead"),
    [
        ("room=north", "wingrest move"),
        ("out=1", "wingrest board"),
        ("board=B77", "not one of its columns"),
    ],
)
def test_what_other_commands_do(desk: Desk, correction: str, instead: str) -> None:
    assert instead in refused(desk, "amend", "B3", correction, status=2)


def test_the_air_assumed_of_a_room(desk: Desk) -> None:
    run = recorded(desk, "amend", "study", "rh_pct=60")
    assert snapshot(desk).rooms["study"].rh_pct == 60.0
    assert "M-05: test from" in run.out
    assert "K-01" not in run.out  # it stands in the north room


def test_a_room_whose_air_nobody_knows_promises_nothing(desk: Desk) -> None:
    run = recorded(desk, "amend", "north", "rh_pct=")
    assert "K-01: no date yet in this air (before: Mon 31 May)" in run.out


def test_saturday_begins_later(desk: Desk) -> None:
    run = recorded(desk, "amend", "SAT-08", "start=2027-05-08 10:00", "minutes=120")
    session = snapshot(desk).sessions["SAT-08"]
    assert (session.start, session.minutes) == (local("2027-05-08T10:00"), 120)
    said = " ".join(run.out.split())
    assert "start Sat 8 May 2027 10:00 (was Sat 8 May 2027 09:00)" in said
    assert journal(desk)[-3].command == "amend"
