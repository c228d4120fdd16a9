"""Every fault a logger's file can have, told at its row and column with the way out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from scheduler.intake.readings import LoggerFile, read_readings
from scheduler.words.problems import Problem

FAULTY = Path(__file__).parent / "faulty" / "readings"

Fault = tuple[int | None, str | None, str | None, str]

REFUSED: dict[str, list[Fault]] = {
    "absolute_humidity_only.csv": [(None, None, None, "has no column of relative humidity")],
    "commas_for_both.csv": [
        (
            2,
            None,
            None,
            "has 5 cells, the header has 3: commas seem to be decimal signs, too"
            " (2 rows are like that)",
        )
    ],
    "empty.csv": [(None, None, None, "has no header that names a time and a humidity")],
    "header_alone.csv": [(None, None, None, "has a header and no readings")],
    "no_dates_at_all.csv": [(None, None, None, "holds no reading that can be used")],
    "no_header.csv": [(None, None, None, "has no header that names a time and a humidity")],
    "no_humidity.csv": [(None, None, None, "has no column of relative humidity")],
    "not_a_text.csv": [(2, None, None, "is not UTF-8 text (byte 0x80)")],
    "not_a_workbook.xlsx": [(None, None, None, "is not a workbook that can be read (BadZipFile)")],
    "nothing_usable.csv": [(None, None, None, "holds no reading that can be used")],
    "quotation_mark_open.csv": [
        (2, None, None, "has a quotation mark that does not close its cell")
    ],
    "quotation_mark_over_lines.csv": [
        (2, None, None, "has a quotation mark that does not close its cell")
    ],
}
"""Files that are refused: nothing of them is taken over."""

ASKED: dict[str, tuple[str, int | None, str]] = {
    "day_and_month_mixed.csv": (
        "dates",
        4,
        "Some dates have the day where other rows have the month",
    ),
    "day_and_month_unclear.csv": (
        "dates",
        2,
        "Day and month cannot be told apart in this file",
    ),
    "fahrenheit_without_unit.csv": ("unit", None, '"Temp" has no unit and the median 70.2'),
    "two_humidities.csv": (
        "humidity",
        None,
        'Several columns could be the humidity: "RH inside", "RH outside". Which sensor stands'
        " with the boards?",
    ),
    "not_in_the_calendar.csv": (
        "left-out",
        None,
        "4 of 5 rows cannot be used: not_in_the_calendar.csv, row 2, Time: is no date and time, in"
        " 4 rows down to row 5 (read: '2026-02-30 09:05'). Write date and time, as in 2026-07-01"
        " 14:30",
    ),
    "sensor_failed_for_a_while.csv": (
        "left-out",
        None,
        "4 of 6 rows cannot be used: sensor_failed_for_a_while.csv, row 3, RH: is outside 0 to"
        " 100 %, in 2 rows down to row 4 (read: '9999'). It is left out; see whether the sensor"
        " was faulty",
    ),
}
"""Files that leave something open: what is asked, and the row where it shows."""

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
        (3, "Temp C", "9999", "is outside -20 to 60 deg C, in 2 rows down to row 4"),
        (5, "RH", "err", "is no number"),
        (5, "Temp C", "err", "is no number"),
        (7, "RH", "-5", "is outside 0 to 100 %"),
    ],
    "twelve_hour_clock_past_twelve.csv": [
        (2, "Time", "2026-07-03 13:05 PM", "is no date and time, in 2 rows down to row 3")
    ],
}
"""Files of which the good rows are read, and what is left out of them."""


def told(problems: Sequence[Problem]) -> list[Fault]:
    return [(p.row, p.column, p.value, p.reason) for p in problems]


def found(path: Path) -> LoggerFile:
    zone = ZoneInfo("Europe/Berlin")
    return read_readings(path, zone=zone, now=datetime(2026, 11, 1, tzinfo=zone))


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_cannot_be_used_is_refused_with_the_reason(name: str) -> None:
    read = found(FAULTY / name)
    assert told(read.problems) == REFUSED[name]
    assert read.readings.count == 0
    assert all(p.file == name and p.remedy for p in read.problems)


@pytest.mark.parametrize("name", ASKED)
def test_what_a_file_leaves_open_is_asked(name: str) -> None:
    (first, *_) = found(FAULTY / name).questions
    assert (first.key, first.row, first.text) == ASKED[name]
    assert first.options


@pytest.mark.parametrize("name", LEFT_OUT)
def test_bad_rows_are_named_and_left_out(name: str) -> None:
    read = found(FAULTY / name)
    assert told(read.readings.left_out) == LEFT_OUT[name]
    assert all(p.file == name and p.remedy for p in read.readings.left_out)


def test_every_faulty_file_is_tested() -> None:
    assert {path.name for path in FAULTY.iterdir()} == {*REFUSED, *ASKED, *LEFT_OUT}


def test_a_dew_point_is_not_taken_for_the_temperature() -> None:
    path = FAULTY / "dew_point_is_no_temperature.csv"
    assert [(r.rh_pct, r.temp_c) for day in found(path).readings.days.values() for r in day] == [
        (61.5, None)
    ]


def test_a_file_that_is_not_there_is_one_problem(tmp_path: Path) -> None:
    assert told(found(tmp_path / "none.csv").problems) == [
        (None, None, None, "cannot be read (No such file or directory)")
    ]
