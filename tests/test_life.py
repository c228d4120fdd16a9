"""Asking about a specimen: where it is, since when, what is next and why; lists of them."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import openpyxl  # type: ignore[import-untyped]
import pytest
from bench_cases import Desk, planned, weekend

from scheduler.record.history import history
from scheduler.record.store import Store
from scheduler.words import wording

SATURDAY = "2027-05-08T12:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def life(desk: Desk, specimen: str, now: str = SATURDAY) -> dict[str, object]:
    found: dict[str, object] = json.loads(desk.did("show", specimen, "--format", "json", now=now))
    return found


# --- one specimen ---------------------------------------------------------------------------


def test_what_waits_says_its_freezer_its_days_there_and_what_is_next(desk: Desk) -> None:
    said = desk.did("show", "m-14")
    assert said.startswith("M-14: Noctua fimbriata ♂\n")
    assert "waits, frozen, in the freezer" in said
    assert "16 Aug, 262 days" in said
    assert max(map(len, said.splitlines())) <= wording.COLUMNS


def test_what_is_planned_says_its_chamber_its_board_and_its_session(desk: Desk) -> None:
    first = planned(desk, "SAT-08")[0]
    said = " ".join(desk.did("show", first.specimen).split())
    assert "next into the chamber Thu 6 May 20:00" in said
    assert f"then mount on {first.board} on 8 May (SAT-08)" in said


def test_what_has_no_place_says_why(desk: Desk) -> None:
    found = life(desk, "M-23", now="2027-05-05T18:00")
    assert found["planned"] is None
    assert found["why_not"] == "body 13.1 mm: the widest groove is 12 mm, board B9"


def test_what_stands_shows_board_dates_rules_and_air(desk: Desk) -> None:
    found = life(desk, "M-07")
    assert found["place"] == "on B8 at 0-40 mm, in north"
    assert found["answer"] in ("test it now", "dry, but not today")
    assert found["due"] == "2027-05-07"
    assert found["rule_ids"]
    assert found["air"]
    assert found["evidence"]


def test_a_life_from_freezer_to_loss_is_told_line_by_line(desk: Desk) -> None:
    assert life(desk, "M-07")["stage"] == "on a board"
    desk.did("test", "M-07", "soft", now=SATURDAY)
    desk.did("undo", now=SATURDAY)
    desk.did("release", "M-07", now=SATURDAY)
    off = life(desk, "M-07")
    assert (off["stage"], off["place"]) == ("off", "off B8")
    assert "label it" in str(off["next"])
    desk.did("drooped", "M-07", "left forewing", now="2027-06-01T10:00")
    with Store(desk.store) as store:
        lines = history(store, "M-07")
    assert [(e.command, e.undone_by is not None) for e in lines] == [
        ("load", False), ("test", True), ("undo", False), ("release", False), ("drooped", False),
    ]  # fmt: skip


def test_a_mounting_that_was_taken_back_stays_in_its_history(desk: Desk) -> None:
    desk.did("relax", "M-14", now="2027-05-07T20:00")
    desk.did("mount", "M-14", "--board", "B7", now=SATURDAY)
    desk.did("undo", now=SATURDAY)
    with Store(desk.store) as store:
        assert [e.command for e in history(store, "M-14")] == ["load", "relax", "mount", "undo"]


def test_what_is_lost_says_why(desk: Desk) -> None:
    desk.did("lost", "M-14", "abdomen", "broken", now=SATURDAY)
    assert life(desk, "M-14")["place"] == "lost: abdomen broken"
    row = next(csv.DictReader(io.StringIO(desk.did("list", "lost", "--format", "csv"))))
    assert (row["specimen"], row["lost_on"], row["why"]) == (
        "M-14", "2027-05-08", "abdomen broken",
    )  # fmt: skip


def test_an_unknown_specimen_names_what_comes_near(desk: Desk) -> None:
    run = desk("show", "M-114")
    assert run.status == 2
    assert "Did you mean" in run.err


# --- finding ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("M-14",), ["M-14"]),
        (("sphinx", "lig"), ["M-24"]),
        (("SPHINX",), ["M-24"]),
        (("b8",), ["M-07", "M-08"]),
        (("aglia", "saltmere"), []),
    ],
    ids=" ".join,
)
def test_it_is_found_by_id_taxon_or_board(
    desk: Desk, words: tuple[str, ...], found: object
) -> None:
    run = desk("find", *words, "--format", "json")
    if found:
        assert [one["specimen"] for one in json.loads(run.out)["specimens"]] == found
    assert run.status == (0 if json.loads(run.out)["specimens"] else 1)


def test_it_is_found_by_box_number_and_name_without_accents(desk: Desk) -> None:
    desk.did("amend", "M-14", "box=Dose 7", "catalogNumber=XY 4711", "recordedBy=Ťuhýk")
    for words in (("dose", "7"), ("xy", "4711"), ("tuhyk",)):
        assert "M-14" in desk.did("find", *words)


def test_a_slip_of_the_pen_is_told_what_comes_near(desk: Desk) -> None:
    run = desk("find", "sphynx")
    assert run.status == 1
    assert run.out == "Nothing is recorded of 'sphynx'. Similar: sphinx.\n"


# --- lists --------------------------------------------------------------------------------------


def test_every_specimen_is_on_exactly_one_list(desk: Desk) -> None:
    desk.did("release", "B8", now=SATURDAY)
    desk.did("lost", "M-14", "ants", now=SATURDAY)
    names: list[str] = []
    for kind in ("waiting", "standing", "off", "lost"):
        listed = json.loads(desk.did("list", kind, "--format", "json", now=SATURDAY))
        names += [row["specimen"] for row in listed[kind]]
    with Store(desk.store) as store:
        assert sorted(names) == sorted(store.snapshot().specimens)


def test_a_list_fits_a_terminal_and_a_workbook_says_the_same(desk: Desk, tmp_path: Path) -> None:
    for kind in ("waiting", "standing", "unlabelled", "off", "lost"):
        shown = desk.did("list", kind, now=SATURDAY)
        assert max(map(len, shown.splitlines())) <= wording.COLUMNS
        book, flat = tmp_path / f"{kind}.xlsx", tmp_path / f"{kind}.csv"
        desk.did("list", kind, "-o", book, now=SATURDAY)
        desk.did("list", kind, "-o", flat, now=SATURDAY)
        rows = list(openpyxl.load_workbook(book).active.values)
        texts = [["" if v is None else str(v) for v in row] for row in rows]
        assert texts == list(csv.reader(flat.read_text("utf-8").splitlines()))


def test_a_brood_of_fourteen_is_one_line_on_the_list(desk: Desk) -> None:
    desk.did("add", "hawkmoth", "--count", "14", "--wingspan", "70", "--frozen", "2027-05-01",
             "--taxon", "Sphinx ligustri", "--lot", "R-27", "--as", "R")  # fmt: skip
    shown = [line for line in desk.did("list", "waiting").splitlines() if line.startswith("R-")]
    assert len(shown) == 1
    assert shown[0].startswith("R-01 to R-14 (14)")
    assert len(json.loads(desk.did("find", "r-27", "--format", "json"))["specimens"]) == 14


def test_a_workbook_starts_no_formula(desk: Desk, tmp_path: Path) -> None:
    desk.did("lost", "M-14", "=1+1", now=SATURDAY)
    desk.did("list", "lost", "-o", tmp_path / "lost.xlsx", now=SATURDAY)
    cell = openpyxl.load_workbook(tmp_path / "lost.xlsx").active["G2"]
    assert (cell.value, cell.data_type) == ("=1+1", "s")
