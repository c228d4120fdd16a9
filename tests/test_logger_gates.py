"""Files that were once misread without a warning: each is asked about, refused, or read rightly."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import openpyxl  # type: ignore[import-untyped]
import pytest

from scheduler.intake.readings import LoggerFile, LoggerManner, read_readings
from scheduler.intake.readings.kinds import other_kind, role_of

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2027, 8, 1, 9, tzinfo=BERLIN)


def read(folder: Path, *lines: str, **answers: str) -> LoggerFile:
    path = folder / "logger.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    told = {key.replace("_", "-"): answer for key, answer in answers.items()}
    return read_readings(path, zone=BERLIN, now=NOW, manner=LoggerManner(told))


def hours(begin: str, count: int, form: str = "%Y-%m-%d %H:%M") -> list[str]:
    first = datetime.fromisoformat(begin)
    return [f"{first + timedelta(hours=n):{form}}" for n in range(count)]


def asked(found: LoggerFile) -> list[str]:
    return [question.key for question in found.questions]


def values(found: LoggerFile) -> list[tuple[float | None, float | None]]:
    return [(r.rh_pct, r.temp_c) for day in found.readings.days.values() for r in day]


# Decimal commas in a file whose cells are separated by commas

HEAD = "Date Time,Temp (C),RH (%),Attached,Detached"


def test_decimal_commas_between_commas_are_refused(tmp_path: Path) -> None:
    rows = [f"{at},19,5,61,8,," for at in hours("2027-07-01", 48)]
    (problem,) = read(tmp_path, HEAD, *rows).problems
    assert problem.row == 2
    assert "7 cells, the header has 5: commas seem to be decimal signs" in problem.reason


@pytest.mark.parametrize("at", [0, 150, 4_999])
def test_one_shifted_row_is_found_wherever_it_stands(at: int, tmp_path: Path) -> None:
    rows = [f"{moment},19.5,61.8,," for moment in hours("2027-01-01", 5_000)]
    rows[at] = rows[at].replace("19.5,61.8", "19,5,61,8")
    (problem,) = read(tmp_path, HEAD, *rows).problems
    assert problem.row == at + 2
    assert "(1 row is like that)" in problem.reason


def test_a_shift_that_fills_the_event_columns_is_found(tmp_path: Path) -> None:
    rows = [f"{at},19,5,61,8" for at in hours("2027-07-01", 48)]
    (problem,) = read(tmp_path, HEAD, *rows).problems
    assert problem.row == 2
    assert "figures in a column behind the readings" in problem.reason


def test_in_quotes_decimal_commas_are_no_shift(tmp_path: Path) -> None:
    rows = [f'{at},"19,5","61,8",,' for at in hours("2027-07-01", 48)]
    found = read(tmp_path, HEAD, *rows)
    assert not asked(found)
    assert set(values(found)) == {(61.8, 19.5)}


# Numbers


def test_exponents_are_read_whole(tmp_path: Path) -> None:
    rows = [f"{at},6.180000000000000000e+01,1.95e+01" for at in hours("2027-07-01", 24)]
    assert set(values(read(tmp_path, "Time,RH (%),Temp (C)", *rows))) == {(61.8, 19.5)}


def test_fractions_under_a_title_in_pct_are_asked_about(tmp_path: Path) -> None:
    rows = [f"{at},0.6{n % 10}8" for n, at in enumerate(hours("2027-07-01", 24))]
    found = read(tmp_path, "Time,RH (%)", *rows)
    assert asked(found) == ["humidity"]
    answered = read(tmp_path, "Time,RH (%)", *rows, humidity="fraction")
    assert values(answered)[0] == (60.8, None)


def test_fractions_without_a_unit_can_be_nothing_else(tmp_path: Path) -> None:
    rows = [f"{at},0.6{n % 10}8" for n, at in enumerate(hours("2027-07-01", 24))]
    found = read(tmp_path, "Time,RH", *rows)
    assert not asked(found)
    assert values(found)[0] == (60.8, None)
    assert found.preview is not None
    assert found.preview.fractions


# Dates


def test_two_digit_years_are_this_decades_and_shown(tmp_path: Path) -> None:
    rows = [f"{at},6{n % 9}.5" for n, at in enumerate(hours("2027-07-05", 72, "%y.%m.%d %H:%M"))]
    assert rows[0].startswith("27.07.05")
    found = read(tmp_path, "Time,RH", *rows)
    assert not asked(found)
    assert found.preview is not None
    assert found.preview.first == datetime(2027, 7, 5)  # noqa: DTZ001
    assert found.preview.dates == "year-first"


@pytest.mark.parametrize("written", ["27.07.05 10:00", "27-Jul-05 10:00"])
def test_one_date_of_two_digits_is_in_the_last_ten_years_or_asked(
    written: str, tmp_path: Path
) -> None:
    found = read(tmp_path, "Time,RH", f"{written},61.5", f"{written[:-1]}5,61.6")
    assert found.readings.first is not None
    assert found.readings.first.year == 2027
    told = read(tmp_path, "Time,RH", f"{written},61.5", dates="day-first")
    assert told.readings.first is not None
    assert told.readings.first.year == 2005
    assert asked(told) == ["span"]


def test_dates_ahead_of_now_are_asked_about(tmp_path: Path) -> None:
    rows = [f"{at},61.{n % 9}" for n, at in enumerate(hours("2027-12-01", 48))]
    (question,) = read(tmp_path, "Time,RH", *rows).questions
    assert question.key == "span"
    assert "2027-12-01 is ahead of now" in question.text


def test_month_first_holds_for_dots_too(tmp_path: Path) -> None:
    found = read(tmp_path, "Time,RH", "07.12.2026 10:00,61.5", dates="month-first")
    assert found.readings.first == datetime(2026, 7, 12, 10)  # noqa: DTZ001


def test_dates_that_a_spreadsheet_half_converted_are_asked_about(tmp_path: Path) -> None:
    # Typed 10 to 16 May, day first; up to the 12th it took the day for the month.
    rows = []
    for n, at in enumerate(hours("2027-05-10", 7 * 24)):
        moment = datetime.fromisoformat(at)
        swapped = moment.replace(month=moment.day, day=moment.month) if moment.day <= 12 else None
        shown = f"{swapped:%Y-%m-%d %H:%M}" if swapped else f"{moment:%d/%m/%Y %H:%M}"
        rows.append(f"{shown},6{n % 9}.5")
    found = read(tmp_path, "Time,RH", *rows)
    assert "jump" in asked(found)
    jump = next(q for q in found.questions if q.key == "jump")
    assert "with day and month swapped they would not" in jump.text


def test_a_clock_of_twelve_hours_without_am_and_pm_is_asked_about(tmp_path: Path) -> None:
    rows = [f"{at},6{n % 9}.5" for n, at in enumerate(hours("2027-07-01", 48, "%Y-%m-%d %I:%M"))]
    assert "clock" in asked(read(tmp_path, "Time,RH", *rows))


# Units and columns


def test_cells_whose_unit_changes_are_asked_about(tmp_path: Path) -> None:
    rows = [f"{at},61.5,20.1 C" for at in hours("2027-07-01", 24)]
    rows += [f"{at},61.5,68.2 F" for at in hours("2027-07-02", 24)]
    (question,) = read(tmp_path, "Time,RH,Temp", *rows).questions
    assert (question.key, question.row) == ("unit", 26)
    found = read(tmp_path, "Time,RH,Temp", *rows, unit="cell")
    assert {temp for _, temp in values(found)} == {20.1, 20.11}


def test_a_header_in_deg_c_over_cells_in_deg_f_is_asked_about(tmp_path: Path) -> None:
    rows = [f"{at},61.5,68.2 F" for at in hours("2027-07-01", 24)]
    assert asked(read(tmp_path, "Time,RH,Temp (C)", *rows)) == ["unit"]
    bare = [row.removesuffix(" F") for row in rows]
    assert asked(read(tmp_path, "Time,RH,Temp (C)", *bare)) == ["unit"]


def test_a_unit_that_changes_without_a_word_is_asked_about(tmp_path: Path) -> None:
    rows = [f"{at},61.5,20.1" for at in hours("2027-07-01", 48)]
    rows += [f"{at},61.5,55.2" for at in hours("2027-07-03", 24)]
    assert "leap" in asked(read(tmp_path, "Time,RH,Temp (C)", *rows))


def test_exports_joined_with_their_columns_in_another_order_are_refused(tmp_path: Path) -> None:
    rows = [f"{at},61.5,20.1" for at in hours("2027-07-01", 24)]
    other = [f"{at},20.1,61.5" for at in hours("2027-07-02", 24)]
    (problem,) = read(tmp_path, "Time,RH,Temp", *rows, "Time,Temp,RH", *other).problems
    assert problem.row == 26
    assert "second header, with its columns in another order" in problem.reason
    found = read(tmp_path, "Time,RH,Temp", *rows, *other)
    assert [(q.key, q.row) for q in found.questions if q.key == "swapped"] == [("swapped", 26)]


@pytest.mark.parametrize(
    ("title", "kind"),
    [
        ("Elapsed (hr)", "elapsed time"),
        ("Specific humidity (g/kg)", "specific humidity"),
        ("Humidity alarm (0/1)", "alarm or limit"),
        ("Absolute humidity (g/m³)", "absolute humidity"),
        ("Taupunkt [°C]", "dew point"),
        ("Wet bulb (C)", "wet-bulb temperature"),
        ("VPD (kPa)", "vapour pressure"),
        ("RH max (%)", "lowest or highest value"),
        ("Holzfeuchte %", "moisture of a material"),
    ],
)
def test_what_is_no_relative_humidity_is_named_for_what_it_is(title: str, kind: str) -> None:
    assert other_kind(title) == kind
    assert role_of(title) is None


@pytest.mark.parametrize("title", ["RH", "HR (%)", "H.R.", "rel. Feuchte [%]", "Humidité", "%RH"])
def test_relative_humidity_is_known_in_several_languages(title: str) -> None:
    assert role_of(title) == "humidity"


def test_other_quantities_beside_it_are_not_taken_for_it(tmp_path: Path) -> None:
    head = "Elapsed (hr),Time,Specific humidity (g/kg),Humidity alarm (0/1),RH (%),Temp (C)"
    rows = [f"{n},{at},8.9,0,61.5,20.1" for n, at in enumerate(hours("2027-07-01", 24))]
    found = read(tmp_path, head, *rows)
    assert set(values(found)) == {(61.5, 20.1)}
    assert found.preview is not None
    assert [taken for _, taken in found.preview.columns] == [
        "not read: elapsed time",
        "time",
        "not read: specific humidity",
        "not read: alarm or limit",
        "relative humidity",
        "temperature",
    ]


# Blanks, and what costs too much


@pytest.mark.parametrize("cell", ["", "NaN", "   ", "-"])
def test_values_that_are_all_blank_are_a_problem(cell: str, tmp_path: Path) -> None:
    rows = [f"{at},{cell}" for at in hours("2027-07-01", 24)]
    assert read(tmp_path, "Time,RH", *rows).problems


def test_humidities_that_no_room_has_are_asked_about(tmp_path: Path) -> None:
    rows = [f"{at},{3 + n % 4}" for n, at in enumerate(hours("2027-07-01", 24))]
    assert asked(read(tmp_path, "Time,RH (%)", *rows)) == ["low"]
    assert len(values(read(tmp_path, "Time,RH (%)", *rows, low="keep"))) == 24
    assert read(tmp_path, "Time,RH (%)", *rows, low="leave-out").problems


def test_a_file_that_breaks_off_in_a_number_loses_that_row_with_a_word(tmp_path: Path) -> None:
    path = tmp_path / "logger.csv"
    rows = [f"{at},61.5" for at in hours("2027-07-01", 24)]
    path.write_text("\n".join(["Time,RH", *rows])[:-2], encoding="utf-8")
    found = read_readings(path, zone=BERLIN, now=NOW)
    assert found.readings.count == 23
    (problem,) = found.readings.left_out
    assert (problem.row, problem.reason) == (25, "ends in the middle of a number")


def test_endless_lines_and_blanks_at_the_end_of_a_sheet_are_refused(tmp_path: Path) -> None:
    endless = tmp_path / "endless.csv"
    endless.write_text("Time,RH\n" + "2027-07-01 10:00," * 100_000, encoding="utf-8")
    assert read_readings(endless, zone=BERLIN, now=NOW).problems
    book = openpyxl.Workbook()
    book.active["A1"], book.active["B1"] = "Time", "RH"
    book.active["XFD1048576"] = " "
    book.save(tmp_path / "sparse.xlsx")
    assert read_readings(tmp_path / "sparse.xlsx", zone=BERLIN, now=NOW).problems


# The preview


def test_a_preview_says_all_that_was_understood(tmp_path: Path) -> None:
    rows = [
        f"{at};{60 + n % 5},5;{20 + n % 3},25"
        for n, at in enumerate(hours("2027-07-01", 48, "%d/%m/%Y %H:%M"))
    ]
    preview = read(tmp_path, "Zeit;Feuchte [%];Temperatur [°C]", *rows).preview
    assert preview is not None
    assert (preview.separator, preview.decimal, preview.unit) == ("semicolons", "comma", "C")
    assert (preview.dates, preview.encoding) == ("day-first", "UTF-8")
    assert preview.clock == "local time of Europe/Berlin"
    assert (preview.count, preview.first) == (48, datetime(2027, 7, 1))  # noqa: DTZ001
    assert preview.humidity == (60.5, 62.5, 64.5)
    assert preview.temperature == (20.25, 21.25, 22.25)
    first, middle, last = preview.samples
    assert (first.row, middle.row, last.row) == (2, 26, 49)
    assert first.text == "01/07/2027 00:00;60,5;20,25"
    assert (first.rh_pct, first.temp_c) == (60.5, 20.25)
