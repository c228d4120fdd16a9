"""What `check_rules` finds: one real faulty folder for each kind of fault."""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import pytest

from scheduler.rulebook import RULE_FILES, Rulebook, check_rules, load_rulebook, rules_dir
from scheduler.rulebook.files import read_tables
from scheduler.rulebook.laws import grid_faults
from scheduler.words.problems import BadInput, Problem

Rows = list[dict[str, str]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the shipped rules that a test may spoil."""
    return Path(shutil.copytree(rules_dir(), tmp_path / "rules"))


def read(path: Path) -> Rows:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def write(path: Path, rows: Rows) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, rows[0].keys(), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def spoil(folder: Path, file: str, first: str, column: str, value: str) -> int:
    """Write a value into the row whose first cell is `first`; return its row number."""
    rows = read(folder / file)
    for number, row in enumerate(rows, start=2):
        if next(iter(row.values())) == first:
            row[column] = value
            write(folder / file, rows)
            return number
    raise AssertionError(f"{file} has no row {first}")


def drop(folder: Path, file: str, first: str) -> None:
    rows = read(folder / file)
    kept = [row for row in rows if next(iter(row.values())) != first]
    assert len(kept) == len(rows) - 1
    write(folder / file, kept)


def only(problems: list[Problem]) -> Problem:
    assert len(problems) == 1, [str(problem) for problem in problems]
    return problems[0]


def test_the_shipped_rules_have_no_fault() -> None:
    assert check_rules(rules_dir()) == []


def test_the_exact_files_of_the_rules() -> None:
    names = {path.name for path in rules_dir().iterdir()}
    assert names == {*RULE_FILES, "README.md"}


def test_every_source_named_in_a_note_exists() -> None:
    known = {row["source_id"] for row in read(rules_dir() / "sources.csv")}
    # S16 is the one voice that no rule follows; README.md says why.
    for file in RULE_FILES:
        for row in read(rules_dir() / file):
            assert set(re.findall(r"\bS\d+\b", row["note"])) <= known, row


def test_a_published_row_never_rests_on_memory_alone() -> None:
    seen = {row["source_id"]: row["seen"] for row in read(rules_dir() / "sources.csv")}
    for file in RULE_FILES[:-2]:
        for row in read(rules_dir() / file):
            if row["basis"] == "published":
                assert {seen[i] for i in row["source_id"].split("|")} <= {"SEEN", "SEEN-2"}, row
            if row["basis"] == "common practice":
                assert row["source_id"] == "", row


@pytest.mark.parametrize("file", RULE_FILES)
def test_missing_file(folder: Path, file: str) -> None:
    (folder / file).unlink()
    found = check_rules(folder)
    assert [(p.row, p.reason) for p in found if p.file == file] == [(None, "is missing")]


@pytest.mark.parametrize("file", RULE_FILES)
def test_missing_column(folder: Path, file: str) -> None:
    rows = read(folder / file)
    write(folder / file, [{k: v for k, v in row.items() if k != "note"} for row in rows])
    problem = only([p for p in check_rules(folder) if p.file == file])
    assert (problem.row, problem.column) == (1, "note")
    assert problem.reason == "the column is missing"


def test_unknown_column(folder: Path) -> None:
    rows = read(folder / "pins.csv")
    write(folder / "pins.csv", [row | {"colour": "black"} for row in rows])
    assert only(check_rules(folder)).column == "colour"


def test_saved_with_semicolons(folder: Path) -> None:
    text = (folder / "recheck.csv").read_text(encoding="utf-8")
    (folder / "recheck.csv").write_text(text.replace(",", ";"), encoding="utf-8")
    found = check_rules(folder)
    assert {p.file for p in found} == {"recheck.csv"}
    assert any("separated by commas" in p.remedy for p in found)


def test_saved_in_another_encoding(folder: Path) -> None:
    text = (folder / "pins.csv").read_text(encoding="utf-8")
    (folder / "pins.csv").write_text(text.replace("note", "größe"), encoding="latin-1")
    problem = only(check_rules(folder))
    assert problem.reason.startswith("cannot be read")
    assert "UTF-8" in problem.remedy


def test_a_comma_without_quotes(folder: Path) -> None:
    with (folder / "limits.csv").open("a", encoding="utf-8") as file:
        file.write("mine,mould_rh_pct,60,%,memory,,,damp, cold\n")
    last = len((folder / "limits.csv").read_text(encoding="utf-8").splitlines())
    problem = only(check_rules(folder))
    assert (problem.file, problem.row) == ("limits.csv", last)
    assert problem.reason == "has 9 cells, the header 8"


@pytest.mark.parametrize(
    ("file", "first", "column", "value", "reason"),
    [
        ("board_time.csv", "fresh-room-8", "min_days", "two weeks", "is not a number"),
        ("board_time.csv", "fresh-room-8", "min_days", "nan", "is out of range"),
        ("board_time.csv", "fresh-room-8", "body_mm", "0", "is not above 0"),
        ("board_time.csv", "fresh-room-8", "min_days", "22", "is below min_days (22)"),
        ("board_time.csv", "fresh-room-8", "plan_days", "13", "is below min_days (14)"),
        ("board_time.csv", "fresh-room-8", "state", "frozen", "is not a known word"),
        ("board_time.csv", "fresh-room-8", "state", "raw", "is not a known word"),
        ("board_time.csv", "fresh-room-8", "basis", "hearsay", "is not a known word"),
        ("board_time.csv", "fresh-room-8", "rule_id", "", "is empty"),
        ("humidity.csv", "air-8-70", "rh_pct", "170", "is out of range"),
        ("humidity.csv", "air-8-70", "rate", "-1", "is out of range"),
        ("families.csv", "family-any", "body_per_wingspan", "0", "is not above 0"),
        ("relaxing.csv", "relax-fresh", "most_hours", "7", "is below first_look_hours (8)"),
        ("relaxing.csv", "relax-fresh", "chamber", "maybe", "is not a known word"),
        ("relaxing.csv", "relax-fresh", "frozen_days_from", "3", "fresh has no age in the freezer"),
        ("fit.csv", "fit-stout", "clearance_max_mm", "0.4", "is below clearance_min_mm (0.5)"),
        ("fit.csv", "fit-stout", "body_mm_below", "6", "is not above body_mm_from"),
        ("pins.csv", "pin-stout", "pin", "", "is empty"),
        ("handling.csv", "mount-stout", "minutes", "2.5", "is not a whole number"),
        ("limits.csv", "limit-mould-rh", "name", "mold_rh_pct", "is not a known word"),
        ("sources.csv", "S1", "seen", "yes", "is not a known word"),
    ],
)
def test_a_wrong_cell(
    folder: Path, file: str, first: str, column: str, value: str, reason: str
) -> None:
    row = spoil(folder, file, first, column, value)
    problem = only(check_rules(folder))
    assert (problem.file, problem.row, problem.reason) == (file, row, reason)
    assert problem.remedy


def test_all_faults_of_all_files_at_once(folder: Path) -> None:
    rows = {
        ("board_time.csv", spoil(folder, "board_time.csv", "fresh-room-8", "min_days", "x")),
        ("pins.csv", spoil(folder, "pins.csv", "pin-large", "body_mm_from", "4")),
        ("humidity.csv", spoil(folder, "humidity.csv", "air-8-70", "rate", "0.9")),
    }
    assert {(p.file, p.row) for p in check_rules(folder)} == rows


def test_published_without_a_locator(folder: Path) -> None:
    row = spoil(folder, "limits.csv", "limit-widest-groove", "locator", "")
    problem = only(check_rules(folder))
    assert (problem.row, problem.column) == (row, "locator")
    assert problem.reason == "a published figure has no locator"


def test_published_without_a_source(folder: Path) -> None:
    row = spoil(folder, "limits.csv", "limit-mould-watch", "basis", "published")
    problem = only(check_rules(folder))
    assert (problem.row, problem.column) == (row, "source_id")


def test_scaled_without_a_law(folder: Path) -> None:
    row = spoil(folder, "board_time.csv", "dried-room-8", "note", "")
    problem = only(check_rules(folder))
    assert (problem.row, problem.column) == (row, "note")


def test_a_locator_without_its_source(folder: Path) -> None:
    row = spoil(folder, "limits.csv", "limit-air-swing", "locator", "p. 35")
    (problem,) = check_rules(folder)
    assert (problem.row, problem.column) == (row, "locator")
    assert problem.reason == "names a place in no source"


def test_two_sources_with_one_locator(folder: Path) -> None:
    row = spoil(folder, "board_time.csv", "fresh-room-8", "locator", "p. 35")
    problem = only(check_rules(folder))
    assert (problem.row, problem.reason) == (row, "2 sources, 1 locators")


def test_source_that_is_not_listed(folder: Path) -> None:
    row = spoil(folder, "board_time.csv", "dried-room-4.5", "source_id", "S99")
    problem = only([p for p in check_rules(folder) if p.file == "board_time.csv"])
    assert (problem.row, problem.column, problem.value) == (row, "source_id", "S99")


def test_source_that_no_rule_uses(folder: Path) -> None:
    rows = read(folder / "sources.csv")
    write(folder / "sources.csv", [*rows, rows[0] | {"source_id": "SPARE"}])
    problem = only(check_rules(folder))
    assert (problem.file, problem.value) == ("sources.csv", "SPARE")


def test_rule_id_twice_in_a_table(folder: Path) -> None:
    row = spoil(folder, "pins.csv", "pin-large", "rule_id", "pin-small")
    problem = only(check_rules(folder))
    assert (problem.row, problem.reason) == (row, "row 3 has the same rule_id")


def test_rule_id_in_two_tables(folder: Path) -> None:
    row = spoil(folder, "recheck.csv", "recheck", "rule_id", "pin-small")
    problem = only(check_rules(folder))
    assert (problem.file, problem.row, problem.value) == ("recheck.csv", row, "pin-small")


def test_two_rows_about_the_same_thing(folder: Path) -> None:
    row = spoil(folder, "families.csv", "family-noctuidae", "family", "Erebidae")
    assert (row, "row 18 is about the same thing") in {
        (p.row, p.reason) for p in check_rules(folder)
    }


def test_anchors_out_of_order(folder: Path) -> None:
    rows = read(folder / "board_time.csv")
    rows[1], rows[2] = rows[2], rows[1]
    write(folder / "board_time.csv", rows)
    problem = only(check_rules(folder))
    assert (problem.file, problem.row) == ("board_time.csv", 4)
    assert "anchors out of order" in problem.reason


@pytest.mark.parametrize(
    ("file", "first", "column"),
    [
        ("humidity.csv", "air-8-70", "rate"),
        ("families.csv", "family-any", "family"),
        ("limits.csv", "limit-mould-rh", "name"),
        ("handling.csv", "take-off", "body_mm_below"),
        ("recheck.csv", "recheck", "body_mm_below"),
    ],
)
def test_a_row_that_is_not_there(folder: Path, file: str, first: str, column: str) -> None:
    rows = read(folder / file)
    kept = [row for row in rows if row["rule_id"] != first]
    header = rows[0].keys()
    with (folder / file).open("w", newline="", encoding="utf-8") as out:
        writer = csv.DictWriter(out, header)
        writer.writeheader()
        writer.writerows(kept)
    found = [p for p in check_rules(folder) if p.file == file]
    assert [(p.row, p.column) for p in found] == [(None, column)]


def test_no_anchor_for_a_state(folder: Path) -> None:
    rows = read(folder / "board_time.csv")
    write(folder / "board_time.csv", [r for r in rows if r["state"] != "dried"])
    assert only(check_rules(folder)).reason == "no anchor for state dried"


@pytest.mark.parametrize("file", ["fit.csv", "pins.csv", "handling.csv"])
def test_gap_between_bodies(folder: Path, file: str) -> None:
    rows = read(folder / file)
    rows[1]["body_mm_from"] = str(float(rows[1]["body_mm_from"]) + 0.5)
    write(folder / file, rows)
    problem = only(check_rules(folder))
    assert (problem.file, problem.row, problem.column) == (file, 3, "body_mm_from")
    assert problem.reason.startswith("no row for bodies from")


@pytest.mark.parametrize("file", ["fit.csv", "pins.csv", "handling.csv"])
def test_overlapping_bodies(folder: Path, file: str) -> None:
    rows = read(folder / file)
    rows[0]["body_mm_below"] = str(float(rows[0]["body_mm_below"]) + 0.5)
    write(folder / file, rows)
    problem = only([p for p in check_rules(folder) if p.column == "body_mm_from"])
    assert (problem.file, problem.row) == (file, 3)
    assert problem.reason.startswith("an earlier row answers up to")


def test_bodies_that_end(folder: Path) -> None:
    spoil(folder, "pins.csv", "pin-very-stout", "body_mm_below", "20")
    assert only(check_rules(folder)).reason == "no row for bodies from 20 mm"


def test_gap_in_relaxing(folder: Path) -> None:
    spoil(folder, "relaxing.csv", "relax-frozen-long", "frozen_days_from", "90")
    reasons = [p.reason for p in check_rules(folder)]
    assert reasons == [
        "no row for: frozen, 60 days in the freezer, a body of 0 mm",
        "no row for: frozen, 60 days in the freezer, a body of 6 mm",
    ]


def test_overlap_in_relaxing(folder: Path) -> None:
    row = spoil(folder, "relaxing.csv", "relax-dried", "body_mm_from", "2")
    problem = only(check_rules(folder))
    assert (problem.file, problem.row) == ("relaxing.csv", row)
    assert problem.reason.startswith("row 7 answers too for: dried")


def test_one_group_word_for_two_families(folder: Path) -> None:
    row = spoil(folder, "families.csv", "family-noctuidae", "group", "owlet moth|Hawk-Moth")
    problem = only(check_rules(folder))
    assert (problem.row, problem.value) == (row, "Hawk-Moth")
    assert problem.reason == "Sphingidae has the same name or group"


class TestLaws:
    """Rows that are each well formed and together break a law of the trade."""

    def test_thicker_sooner(self, folder: Path) -> None:
        row = spoil(folder, "board_time.csv", "fresh-room-12", "min_days", "13")
        problem = only(check_rules(folder))
        assert (problem.file, problem.row, problem.column) == ("board_time.csv", row, "min_days")
        assert "thicker body would be dry sooner than fresh-room-8 (14 days)" in problem.reason

    def test_damper_sooner(self, folder: Path) -> None:
        row = spoil(folder, "humidity.csv", "air-1.5-70", "rate", "0.75")
        problem = only(check_rules(folder))
        assert (problem.file, problem.row, problem.column) == ("humidity.csv", row, "rate")
        assert "damper would dry faster than air-1.5-65" in problem.reason

    def test_thicker_faster(self, folder: Path) -> None:
        row = spoil(folder, "humidity.csv", "air-16-65", "rate", "0.8")
        problem = only(check_rules(folder))
        assert (problem.file, problem.row) == ("humidity.csv", row)
        assert "thicker would dry faster than air-12-65" in problem.reason

    def test_rate_at_50_pct_is_not_1(self, folder: Path) -> None:
        row = spoil(folder, "humidity.csv", "air-16-50", "rate", "0.9")
        found = [(p.row, p.reason[:20]) for p in check_rules(folder)]
        assert (row, "the rate at 50 % mus") in found

    def test_a_family_floor_is_proved_too(self, folder: Path) -> None:
        # The grid on its own, without the comparison of anchors that would stop before it.
        tables, _ = read_tables(folder)
        humidity = tuple(
            row._replace(rate=0.5) if row.rule.rule_id == "air-4.5-65" else row
            for row in tables.humidity
        )
        found = {p.reason for p in grid_faults(Rulebook(tables._replace(humidity=humidity)))}
        assert "a thicker body is dry sooner: state fresh, family Hesperiidae" in found
        assert not any("damper" in reason for reason in found)

    def test_thicker_body_in_a_narrower_groove(self, folder: Path) -> None:
        row = spoil(folder, "fit.csv", "fit-medium", "clearance_min_mm", "0.25")
        problem = only(check_rules(folder))
        assert (problem.file, problem.row) == ("fit.csv", row)
        assert "narrower groove" in problem.reason


def test_own_rows_are_proved_together_with_the_shipped(tmp_path: Path) -> None:
    rows = read(rules_dir() / "board_time.csv")
    mine = next(row for row in rows if row["rule_id"] == "fresh-room-12")
    write_to = tmp_path / "own"
    write_to.mkdir()
    write(write_to / "board_time.csv", [mine | {"min_days": "13", "basis": "memory"}])
    load_rulebook(write_to)
    problem = only(check_rules(rules_dir(), write_to))
    assert (problem.file, problem.row) == ("own/board_time.csv", 2)


def test_loading_refuses_what_has_gaps(tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    rows = read(rules_dir() / "fit.csv")
    write(tmp_path / "own" / "fit.csv", [rows[1] | {"body_mm_below": "5"}])
    with pytest.raises(BadInput) as caught:
        load_rulebook(tmp_path / "own")
    assert [p.reason for p in caught.value.problems] == ["no row for bodies from 5 to 6 mm"]
