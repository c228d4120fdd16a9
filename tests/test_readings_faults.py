"""Every fault a logger's file can have, told at its row and column with the way out."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from scheduler.intake.readings import read_readings
from scheduler.words.problems import Problem

FAULTY = Path(__file__).parent / "faulty" / "readings"

Fault = tuple[int | None, str | None, str | None, str]

REFUSED: dict[str, list[Fault]] = {
    "absolute_humidity_only.csv": [(None, None, None, "has no column of relative humidity")],
    "commas_for_both.csv": [
        (2, None, None, "has more cells than the header, 3: commas seem to be decimal signs, too")
    ],
    "day_and_month_mixed.csv": [
        (4, "Time", "07/15/2026 09:05", "this date has the day where other rows have the month")
    ],
    "day_and_month_unclear.csv": [
        (2, "Time", "03/04/2026 09:05", "day and month cannot be told apart in this file")
    ],
    "empty.csv": [(None, None, None, "has no header that names a time and a humidity")],
    "fahrenheit_without_unit.csv": [(None, "Temp", None, "has no unit and reads like deg F")],
    "header_alone.csv": [(None, None, None, "has a header and no readings")],
    "no_dates_at_all.csv": [(None, None, None, "holds no reading that can be used")],
    "no_header.csv": [(None, None, None, "has no header that names a time and a humidity")],
    "no_humidity.csv": [(None, None, None, "has no column of relative humidity")],
    "not_a_text.csv": [(None, None, None, "is not a text")],
    "not_a_workbook.xlsx": [(None, None, None, "is no workbook (File is not a zip file)")],
    "nothing_usable.csv": [(None, None, None, "holds no reading that can be used")],
    "quotation_mark_open.csv": [
        (2, None, None, "has a quotation mark that does not close its cell")
    ],
    "quotation_mark_over_lines.csv": [
        (2, None, None, "has a quotation mark that does not close its cell")
    ],
    "two_humidities.csv": [
        (1, "RH outside", None, 'two columns could be the humidity: "RH inside", "RH outside"')
    ],
}
"""Files that are refused: nothing of them is taken over."""

LEFT_OUT: dict[str, list[Fault]] = {
    "dew_point_is_no_temperature.csv": [],
    "footer_with_a_number.csv": [(3, "Time", "mean", "is no date and time")],
    "no_dates_at_all.csv": [
        (2, "Time", "yesterday", "is no date and time, in 2 rows down to row 3")
    ],
    "not_in_the_calendar.csv": [
        (2, "Time", "2026-02-30 09:05", "is no date and time, in 4 rows down to row 5")
    ],
    "nothing_usable.csv": [(2, "RH", "-999", "is outside 0 to 100 %, in 2 rows down to row 3")],
    "sensor_failed_for_a_while.csv": [
        (3, "RH", "9999", "is outside 0 to 100 %, in 2 rows down to row 4"),
        (3, "Temp C", "9999", "is outside -40 to 80 deg C, in 2 rows down to row 4"),
        (5, "RH", "err", "is no number"),
        (5, "Temp C", "err", "is no number"),
        (7, "RH", "-5", "is outside 0 to 100 %"),
    ],
    "twelve_hour_clock_past_twelve.csv": [
        (2, "Time", "2026-07-03 13:05 PM", "is no date and time, in 2 rows down to row 3")
    ],
}
"""Files of which the good rows are read, and what is left out of them."""


def told(problems: list[Problem]) -> list[Fault]:
    return [(p.row, p.column, p.value, p.reason) for p in problems]


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_cannot_be_used_is_refused_with_the_reason(name: str) -> None:
    readings, problems, _ = read_readings(FAULTY / name, zone=ZoneInfo("Europe/Berlin"))
    assert told(problems) == REFUSED[name]
    assert readings.count == 0
    assert all(p.file == name and p.remedy for p in problems)


@pytest.mark.parametrize("name", LEFT_OUT)
def test_bad_rows_are_named_and_left_out(name: str) -> None:
    readings, _, _ = read_readings(FAULTY / name, zone=ZoneInfo("Europe/Berlin"))
    assert told(list(readings.left_out)) == LEFT_OUT[name]
    assert all(p.file == name and p.remedy for p in readings.left_out)


def test_every_faulty_file_is_tested() -> None:
    assert {path.name for path in FAULTY.iterdir()} == {*REFUSED, *LEFT_OUT}


def test_what_is_unclear_names_the_option_that_settles_it() -> None:
    _, problems, _ = read_readings(FAULTY / "day_and_month_unclear.csv", zone=ZoneInfo("UTC"))
    assert "--dates day-first or --dates month-first" in problems[0].remedy


def test_a_dew_point_is_not_taken_for_the_temperature() -> None:
    path = FAULTY / "dew_point_is_no_temperature.csv"
    readings, _, _ = read_readings(path, zone=ZoneInfo("UTC"))
    assert [(r.rh_pct, r.temp_c) for day in readings.days.values() for r in day] == [(61.5, None)]


def test_a_file_that_is_not_there_is_one_problem(tmp_path: Path) -> None:
    _, problems, _ = read_readings(tmp_path / "none.csv", zone=ZoneInfo("UTC"))
    assert told(problems) == [(None, None, None, "cannot be read (No such file or directory)")]
