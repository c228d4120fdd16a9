"""Can I free this board yet: the five answers, the slowest specimen, the JSON, the status."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from air_cases import looked
from bench_cases import Desk, local, one_board, rules, seen, weekend
from hypothesis import given
from hypothesis import strategies as st

from scheduler.drying import answer as answers
from scheduler.drying.answer import Answer, BoardAnswer
from scheduler.looks.ready import ready
from scheduler.record.snapshot import Snapshot
from scheduler.words.problems import BadInput
from scheduler.words.records import Room, Specimen

MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
HAWKMOTH = Specimen("S-1", family="Sphingidae", body_mm=8, state="fresh")
GEOMETER = Specimen("G-1", family="Geometridae", body_mm=2, state="fresh")
STUDY, CLOSE = Room("study", "room", 50), Room("hall", "room", 66)
MUGGY, WET = Room("porch", "room", 76), Room("cellar", "room", 92)
DUE = date(2027, 5, 22)

BOARD_KEYS = ["board", "answer", "due", "clear", "test_first", "specimens"]
SPECIMEN_KEYS = (
    "specimen answer progress_pct mounted_on due clear due_earliest due_latest clear_earliest"
    " clear_latest min_days plan_days rule_ids basis air note"
).split(" ")

EVIDENCE_KEYS = (
    "days worth_days days_at_50 days_expected assumed_due damp_spells known next_date"
).split(" ")
KNOWN_KEYS = ["logger_pct", "dial_pct", "assumed_pct", "regime_pct"]


def ask(snap: Snapshot, moment: str, *names: str) -> BoardAnswer:
    """Ask after a look at the dial, which shows what is said of the room."""
    (answer,) = ready(seen(looked(snap, moment), local(moment)), names or ("B1",))
    return answer


# --- the answers of one specimen ----------------------------------------------------------

ANSWERED: list[tuple[str, Room, str, Sequence[tuple[str, str, str]], Answer, int]] = [
    ("the evening before", STUDY, "2027-05-21T23:59", (), "not yet", 1),
    ("the due morning", STUDY, "2027-05-22T00:00", (), "test it now", 0),
    ("long after", STUDY, "2027-09-01T12:00", (), "test it now", 0),
    ("tested stiff", STUDY, "2027-05-23T12:00", [("M-1", "2027-05-22T09:00", "stiff")],
     "take off", 0),
    ("stiff before it was due", STUDY, "2027-05-18T12:00", [("M-1", "2027-05-17T12:00", "stiff")],
     "not yet", 1),
    ("stiff again before it dried on", STUDY, "2027-05-18T12:00",
     [("M-1", "2027-05-17T12:00", "stiff"), ("M-1", "2027-05-18T11:00", "stiff")], "not yet", 1),
    ("stiff once, and it dried on", STUDY, "2027-05-19T12:00",
     [("M-1", "2027-05-17T12:00", "stiff")], "test it now", 0),
    ("stiff again after it dried on", STUDY, "2027-05-19T12:00",
     [("M-1", "2027-05-17T12:00", "stiff"), ("M-1", "2027-05-19T09:00", "stiff")], "take off", 0),
    # Half of the table's minimum: sooner than anything that was ever printed, whoever felt it.
    ("stiff at half its time", STUDY, "2027-05-16T12:00", [("M-1", "2027-05-15T09:00", "stiff")],
     "not yet", 1),
    ("stiff at half its time, and due", STUDY, "2027-05-22T12:00",
     [("M-1", "2027-05-15T09:00", "stiff")], "test it now", 0),
    ("tested soft", STUDY, "2027-05-23T12:00", [("M-1", "2027-05-22T09:00", "soft")],
     "not yet", 1),
    ("a week after it was soft", STUDY, "2027-05-29T12:00", [("M-1", "2027-05-22T09:00", "soft")],
     "test it now", 0),
    ("close air, due", CLOSE, "2027-08-01T12:00", (), "test it now", 0),
    ("close air, not due", CLOSE, "2027-05-10T12:00", (), "not yet", 1),
    ("close air, stiff", CLOSE, "2027-08-01T12:00", [("M-1", "2027-07-30T09:00", "stiff")],
     "take off", 0),
    ("damp air, due", MUGGY, "2027-08-01T12:00", (), "dry, but not today", 1),
    ("damp air, not due", MUGGY, "2027-05-10T12:00", (), "not yet", 1),
    ("damp air, stiff", MUGGY, "2027-08-01T12:00", [("M-1", "2027-07-30T09:00", "stiff")],
     "dry, but not today", 1),
    ("air that gives no time", WET, "2027-08-01T12:00", (), "cannot say", 2),
    ("air unknown", Room("shed", "room", None), "2027-08-01T12:00", (), "cannot say", 2),
    ("desiccant", Room("box", "desiccant"), "2027-05-22T12:00", (), "test it now", 0),
    ("a box said to be damp", Room("box", "desiccant", 90), "2027-05-22T12:00", (),
     "cannot say", 2),
    # 14 days by the air assumed of a warm cabinet, 28 % at 30 C: 5.9.
    ("warm, not yet", Room("oven", "warm"), "2027-05-13T12:00", (), "not yet", 1),
    ("warm", Room("oven", "warm"), "2027-05-14T12:00", (), "test it now", 0),
]  # fmt: skip


@pytest.mark.parametrize(
    ("room", "moment", "tests", "expected", "status"),
    [case[1:] for case in ANSWERED],
    ids=[case[0] for case in ANSWERED],
)
def test_the_answer_and_its_exit_status(
    room: Room,
    moment: str,
    tests: Sequence[tuple[str, str, str]],
    expected: Answer,
    status: int,
) -> None:
    board = ask(one_board(MOTH, rooms=[room], tests=tests), moment)
    assert board.answer == expected
    assert board.specimens[0].answer == expected
    assert answers.EXIT_STATUS[board.answer] == status


def test_the_take_off_limit_itself_is_dry_enough() -> None:
    limit = Room("study", "room", rules().limit("take_off_rh_pct"))
    assert ask(one_board(MOTH, rooms=[limit]), "2027-08-01T12:00").answer == "test it now"


def test_a_board_without_a_room_cannot_be_answered_for() -> None:
    board = ask(replace(one_board(MOTH), stays=()), "2027-08-01T12:00")
    assert board.answer == "cannot say"
    assert "in which room" in board.specimens[0].note
    assert board.specimens[0].progress_pct is None


def test_not_today_says_what_to_do() -> None:
    note = ask(one_board(MOTH, rooms=[MUGGY]), "2027-08-01T12:00").specimens[0].note
    assert "76 % by the dial" in note
    assert "above 75 %" in note
    assert "drier room" in note


def test_in_close_air_the_hand_decides_and_drier_air_keeps_it() -> None:
    # Mould from 65 % on (NPS); what no source says, up to where a stiff wing stays stiff.
    note = ask(one_board(MOTH, rooms=[CLOSE]), "2027-08-01T12:00").specimens[0].note
    assert "the air is damp, 66 % by the dial" in note
    assert "leave what gives at all, and keep what comes off in drier air" in note
    at_limit = Room("study", "room", rules().limit("mould_rh_pct"))
    note = ask(one_board(MOTH, rooms=[at_limit]), "2027-08-01T12:00").specimens[0].note
    assert "damp" not in note


def test_cannot_say_says_what_to_do_instead() -> None:
    note = ask(one_board(MOTH, rooms=[WET]), "2027-08-01T12:00").specimens[0].note
    assert "move the board to a drier room" in note


@pytest.mark.parametrize(
    ("moment", "said"),
    [("2027-05-21T10:00", "1 more day before"), ("2027-05-20T10:00", "2 more days before")],
)
def test_not_yet_counts_the_days(moment: str, said: str) -> None:
    assert ask(one_board(MOTH), moment).specimens[0].note.startswith(said)


def test_100_pct_is_not_shown_before_the_due_date() -> None:
    snap = one_board(MOTH)
    # Mounted at 10:00: by midnight it has had 13.6 of its 14 days.
    assert ask(snap, "2027-05-21T23:59").specimens[0].progress_pct == 97
    assert ask(snap, "2027-05-22T10:00").specimens[0].progress_pct == 100


@given(st.integers(-100, 1000))
def test_the_dates_do_not_depend_on_the_day_of_asking(days: int) -> None:
    snap = one_board(MOTH, HAWKMOTH, tests=[("S-1", "2027-05-24T09:00", "soft")])
    moment = (local("2027-05-08T12:00") + timedelta(days=days)).replace(tzinfo=None).isoformat()
    board = ask(snap, moment)
    assert board.due == date(2027, 5, 31)
    assert {s.specimen: s.due for s in board.specimens} == {"M-1": DUE, "S-1": date(2027, 5, 31)}


# --- the answer of a board ----------------------------------------------------------------


def test_a_board_is_as_free_as_its_slowest_specimen() -> None:
    # Bodies of 4.5 mm are due after 14 days, of 2 mm after 9.
    snap = one_board(MOTH, GEOMETER)
    board = ask(snap, "2027-05-18T12:00")
    assert [(s.specimen, s.answer) for s in board.specimens] == [
        ("M-1", "not yet"),
        ("G-1", "test it now"),
    ]
    assert (board.answer, board.due, board.test_first) == ("not yet", DUE, "G-1")


def test_the_stoutest_of_those_that_are_due_is_tested_first() -> None:
    snap = one_board(GEOMETER, HAWKMOTH, MOTH)
    assert ask(snap, "2027-06-30T12:00").test_first == "S-1"


def test_what_was_tested_stiff_is_not_tested_again() -> None:
    snap = one_board(GEOMETER, HAWKMOTH, tests=[("S-1", "2027-06-29T09:00", "stiff")])
    assert ask(snap, "2027-06-30T12:00").test_first == "G-1"


def test_nothing_is_named_to_be_tested_while_nothing_is_due() -> None:
    assert ask(one_board(MOTH, HAWKMOTH), "2027-05-10T12:00").test_first is None


def test_one_that_has_no_date_leaves_the_board_without_one() -> None:
    moths = [MOTH, MOTH._replace(specimen="M-2", body_mm=14)]
    board = ask(one_board(*moths, rooms=[Room("north", "room", 72)]), "2027-08-01T12:00")
    assert {s.specimen: s.due is None for s in board.specimens} == {"M-1": False, "M-2": True}
    assert (board.answer, board.due, board.clear) == ("cannot say", None, None)


def test_an_empty_board_is_free() -> None:
    board = ask(one_board(), "2027-08-01T12:00")
    assert (board.answer, board.specimens, board.due) == ("empty", (), None)
    assert answers.EXIT_STATUS["empty"] == 0


def test_every_answer_has_an_exit_status_that_grows_with_it() -> None:
    statuses = [answers.EXIT_STATUS[a] for a in answers.ANSWERS]
    assert statuses == sorted(statuses)


# --- who is asked about -------------------------------------------------------------------


def test_a_specimen_is_answered_for_alone_and_the_others_are_counted() -> None:
    board = ask(one_board(MOTH, GEOMETER), "2027-05-18T12:00", "g-1")
    assert [s.specimen for s in board.specimens] == ["G-1"]
    assert (board.answer, board.others) == ("test it now", 1)


@pytest.mark.parametrize("names", [("G-1", "B1"), ("B1", "G-1"), ("b1", "b1")])
def test_a_board_and_its_specimen_are_answered_once(names: tuple[str, str]) -> None:
    board = ask(one_board(MOTH, GEOMETER), "2027-05-18T12:00", *names)
    assert (len(board.specimens), board.others) == (2, 0)


def test_all_unknown_names_are_said_at_once() -> None:
    with pytest.raises(BadInput) as refused:
        ask(one_board(MOTH), "2027-05-18T12:00", "B11", "M-7", "B1")
    assert "'B11'. Did you mean B1?" in str(refused.value)
    assert "'M-7'. Did you mean M-1?" in str(refused.value)


# --- at the console -----------------------------------------------------------------------


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.mark.parametrize(
    ("names", "status"),
    [
        (["B1"], 0),
        (["B5"], 0),
        (["B1", "B5"], 0),
        (["B3"], 1),
        (["B5", "B3"], 1),
        (["M-03"], 0),
        ([], 1),
        (["B99"], 2),
        (["B5", "M-10"], 2),
    ],
    ids=["empty", "due", "both", "not yet", "one not yet", "specimen", "all", "none", "waiting"],
)
def test_of_several_answers_the_highest_status_counts(
    desk: Desk, names: list[str], status: int
) -> None:
    desk.did("air", "study", "52")
    assert desk("ready", *names).status == status


def test_cannot_say_outranks_not_yet(desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "rooms.csv").write_text("room,regime,rh_pct\nnorth,room,90\n", encoding="utf-8")
    desk.did("load", tmp_path)
    assert desk("ready", "B12").status == 2
    assert desk("ready", "B3", "B12", "B5").status == 2


def test_an_unknown_board_is_named_on_stderr_with_the_nearest(desk: Desk) -> None:
    run = desk("ready", "B13")
    assert (run.status, run.out) == (2, "")
    assert "there is no board or mounted specimen 'B13'. Did you mean B" in run.err


def test_the_json_has_the_documented_keys_and_no_others(desk: Desk) -> None:
    desk.did("air", "study", "52")
    found = json.loads(desk("ready", "--format", "json").out)
    assert list(found) == ["boards"]
    assert [b["board"] for b in found["boards"]] == ["B10", "B12", "B3", "B5", "B8"]
    for board in found["boards"]:
        assert list(board) == BOARD_KEYS
        for specimen in board["specimens"]:
            # What the answer rests on stands beside the documented keys, never among them.
            assert list(specimen) == [*SPECIMEN_KEYS, "learned", "evidence"]
            assert list(specimen["evidence"]) == EVIDENCE_KEYS
            assert list(specimen["evidence"]["known"]) == KNOWN_KEYS
    b5 = found["boards"][3]
    assert (b5["answer"], b5["due"], b5["clear"]) == ("test it now", "2027-05-02", "2027-05-06")
    assert b5["test_first"] == "M-02"
    first = b5["specimens"][0]
    assert first["specimen"] == "M-02"
    assert first["mounted_on"] == "2027-04-17"
    assert first["air"] == "study 52 % by the dial (read Wed 5 May 18:00)"
    assert first["basis"] in ("published", "scaled", "common practice", "memory")
    assert isinstance(first["progress_pct"], int)
    assert first["rule_ids"]
    assert all(isinstance(r, str) for r in first["rule_ids"])


def test_an_empty_board_in_json(desk: Desk) -> None:
    found = json.loads(desk("ready", "B1", "--format", "json").out)
    assert found == {"boards": [{"board": "B1", "answer": "empty", "due": None, "clear": None,
                                 "test_first": None, "specimens": []}]}  # fmt: skip


def test_a_specimen_asked_about_alone_is_said_to_be_alone(desk: Desk) -> None:
    desk.did("air", "study", "52")
    assert desk("ready", "m-01").out.startswith("B5, M-01 alone: TEST IT NOW")
    assert desk("ready", "B5").out.startswith("B5: TEST IT NOW - M-02 first")


def test_how_the_test_is_done_is_said_once_where_there_is_something_to_test(desk: Desk) -> None:
    assert desk("ready", "B5", "B10").out.count("How to test") == 1
    assert "How to test" not in desk("ready", "B12", "B1").out


def test_an_empty_record_answers_that_nothing_stands(tmp_path: Path) -> None:
    run = Desk(tmp_path / "new.sqlite")("ready")
    assert (run.status, run.out, run.err) == (0, "Nothing stands on any board.\n", "")
