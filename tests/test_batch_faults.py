"""Every fault a batch can have, told at its file, row and column with the way out."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from scheduler.intake.batch import Known, read_batch
from scheduler.intake.batch.columns import TABLES
from scheduler.rulebook import Rulebook, load_rulebook

ROOT = Path(__file__).parents[1]
FAULTY = Path(__file__).parent / "faulty" / "batch"
RECORD = Known(
    rooms=frozenset({"study"}),
    boards=frozenset({"B1"}),
    specimens=frozenset({"M-01"}),
    sessions=frozenset({"SAT"}),
    timezone="Europe/Berlin",
    lengths={"B1": 300},
)
"""What the record holds before any of the batches here is read."""

NOW = datetime(2027, 4, 19, 18, 0, tzinfo=ZoneInfo("Europe/Berlin"))

Fault = tuple[str, int | None, str | None, str | None, str]

FAULTS: dict[str, list[Fault]] = {
    "board_out_of_range": [
        ("boards.csv", 2, "groove_mm", "0.4", "is outside 0.5 to 40 mm"),
        ("boards.csv", 2, "span_mm", "19", "is outside 20 to 400 mm"),
        ("boards.csv", 2, "length_mm", "29", "is outside 30 to 2000 mm"),
        ("boards.csv", 3, "groove_mm", "41", "is outside 0.5 to 40 mm"),
        ("boards.csv", 3, "span_mm", "401", "is outside 20 to 400 mm"),
        ("boards.csv", 3, "length_mm", "2001", "is outside 30 to 2000 mm"),
    ],
    "body_too_thick_for_wingspan": [
        ("specimens.csv", 2, "body_mm", "30", "is more than half of the wingspan, 57 mm"),
    ],
    "cell_under_no_column": [
        ("specimens.csv", 2, None, None, "has more or fewer cells than the header, which has 3"),
    ],
    "column_twice": [
        ("boards.csv", 1, "groove_mm", "Groove_mm", "stands twice in the header"),
    ],
    "control_character": [
        ("specimens.csv", 2, "locality", "Alder� Carr", "contains a control character U+0007"),
        ("specimens.csv", 3, "locality", "Alder�Carr", "contains a line break"),
    ],
    "coordinates_out_of_range": [
        ("specimens.csv", 2, "decimalLatitude", "90.1", "is outside -90 to 90 degrees"),
        ("specimens.csv", 2, "decimalLongitude", "-180.1", "is outside -180 to 180 degrees"),
        ("specimens.csv", 3, "decimalLongitude", None, "is empty"),
    ],
    "count_makes_an_id_that_is_taken": [
        ("boards.csv", 3, "board", "T-2", "stands twice (first in boards.csv, row 2)"),
    ],
    "count_not_positive": [
        ("boards.csv", 2, "count", "0", "is outside 1 to 500"),
    ],
    "country_code_of_three_letters": [
        ("specimens.csv", 2, "countryCode", "NOR", "is not a two-letter country code"),
    ],
    "date_as_a_number": [
        ("specimens.csv", 2, "body_mm", "2027-03-04", "is a date, not a number"),
    ],
    "date_not_iso": [
        ("specimens.csv", 2, "available", "20270508", "is not a date"),
        ("specimens.csv", 2, "wanted_by", "18.5.27", "has a year of two digits"),
        ("specimens.csv", 3, "available", "8.XIII.2027", "has no month XIII"),
    ],
    "day_not_in_the_calendar": [
        ("specimens.csv", 2, "available", "2027-02-29", "is not a day of the calendar"),
    ],
    "day_order_mixed": [
        (
            "specimens.csv",
            None,
            None,
            None,
            "has dates day first (row 3, available: 23/5/2027) and dates month first (row 3,"
            " wanted_by: 6/30/2027)",
        ),
    ],
    "day_order_unsettled": [
        (
            "specimens.csv",
            None,
            None,
            None,
            "it cannot be told whether dates have the day or the month first (row 3, available:"
            " 8.5.2027)",
        ),
    ],
    "decimal_comma_and_point": [
        (
            "specimens.csv",
            None,
            None,
            None,
            "has a decimal comma (row 2, body_mm: 4,3) and a decimal point (row 3, body_mm: 3.1)",
        ),
    ],
    "decimals_or_thousands": [
        (
            "specimens.csv",
            None,
            None,
            None,
            "it cannot be told whether a number has decimals or thousands (row 2,"
            " coordinateUncertaintyInMeters: 1.000)",
        ),
    ],
    "elevations_reversed": [
        ("specimens.csv", 2, "maximumElevationInMeters", "80", "is below the minimum, 120 m"),
    ],
    "empty_file": [
        ("sessions.csv", None, None, None, "is empty"),
    ],
    "empty_required_cells": [
        ("boards.csv", 2, "groove_mm", None, "is empty"),
        ("boards.csv", 4, "board", None, "is empty"),
    ],
    "event_date_not_iso": [
        ("specimens.csv", 3, "eventDate", "2026-06-31", "is not a day or time of the calendar"),
        ("specimens.csv", 4, "eventDate", "2026-06-10/2026-06-08", "ends before it begins"),
        (
            "specimens.csv",
            5,
            "eventDate",
            "2026-06-10/2026-06-12/2026-06-14",
            "is not an ISO 8601 date or interval",
        ),
        (
            "specimens.csv",
            6,
            "eventDate",
            "2026-06-10T25:00",
            "is not a day or time of the calendar",
        ),
    ],
    "forewing_longer_than_wingspan": [
        ("specimens.csv", 2, "forewing_mm", "35", "is not shorter than the wingspan, 27 mm"),
    ],
    "fresh_yet_frozen": [
        ("specimens.csv", 2, "state", "fresh", "is fresh, yet it was frozen on 2026-08-01"),
    ],
    "frozen_before_collected": [
        ("specimens.csv", 2, "frozen_on", "2026-08-01", "is before it was collected, 2026-08-02"),
    ],
    "id_column_missing": [
        ("mounted.csv", 2, "specimen", "K-01", "is in neither the record nor the batch"),
    ],
    "id_known_as_another_kind": [
        ("specimens.csv", 2, "specimen", "b1", "already names a board (the record)"),
    ],
    "id_shared_across_files": [
        ("boards.csv", 2, "board", "sun", "already names a room (rooms.csv, row 2)"),
        ("sessions.csv", 2, "session", "Sun", "already names a room (rooms.csv, row 2)"),
    ],
    "id_too_long": [
        (
            "specimens.csv",
            2,
            "specimen",
            "KKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKKK",
            "is 41 characters long, more than 40",
        ),
    ],
    "id_twice_in_a_file": [
        ("specimens.csv", 3, "specimen", "k-01", "stands twice (first in specimens.csv, row 2)"),
    ],
    "id_with_space": [
        ("specimens.csv", 2, "specimen", "K 01", "is not an id"),
        ("specimens.csv", 3, "specimen", "-K", "is not an id"),
        ("specimens.csv", 4, "specimen", "_", "is not an id"),
    ],
    "known_id_twice_in_a_file": [
        ("specimens.csv", 3, "specimen", "m-01", "stands twice (first in specimens.csv, row 2)"),
    ],
    "text_of_no_code_page": [
        ("specimens.csv", 3, None, None, "is not UTF-8 text (byte 0xDE)"),
    ],
    "missing_spring_hour": [
        (
            "sessions.csv",
            2,
            "start",
            "2027-03-28T02:30",
            "does not exist in Europe/Berlin: the clocks go forward over it",
        ),
        (
            "mounted.csv",
            2,
            "mounted",
            "2027-03-28T02:00",
            "does not exist in Europe/Berlin: the clocks go forward over it",
        ),
    ],
    "mounted_before_frozen": [
        ("mounted.csv", 2, "mounted", "2027-04-17", "is before K-01 was frozen, 2027-04-18"),
    ],
    "mounted_in_the_future": [
        (
            "mounted.csv",
            2,
            "mounted",
            "2027-04-20",
            "is in the future: now is 2027-04-19T18:00+02:00",
        ),
    ],
    "mounted_twice": [
        ("mounted.csv", 3, "specimen", "M-01", "stands on a board already (row 2)"),
    ],
    "negative_minutes": [
        ("specimens.csv", 2, "minutes", "-1", "is outside 0 to 1440 min"),
        ("sessions.csv", 2, "minutes", "-1", "is outside 0 to 14400 min"),
    ],
    "new_board_without_room": [
        ("boards.csv", 3, "room", None, "is empty"),
    ],
    "no_file_of_a_batch": [
        ("no_file_of_a_batch", None, None, None, "holds no file of a batch"),
    ],
    "no_size": [
        ("specimens.csv", 2, "body_mm", None, "there is nothing to judge the size by"),
    ],
    "not_a_number": [
        ("specimens.csv", 2, "body_mm", "nan", "is not a number"),
        ("specimens.csv", 2, "wingspan_mm", "1e2", "is not a number"),
    ],
    "not_whole": [
        ("boards.csv", 2, "length_mm", "300.5", "is not a whole number"),
        ("specimens.csv", 2, "priority", "2.5", "is not a whole number"),
        ("specimens.csv", 2, "minutes", "7.5", "is not a whole number"),
    ],
    "now_in_the_missing_hour": [
        (
            "settings.toml",
            None,
            "now",
            "2027-03-28T02:30:00",
            "does not exist in Europe/Berlin: the clocks go forward over it",
        ),
    ],
    "number_with_unit": [
        ("boards.csv", 2, "groove_mm", "3 kg", "has the unit kg, and the column is in mm"),
        ("boards.csv", 2, "span_mm", "70 %", "has the unit %, and the column is in mm"),
    ],
    "open_quotation_mark": [
        (
            "specimens.csv",
            2,
            None,
            None,
            "has a quotation mark that does not close its cell",
        ),
    ],
    "priority_out_of_range": [
        ("specimens.csv", 2, "priority", "0", "is outside 1 to 10"),
        ("specimens.csv", 3, "priority", "11", "is outside 1 to 10"),
    ],
    "reference_to_another_kind": [
        ("mounted.csv", 2, "specimen", "B1", "names a board, not a specimen"),
        ("mounted.csv", 2, "board", "M-01", "names a specimen, not a board"),
    ],
    "required_columns_missing": [
        ("boards.csv", 1, "length_mm", None, "this column is missing"),
    ],
    "room_out_of_range": [
        ("rooms.csv", 2, "rh_pct", "101", "is outside 0 to 100 %"),
        ("rooms.csv", 2, "temp_c", "61", "is outside -30 to 60 °C"),
        ("rooms.csv", 3, "rh_pct", "-1", "is outside 0 to 100 %"),
        ("rooms.csv", 3, "temp_c", "-31", "is outside -30 to 60 °C"),
    ],
    "session_without_time_of_day": [
        ("sessions.csv", 2, "start", "2027-05-09", "has no time of day"),
        ("sessions.csv", 3, "start", "2027-05-10T24:30", "is not a moment of the calendar"),
        ("sessions.csv", 4, "start", "noon", "is not a date and time"),
    ],
    "settings_not_toml": [
        ("settings.toml", None, None, None, "is not TOML (Invalid value (at line 1, column 12))"),
    ],
    "settings_of_the_wrong_type": [
        ("settings.toml", None, "timezone", "1", "is not text"),
        ("settings.toml", None, "chamber_places", "many", "is not a whole number from 1 to 10000"),
        ("settings.toml", None, "chamber_time", "20", "is not a time of day"),
        ("settings.toml", None, "now", "True", "is not a date and time"),
    ],
    "settings_out_of_range": [
        (
            "settings.toml",
            None,
            "timezone",
            "Europe/Berlim",
            'is not a time zone; did you mean "Europe/Berlin"',
        ),
        ("settings.toml", None, "chamber_places", "0", "is not a whole number from 1 to 10000"),
        ("settings.toml", None, "chamber_time", "8 pm", "is not a time of day"),
        ("settings.toml", None, "now", "2027-05-05", "has no time of day"),
    ],
    "slot_past_the_end": [
        ("mounted.csv", 2, "to_mm", "301", "is past the end of board B1, which is 300 mm long"),
    ],
    "slot_reversed": [
        ("mounted.csv", 2, "to_mm", "40", "is not beyond from_mm, 40"),
    ],
    "slot_with_one_end": [
        ("mounted.csv", 2, "from_mm", None, "is empty"),
    ],
    "slots_overlap": [
        ("mounted.csv", 2, "from_mm", "60", "overlaps M-01 on board B1, whose slot ends at 100"),
        ("mounted.csv", 4, "from_mm", "99", "overlaps M-01 on board B1, whose slot ends at 100"),
    ],
    "spoils_before_available": [
        ("specimens.csv", 2, "spoils_by", "2027-05-07", "is before it is available, 2027-05-08"),
    ],
    "table_twice": [
        ("specimens.csv", None, None, None, "holds the same table as Specimens.tsv"),
    ],
    "text_too_long": [
        (
            "specimens.csv",
            2,
            "locality",
            "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…",
            "is 201 characters long, more than 200",
        ),
    ],
    "unknown_references": [
        (
            "boards.csv",
            2,
            "room",
            "attic",
            "names a room that is in neither the record nor the batch",
        ),
        (
            "mounted.csv",
            2,
            "specimen",
            "M-O1",
            'names a specimen that is in neither the record nor the batch; did you mean "M-01"',
        ),
        (
            "mounted.csv",
            3,
            "board",
            "B7",
            "names a board that is in neither the record nor the batch",
        ),
    ],
    "unknown_regime": [
        ("rooms.csv", 2, "regime", "dry", "is not a word this column knows"),
    ],
    "unknown_state_and_size": [
        ("specimens.csv", 2, "size", "large", "is not a word this column knows"),
        ("specimens.csv", 2, "state", "thawed", "is not a word this column knows"),
    ],
    "unreadable_file_is_reported_once": [
        ("rooms.csv", 2, None, None, "is not UTF-8 text (byte 0xDE)"),
    ],
    "wanted_before_available": [
        ("specimens.csv", 2, "wanted_by", "2027-05-07", "is before it is available, 2027-05-08"),
    ],
    "workbook_named_csv": [
        ("specimens.csv", None, None, None, "is not a workbook that can be read (BadZipFile)"),
    ],
    "workbook_of_another_kind": [
        ("specimens.numbers", None, None, None, "is a kind of workbook that is not read"),
    ],
    "workbook_that_is_none": [
        ("boards.xlsx", None, None, None, "is not a workbook that can be read (BadZipFile)"),
    ],
    "year_slipped": [
        ("specimens.csv", 2, "available", "0227-05-08", "is not between the years 1900 and 2199"),
    ],
}
"""By folder in tests/faulty/batch: file, row, column, value and a part of the reason, in order."""


@pytest.fixture(scope="module")
def rules() -> Rulebook:
    return load_rulebook()


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_is_told_at_its_cell(fault: str, rules: Rulebook) -> None:
    batch, problems = read_batch(FAULTY / fault, known=RECORD, rules=rules, now=NOW)
    problems += [question.as_problem() for question in batch.questions if question.open]
    told = [(p.file, p.row, p.column, p.value) for p in problems]
    assert told == [expected[:4] for expected in FAULTS[fault]]
    for problem, (*_, reason) in zip(problems, FAULTS[fault], strict=True):
        assert reason in problem.reason
        assert problem.remedy


def test_every_faulty_folder_is_asserted() -> None:
    assert {path.name for path in FAULTY.iterdir()} == set(FAULTS)


def test_a_folder_that_is_not_there(tmp_path: Path, rules: Rulebook) -> None:
    _, problems = read_batch(tmp_path / "nowhere", known=Known(), rules=rules)
    assert [(p.file, p.reason) for p in problems] == [("nowhere", "is not a folder")]


def test_a_file_that_is_a_folder(tmp_path: Path, rules: Rulebook) -> None:
    (tmp_path / "boards.csv").mkdir()
    _, problems = read_batch(tmp_path, known=Known(), rules=rules)
    assert [(p.file, p.row) for p in problems] == [("boards.csv", None)]
    assert "cannot be read" in problems[0].reason


def test_the_sample_of_faults_is_refused_with_all_of_them_at_once(rules: Rulebook) -> None:
    folder = ROOT / "sample_batches" / "faults"
    _, problems = read_batch(folder, known=Known(), rules=rules)
    assert len(problems) >= 45
    files = {"settings.toml", *(table.file for table in TABLES)}
    assert {problem.file for problem in problems} == files
    assert len({problem.reason for problem in problems}) >= 30
