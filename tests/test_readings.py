"""Loggers' files as loggers write them: headers, units, numbers, dates and clocks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import openpyxl  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.intake.readings import DayReadings, LoggerManner, Reading, Readings, read_readings

BERLIN = ZoneInfo("Europe/Berlin")
JULY = date(2026, 7, 3)
NOW = datetime(2026, 11, 1, tzinfo=BERLIN)

Read = tuple[Readings, list[str]]


def read(path: Path, offset_min: int | None = None, **options: str) -> Read:
    """Read a file that nothing is wrong with; give its readings and notes."""
    found = read_readings(path, zone=BERLIN, now=NOW, manner=LoggerManner(options, offset_min))
    assert found.problems == ()
    assert found.questions == ()
    return found.readings, list(found.notes)


def readings_of(
    folder: Path,
    *lines: str,
    encoding: str = "utf-8",
    offset_min: int | None = None,
    **options: str,
) -> Readings:
    path = folder / "logger.csv"
    path.write_text("\n".join(lines) + "\n", encoding=encoding)
    answers = {key.replace("_", "-"): answer for key, answer in options.items()}
    return read(path, offset_min, **answers)[0]


def every(readings: Readings) -> list[tuple[datetime, float | None, float | None]]:
    return [
        (datetime.combine(day, reading.at), reading.rh_pct, reading.temp_c)
        for day, held in readings.days.items()
        for reading in held
    ]


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


EXPECTED = [(at("2026-07-03 09:05:00"), 61.5, 21.25), (at("2026-07-04 21:05:00"), 58.0, 20.0)]


# One and the same two readings, as different loggers write them

FILES: dict[str, Sequence[str]] = {
    "iso": [
        "Time,RH (%),Temp (°C)",
        "2026-07-03 09:05:00,61.5,21.25",
        "2026-07-04 21:05:00,58.0,20.0",
    ],
    "iso with T and no seconds": [
        "timestamp,humidity,temperature_C",
        "2026-07-03T09:05,61.5,21.25",
        "2026-07-04T21:05,58,20",
    ],
    "semicolons, decimal commas and dots in the date": [
        "Datum/Zeit;Temperatur [°C];Rel. Feuchte [%];Taupunkt [°C]",
        "03.07.2026 09:05;21,25;61,5;13,5",
        "04.07.2026 21:05;20,00;58,0;11,5",
    ],
    "tabs": ["Date Time\tRH\tT", "2026-07-03 09:05\t61.5\t21.25", "2026-07-04 21:05\t58\t20"],
    "quoted decimal commas": [
        "Time,RH %,Temp C",
        '2026-07-03 09:05,"61,5","21,25"',
        '2026-07-04 21:05,"58,0","20,0"',
    ],
    "month first, 12-hour clock, deg F": [
        "#,Date Time,Temperature (°F),RH (%),Dew Point (°F)",
        "1,07/03/2026 09:05:00 AM,70.25,61.5,56.3",
        "2,07/04/2026 09:05:00 PM,68.0,58.0,52.7",
    ],
    "day first, two-digit year, date and time apart": [
        "Date;Time;Temp (deg F);Humidity",
        "3/7/26;9:05;70.25;61.5",
        "4/7/26;21:05;68;58",
    ],
    "lines above the header": [
        "Room climate report",
        "Started: 2026-07-01, interval 5 min",
        "",
        "Time,RH (%),Temp (C)",
        "2026-07-03 09:05,61.5,21.25",
        "2026-07-04 21:05,58,20",
    ],
    "units in a line below the header": [
        "Time;Temperature;Humidity",
        ";deg F;%",
        "2026-07-03 09:05;70.25;61.5",
        "2026-07-04 21:05;68;58",
    ],
    "units in the cells": [
        "Time;Temperature;Humidity",
        "2026-07-03 09:05;21,25 °C;61,5 %",
        "2026-07-04 21:05;20 °C;58 %",
    ],
    "deg F in the cells": [
        "Time;Temperature;Humidity",
        "2026-07-03 09:05;70.25°F;61.5%RH",
        "2026-07-04 21:05;68.00°F;58.0%RH",
    ],
    "month names": [
        "Time,RH,Temp C",
        "3 Jul 2026 09:05,61.5,21.25",
        '"Jul 4, 2026 9:05 PM",58,20',
    ],
    "event columns, empty rows and a last line": [
        "Time,RH,Temp C,Event",
        "2026-07-03 09:00,,,started",
        "2026-07-03 09:05,61.5,21.25,",
        "",
        "2026-07-04 21:05,58,20,",
        "2026-07-04 21:06,,,read out",
        "end of data",
    ],
    "UTC offsets": [
        "Time,RH,Temp C",
        "2026-07-03T09:05:00+02:00,61.5,21.25",
        "2026-07-04T19:05:00Z,58,20",
    ],
    "an offset in the header": [
        'Date Time (UTC+01:00),"RH, %","Temp, °C"',
        "2026-07-03 08:05,61.5,21.25",
        "2026-07-04 20:05,58,20",
    ],
    "UTC in the header": [
        "Time UTC,RH,Temp C",
        "2026-07-03 07:05,61.5,21.25",
        "2026-07-04 19:05,58,20",
    ],
    "the latest first": [
        "Time,RH,Temp C",
        "2026-07-04 21:05,58,20",
        "2026-07-03 09:05,61.5,21.25",
    ],
    "French words": [
        "Date;Heure;Température (°C);Humidité (%);Point de rosée (°C)",
        "03/07/2026;09:05;21,25;61,5;13,5",
        "04/07/2026;21:05;20;58;11,5",
    ],
    "fractions of a second": [
        "Time,RH,Temp C",
        "2026-07-03 09:05:00.000,61.5,21.25",
        "2026-07-04 21:05:00.500,58,20",
    ],
}


@pytest.mark.parametrize("case", FILES)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_the_same_readings_whatever_the_logger_writes(
    case: str, encoding: str, tmp_path: Path
) -> None:
    found = readings_of(tmp_path, *FILES[case], encoding=encoding)
    assert every(found) == EXPECTED
    assert found.left_out == ()
    assert (found.count, found.first, found.last) == (2, EXPECTED[0][0], EXPECTED[1][0])


def test_windows_line_ends_and_no_last_one(tmp_path: Path) -> None:
    path = tmp_path / "logger.csv"
    path.write_bytes("\r\n".join(FILES["iso"]).encode())
    assert every(read(path)[0]) == EXPECTED


def test_a_file_without_temperature(tmp_path: Path) -> None:
    found = readings_of(tmp_path, "Time,RH", "2026-07-03 09:05,61.5")
    assert every(found) == [(at("2026-07-03 09:05"), 61.5, None)]


def test_a_workbook(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Cover page"])
    sheet = book.create_sheet("Data")
    sheet.append(["Exported"])
    sheet.append(["Time", "Temp (°F)", "RH"])
    sheet.append([at("2026-07-03 09:05"), 70.25, 0.615])
    sheet.append(["2026-07-04 21:05", "68", 0.58])
    for row in (3, 4):
        sheet.cell(row, 3).number_format = "0.0%"
    book.save(tmp_path / "logger.xlsx")
    assert every(read(tmp_path / "logger.xlsx")[0]) == EXPECTED


def test_a_workbook_with_date_and_time_apart(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Date", "Time", "RH", "Temp C"])
    book.active.append([JULY, time(9, 5), 61.5, 21.25])
    book.active.append([JULY + timedelta(days=1), time(21, 5), 58, 20])
    book.save(tmp_path / "logger.xlsx")
    assert every(read(tmp_path / "logger.xlsx")[0]) == EXPECTED


# Numbers


def test_a_sensor_may_overshoot_by_a_point(tmp_path: Path) -> None:
    lines = ["Time,RH", "2026-07-03 09:05,101.0", "2026-07-03 09:06,-0.4"]
    assert [rh for _, rh, _ in every(readings_of(tmp_path, *lines, low="keep"))] == [100.0, 0.0]


def test_what_cannot_be_is_left_out_and_the_rest_of_the_row_stays(tmp_path: Path) -> None:
    found = readings_of(
        tmp_path,
        "Time,RH,Temp C",
        "2026-07-03 09:00,61.5,-127",
        "2026-07-03 09:01,-999,21",
        "2026-07-03 09:02,655.35,21",
        "2026-07-03 09:03,NaN,85",
        leap="as-read",
        left_out="accept",
    )
    assert every(found) == [
        (at("2026-07-03 09:00"), 61.5, None),
        (at("2026-07-03 09:01"), None, 21.0),
        (at("2026-07-03 09:02"), None, 21.0),
    ]
    assert [(p.row, p.column, p.value, p.reason) for p in found.left_out] == [
        (2, "Temp C", "-127", "is outside -20 to 60 deg C"),
        (3, "RH", "-999", "is outside 0 to 100 %, in 2 rows down to row 4"),
        (5, "RH", "NaN", "is no number"),
        (5, "Temp C", "85", "is outside -20 to 60 deg C"),
    ]
    assert found.days[JULY].hours().rh_pct[9] == 61.5
    assert found.days[JULY].hours().temp_c[9] == 21.0


def test_with_a_decimal_sign_given_the_other_is_a_fault(tmp_path: Path) -> None:
    lines = ["Time;RH", "2026-07-03 09:00;61,5", "2026-07-03 09:01;61.7"]
    found = readings_of(tmp_path, *lines, decimal="comma")
    assert [rh for _, rh, _ in every(found)] == [61.5]
    assert [(p.row, p.value, p.reason) for p in found.left_out] == [(3, "61.7", "is no number")]


# Dates


@pytest.mark.parametrize(
    ("dates", "first"),
    [
        (["13/07/2026", "01/08/2026"], "2026-07-13"),
        (["07/13/2026", "08/01/2026"], "2026-07-13"),
        (["01/02/2026", "02/02/2026", "03/02/2026"], "2026-02-01"),
        (["02/01/2026", "02/02/2026", "02/03/2026"], "2026-02-01"),
        (["03/02/2026", "02/02/2026"], "2026-02-02"),
        (["05/05/2026"], "2026-05-05"),
    ],
    ids=[
        "a day above 12 in front",
        "a day above 12 behind",
        "day by day in front",
        "day by day behind",
        "day by day backwards",
        "the same either way",
    ],
)
def test_the_file_itself_settles_day_and_month(
    dates: list[str], first: str, tmp_path: Path
) -> None:
    found = readings_of(tmp_path, "Time,RH", *(f"{day} 10:00,60" for day in dates))
    assert found.first == at(f"{first} 10:00")


@pytest.mark.parametrize(
    ("dates", "day"), [("day-first", "2026-04-03"), ("month-first", "2026-03-04")]
)
@pytest.mark.parametrize("written", ["03/04/2026", "03.04.2026", "3-4-2026"])
def test_an_option_settles_them_when_the_file_does_not(
    dates: str, day: str, written: str, tmp_path: Path
) -> None:
    found = readings_of(tmp_path, "Time,RH", f"{written} 10:00,60", dates=dates)
    assert found.first == at(f"{day} 10:00")


@given(
    st.lists(st.datetimes(datetime(2000, 1, 1), datetime(2090, 1, 1)), min_size=1, max_size=20),  # noqa: DTZ001
    st.sampled_from(
        [
            "%Y-%m-%d %H:%M:%S",
            "%d.%m.%Y %H:%M:%S",
            "%d %b %Y %I:%M:%S %p",
            "%b %d, %Y %H:%M:%S",
            "%Y/%m/%d %I:%M:%S%p",
        ]
    ),
)
def test_every_moment_comes_back_in_every_form(
    tmp_path_factory: pytest.TempPathFactory, moments: list[datetime], form: str
) -> None:
    moments = sorted({m.replace(microsecond=0) for m in moments})
    path = tmp_path_factory.mktemp("forms") / "logger.csv"
    lines = [f'"{moment.strftime(form)}",50' for moment in moments]
    path.write_text("\n".join(["Time,RH", *lines]), encoding="utf-8")
    found = read_readings(path, zone=ZoneInfo("UTC"), now=None)
    assert found.problems == ()
    assert [moment for moment, _, _ in every(found.readings)] == moments


# Clocks


def test_the_doubled_hour_is_kept_apart_and_averaged(tmp_path: Path) -> None:
    found = readings_of(
        tmp_path,
        "Time,RH",
        *(f"2026-10-25 0{h}:{m:02},60" for h in (1, 2) for m in (0, 20, 40)),
        *(f"2026-10-25 0{h}:{m:02},70" for h in (2, 3) for m in (0, 20, 40)),
    )
    day = found.days[date(2026, 10, 25)]
    assert found.count == 12
    assert [r.second_pass for r in day] == [False] * 3 + [False, True] * 3 + [False] * 3
    assert day.hours().rh_pct[1:4] == (60.0, 65.0, 70.0)
    assert found.left_out == ()


def test_hourly_readings_go_through_the_doubled_hour_twice(tmp_path: Path) -> None:
    times = ["00:00,50", "01:00,55", "02:00,60", "02:00,70", "03:00,75"]
    found = readings_of(tmp_path, "Time,RH", *(f"2026-10-25 {t}" for t in times))
    assert found.count == 5
    assert found.days[date(2026, 10, 25)].hours().rh_pct[2] == 65.0


def test_backwards_through_the_doubled_hour(tmp_path: Path) -> None:
    times = ["03:00,75", "02:30,70", "02:00,70", "02:30,60", "02:00,60", "01:30,55"]
    found = readings_of(tmp_path, "Time,RH", *(f"2026-10-25 {t}" for t in times))
    passes = [(r.rh_pct, r.second_pass) for r in found.days[date(2026, 10, 25)]]
    assert passes == [(55, False), (60, False), (70, True), (60, False), (70, True), (75, False)]


def test_offsets_tell_the_two_passes_apart(tmp_path: Path) -> None:
    found = readings_of(
        tmp_path, "Time,RH", "2026-10-25T02:30+02:00,60", "2026-10-25T02:30+01:00,70"
    )
    assert [r.second_pass for r in found.days[date(2026, 10, 25)]] == [False, True]


def test_the_hour_skipped_in_spring_is_no_time_of_day(tmp_path: Path) -> None:
    times = ["01:59", "02:00", "02:59", "03:00"]
    found = readings_of(tmp_path, "Time,RH", *(f"2026-03-29 {t},60" for t in times))
    assert [moment.hour for moment, _, _ in every(found)] == [1, 3]
    (left_out,) = found.left_out
    assert (left_out.row, left_out.value) == (3, "2026-03-29 02:00")
    assert "in 2 rows down to row 4" in left_out.reason
    assert "--utc-offset" in left_out.remedy


def test_a_clock_that_stands_still_all_year(tmp_path: Path) -> None:
    times = ["01:59", "02:00", "02:59", "03:00"]
    lines = ["Time,RH", *(f"2026-03-29 {t},60" for t in times)]
    found = readings_of(tmp_path, *lines, offset_min=60)
    assert [f"{m:%H:%M}" for m, _, _ in every(found)] == ["01:59", "03:00", "03:59", "04:00"]
    assert found.left_out == ()


# What stands there twice


def test_a_row_that_is_repeated_is_read_once(tmp_path: Path) -> None:
    path = tmp_path / "logger.csv"
    path.write_text("\n".join([*FILES["iso"], *FILES["iso"][1:]]), encoding="utf-8")
    readings, notes = read(path)
    assert every(readings) == EXPECTED
    assert notes == ["logger.csv: 2 rows repeated, read once"]


def test_of_two_readings_of_a_moment_the_first_counts(tmp_path: Path) -> None:
    lines = ["Time,RH", "2026-07-03 09:05,61", "2026-07-03 09:05,66", "2026-07-03 09:06,62"]
    found = readings_of(tmp_path, *lines)
    assert [rh for _, rh, _ in every(found)] == [61.0, 62.0]
    assert [(p.row, p.reason) for p in found.left_out] == [
        (3, "another reading of this moment stands in row 2")
    ]


# The readings of a day as they are stored

keys = st.integers(0, 86_399).map(lambda second: second * 2)
held = st.dictionaries(keys, st.tuples(st.integers(0, 10_000), st.integers(-4_000, 8_000)))


def stored(values: dict[int, tuple[int, int]]) -> DayReadings:
    order = sorted(values)
    return DayReadings.of(order, (values[k][0] for k in order), (values[k][1] for k in order))


@given(held)
def test_a_stored_day_gives_its_readings_back_exactly(values: dict[int, tuple[int, int]]) -> None:
    day = DayReadings(stored(values).packed)
    assert [
        (r.at.hour * 3600 + r.at.minute * 60 + r.at.second, r.rh_pct, r.temp_c) for r in day
    ] == [(k // 2, rh / 100, temp / 100) for k, (rh, temp) in sorted(values.items())]


@given(held, held)
def test_reading_again_adds_only_what_is_new(
    first: dict[int, tuple[int, int]], again: dict[int, tuple[int, int]]
) -> None:
    merged = stored(first).with_new(stored(again))
    assert merged == stored({**again, **first})
    assert merged.with_new(stored(again)) == merged


@given(held)
def test_reading_the_same_again_changes_no_byte(values: dict[int, tuple[int, int]]) -> None:
    day = stored(values)
    assert day.with_new(stored(values)) is day


@given(held)
def test_hours_are_the_means_of_their_readings(values: dict[int, tuple[int, int]]) -> None:
    hours = stored(values).hours()
    for hour in range(24):
        inside = [v for k, v in values.items() if k // 7_200 == hour]
        if not inside:
            assert hours.rh_pct[hour] is None
            assert hours.temp_c[hour] is None
            continue
        rh, temp = (sum(column) / len(inside) / 100 for column in zip(*inside, strict=True))
        assert hours.rh_pct[hour] == pytest.approx(rh, abs=0.00501)
        assert hours.temp_c[hour] == pytest.approx(temp, abs=0.00501)


def test_a_missing_value_is_not_averaged_in() -> None:
    day = DayReadings.of([0, 2, 4], [6_000, 10_001, 7_000], [-0x8000, 2_000, -0x8000])
    assert next(iter(day)) == Reading(time(0, 0, 0), False, 60.0, None)
    assert (day.hours().rh_pct[0], day.hours().temp_c[0]) == (65.0, 20.0)


def test_progress_goes_from_nothing_to_all(tmp_path: Path) -> None:
    told: list[float] = []
    path = tmp_path / "logger.csv"
    path.write_text("\n".join(FILES["iso"]), encoding="utf-8")
    read_readings(path, zone=BERLIN, now=NOW, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
