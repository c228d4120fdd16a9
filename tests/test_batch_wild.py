"""Batches as spreadsheets leave them: separators, decimal commas, day order, workbooks."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.intake.batch import Batch, Known, Told, read_batch, read_good_rows
from scheduler.intake.batch.columns import OURS, TABLES, Column, title_key
from scheduler.rulebook import Rulebook, load_rulebook
from scheduler.words.problems import Problem

ROOT = Path(__file__).parents[1]
FIRST_WEEKEND = ROOT / "sample_batches" / "first_weekend"
RECORD = Known(rooms=frozenset({"study"}), timezone="Europe/Berlin")
Cells = Sequence[Sequence[Any]]


@pytest.fixture(scope="module")
def rules() -> Rulebook:
    return load_rulebook()


def good(place: Path, rules: Rulebook, told: Told | None = None) -> Batch:
    batch, problems = read_batch(place, known=RECORD, rules=rules, told=told)
    assert [str(problem) for problem in problems] == []
    return batch


def faults(place: Path, rules: Rulebook, told: Told | None = None) -> list[Problem]:
    return read_batch(place, known=RECORD, rules=rules, told=told)[1]


def specimens(folder: Path, text: str, name: str = "specimens.csv") -> Path:
    (folder / name).write_bytes(text.encode("utf-8"))
    return folder


def workbook(path: Path, sheets: Mapping[str, Cells]) -> Path:
    with pd.ExcelWriter(path, engine="openpyxl") as book:
        for name, lines in sheets.items():
            width = max(map(len, lines))
            padded = [[*line, *[None] * (width - len(line))] for line in lines]
            frame = pd.DataFrame(padded, dtype=object)
            frame.to_excel(book, sheet_name=name, header=False, index=False)
    return path


def manner(batch: Batch) -> list[str]:
    """Return the notes, but for those on what a family is known by."""
    about_kin = ("no family is known of it", "counted as")
    return [note for note in batch.notes if not any(part in note for part in about_kin)]


# Separators, decimal commas, stray spaces, titles


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_header_tells_the_separator(separator: str, tmp_path: Path, rules: Rulebook) -> None:
    lines = [["specimen", "taxon", "body_mm"], ["K-01", "Aglais io", "4"]]
    batch = good(specimens(tmp_path, "\n".join(separator.join(x) for x in lines)), rules)
    assert [(s.specimen, s.taxon, s.body_mm) for s in batch.specimens] == [("K-01", "Aglais io", 4)]
    assert manner(batch) == []


def test_the_line_that_tells_a_spreadsheet_the_separator_counts_as_a_row(
    tmp_path: Path, rules: Rulebook
) -> None:
    folder = specimens(tmp_path, "\ufeffsep=;\r\nspecimen;body_mm\r\nK-01;4,3\r\nK-02;x\r\n")
    assert [(p.row, p.value) for p in faults(folder, rules)] == [(4, "x")]


def test_a_comma_in_a_text_does_not_make_a_comma_table(tmp_path: Path, rules: Rulebook) -> None:
    text = "specimen;body_mm;locality, place, spot\nK-01;4,3;Alder Carr, by the ditch\n"
    assert good(specimens(tmp_path, text), rules).specimens[0].body_mm == 4.3


def test_decimal_commas_are_read_and_said(tmp_path: Path, rules: Rulebook) -> None:
    text = "specimen;body_mm;decimalLatitude;decimalLongitude\nK-01;4;55,870;3,4\nK-02;4,3;;\n"
    batch = good(specimens(tmp_path, text), rules)
    assert [s.body_mm for s in batch.specimens] == [4, 4.3]
    assert batch.specimens[0].label == {"decimalLatitude": "55.870", "decimalLongitude": "3.4"}
    assert manner(batch) == [
        "specimens.csv: read with a decimal comma (row 2, decimalLatitude: 55,870)"
    ]


def test_one_sure_comma_settles_what_three_digits_leave_open(
    tmp_path: Path, rules: Rulebook
) -> None:
    text = "specimen;body_mm;minimumElevationInMeters\nK-01;4,3;1,250\n"
    assert good(specimens(tmp_path, text), rules).specimens[0].label == {
        "minimumElevationInMeters": "1.250"
    }


def test_told_the_decimal_sign_the_others_are_faults_at_their_cells(
    tmp_path: Path, rules: Rulebook
) -> None:
    folder = specimens(tmp_path, "specimen;body_mm\nK-01;4,3\nK-02;3.1\nK-03;5\n")
    assert [(p.row, p.column) for p in faults(folder, rules)] == [(None, None)]
    assert [(p.row, p.value) for p in faults(folder, rules, Told(decimal="comma"))] == [(3, "3.1")]
    assert [(p.row, p.value) for p in faults(folder, rules, Told(decimal="point"))] == [(2, "4,3")]


@pytest.mark.parametrize(
    ("sign", "elevation"), [("comma", "1.250"), ("point", None)], ids=["comma", "point"]
)
def test_told_the_decimal_sign_of_1250(
    sign: Any, elevation: str | None, tmp_path: Path, rules: Rulebook
) -> None:
    folder = specimens(tmp_path, "specimen;body_mm;minimumElevationInMeters\nK-01;4;1,250\n")
    batch, problems = read_batch(folder, known=RECORD, rules=rules, told=Told(decimal=sign))
    assert batch.specimens[0].label.get("minimumElevationInMeters") == elevation
    assert bool(problems) == (elevation is None)


def test_spaces_that_nobody_sees_are_none(tmp_path: Path, rules: Rulebook) -> None:
    text = "\u00a0Specimen ;Taxon;BODY\u00a0MM\n"
    text += "\u200bK-01\u00a0;Aglais\u00a0io; 4,3\u202f\n \u00a0;;\n"
    (specimen,) = good(specimens(tmp_path, text), rules).specimens
    assert (specimen.specimen, specimen.taxon, specimen.body_mm) == ("K-01", "Aglais io", 4.3)


@pytest.mark.parametrize("title", ["Body mm", "BODY_MM", "body-mm", "Body (mm)", " body  mm"])
def test_titles_are_blind_to_case_spaces_and_underscores(
    title: str, tmp_path: Path, rules: Rulebook
) -> None:
    batch = good(specimens(tmp_path, f"SPECIMEN,{title},Decimal Latitude\nK-01,4,\n"), rules)
    assert (batch.specimens[0].body_mm, manner(batch)) == (4, [])


@pytest.mark.parametrize("table", TABLES, ids=lambda table: str(table.name))
def test_no_two_columns_of_a_table_have_one_title(table: Any) -> None:
    assert len(table.keys) == len(table.columns)
    assert not table.keys & set(OURS)


# Dates


@pytest.mark.parametrize(
    ("settling", "meant"), [("23.5.2027", date(2027, 5, 8)), ("5.23.2027", date(2027, 8, 5))]
)
def test_one_date_settles_the_order_of_all(
    settling: str, meant: date, tmp_path: Path, rules: Rulebook
) -> None:
    text = f"specimen,body_mm,available,wanted_by\nK-01,4,8.5.2027,\nK-02,4,,{settling}\n"
    batch = good(specimens(tmp_path, text), rules)
    assert batch.specimens[0].available == meant
    assert batch.specimens[1].wanted_by == date(2027, 5, 23)
    first = "day" if meant.month == 5 else "month"
    assert manner(batch) == [
        f"specimens.csv: read with dates {first} first (row 3, wanted_by: {settling})"
    ]


@pytest.mark.parametrize("text", ["8/5/2027", "8.5.2027", "08-05-2027", "8. 5. 2027"])
def test_told_the_order_of_dates(text: str, tmp_path: Path, rules: Rulebook) -> None:
    folder = specimens(tmp_path, f"specimen,body_mm,available\nK-01,4,{text}\n")
    (question,) = read_batch(folder, known=RECORD, rules=rules)[0].questions
    assert [option.answer for option in question.options] == ["day-first", "month-first"]
    assert "specimens.csv:dates=WORD" in question.as_problem().remedy
    for order, meant in (("day-first", date(2027, 5, 8)), ("month-first", date(2027, 8, 5))):
        batch = good(folder, rules, Told(dates=order))  # type: ignore[arg-type]
        assert batch.specimens[0].available == meant
        assert manner(batch) == [
            f"specimens.csv: read with dates {order.replace('-', ' ')} (as told)"
        ]


@pytest.mark.parametrize("text", ["8.V.2027", "8. V. 2027", "08-v-2027", "8 V 2027"])
def test_a_roman_month_needs_no_order(text: str, tmp_path: Path, rules: Rulebook) -> None:
    folder = specimens(tmp_path, f"specimen,body_mm,available\nK-01,4,{text}\n")
    assert good(folder, rules).specimens[0].available == date(2027, 5, 8)


@pytest.mark.parametrize(
    "text",
    [
        "8 May 2027", "8. Mai 2027", "08-May-2027", "8 mai 2027", "May 8, 2027", "May 8th 2027",
        "2027/05/08", "2027.5.8", "2027-05-08 00:00:00", "2027-05-08T00:00", "08.05.2027 00:00",
    ],
)  # fmt: skip
def test_a_month_by_its_name_or_a_year_in_front_needs_no_order(
    text: str, tmp_path: Path, rules: Rulebook
) -> None:
    row = f'K-01,4,"{text}"' + ("\nK-02,4,23.05.2027" if text.startswith("08.") else "")
    folder = specimens(tmp_path, f"specimen,body_mm,wanted_by\n{row}\n")
    assert good(folder, rules).specimens[0].wanted_by == date(2027, 5, 8)


@pytest.mark.parametrize("word", ["Sept.", "Sep", "September", "SEPT"])
def test_a_month_may_be_shortened(word: str, tmp_path: Path, rules: Rulebook) -> None:
    folder = specimens(tmp_path, f"specimen,body_mm,wanted_by\nK-01,4,8 {word} 2027\n")
    assert good(folder, rules).specimens[0].wanted_by == date(2027, 9, 8)


def test_a_month_that_is_none_and_a_time_of_a_day_are_faults(
    tmp_path: Path, rules: Rulebook
) -> None:
    rows = "K-01,4,8 Mya 2027\nK-02,4,31 June 2027\nK-03,4,2027-05-08 09:00\n"
    folder = specimens(tmp_path, f"specimen,body_mm,wanted_by\n{rows}")
    assert [problem.reason for problem in faults(folder, rules)] == [
        "has no month Mya",
        "is not a day of the calendar",
        "is not a date",
    ]


def test_a_date_that_reads_the_same_both_ways_needs_no_order(
    tmp_path: Path, rules: Rulebook
) -> None:
    folder = specimens(tmp_path, "specimen,body_mm,available\nK-01,4,5/5/2027\n")
    assert good(folder, rules).specimens[0].available == date(2027, 5, 5)


def test_dates_that_contradict_the_told_order_are_faults(tmp_path: Path, rules: Rulebook) -> None:
    folder = specimens(tmp_path, "specimen,body_mm,available\nK-01,4,8/5/2027\nK-02,4,23/5/2027\n")
    (problem,) = faults(folder, rules, Told(dates="month-first"))
    assert (problem.row, problem.value) == (3, "23/5/2027")


def test_times_follow_a_date_in_any_order(tmp_path: Path, rules: Rulebook) -> None:
    text = (
        "session;start;minutes\nA;23.5.2027 9:00;60\nB;8.5.2027 14:30:00;60\nC;9.V.2027T10:00;0\n"
    )
    (tmp_path / "sessions.csv").write_text(text, encoding="utf-8")
    starts = [s.start.replace(tzinfo=None) for s in good(tmp_path, rules).sessions]
    assert starts == [
        datetime.fromisoformat("2027-05-23T09:00"),
        datetime.fromisoformat("2027-05-08T14:30"),
        datetime.fromisoformat("2027-05-09T10:00"),
    ]


def test_collecting_dates_of_old_labels_are_read(tmp_path: Path, rules: Rulebook) -> None:
    folder = specimens(tmp_path, "specimen,body_mm,eventDate\nK-01,4,10.VI.1980\nK-02,4,1971\n")
    assert [s.label["eventDate"] for s in good(folder, rules).specimens] == ["1980-06-10", "1971"]


def test_every_table_settles_its_own_manner(tmp_path: Path, rules: Rulebook) -> None:
    specimens(tmp_path, "specimen;body_mm;available\nK-01;4,3;23.5.2027\n")
    (tmp_path / "boards.csv").write_text(
        "board,groove_mm,span_mm,length_mm,room\nB1,4.5,80,350,study\n", encoding="utf-8"
    )
    batch = good(tmp_path, rules)
    assert (batch.boards[0].groove_mm, batch.specimens[0].body_mm) == (4.5, 4.3)
    assert len(manner(batch)) == 1


# Workbooks

BENCH: Mapping[str, Cells] = {
    "Rooms": [["room", "rh_pct"], ["loft", 50]],
    "boards": [
        ["board", "groove_mm", "span_mm", "length_mm", "room"],
        ["B1", 4.5, 80, 350, "loft"],
    ],
    "specimens": [
        ["specimen", "Body mm", "available", "priority", "decimalLatitude", "decimalLongitude"],
        [7, 4.3, date(2027, 5, 18), 7.0, 55.87, "3,4"],
        [None, None, None, None, None, None],
        ["K-02", "4,5", "23.5.2027", None, None, None],
    ],
    "sessions": [
        ["session", "start", "minutes"],
        ["SAT", datetime.fromisoformat("2027-05-08T09:00"), 180],
    ],
    "mounted": [
        ["specimen", "board", "mounted"],
        ["K-02", "B1", datetime.fromisoformat("2027-04-17T00:00")],
    ],
}


def test_a_workbook_holds_a_sheet_a_table(tmp_path: Path, rules: Rulebook) -> None:
    batch = good(workbook(tmp_path / "bench.xlsx", BENCH).parent, rules)
    assert [s.specimen for s in batch.specimens] == ["7", "K-02"]
    first, second = batch.specimens
    assert (first.body_mm, first.available, first.priority) == (4.3, date(2027, 5, 18), 7)
    assert first.label == {"decimalLatitude": "55.87", "decimalLongitude": "3.4"}
    assert (second.body_mm, second.available) == (4.5, date(2027, 5, 23))
    assert batch.sessions[0].start.time() == time(9, 0)
    assert batch.mounted[0].mounted_at.time() == time(12, 0)
    assert manner(batch) == [
        "bench.xlsx, sheet specimens: read with a decimal comma (row 2, decimalLongitude: 3,4)"
        " and dates day first (row 4, available: 23.5.2027)"
    ]


def test_a_workbook_alone_is_a_batch(tmp_path: Path, rules: Rulebook) -> None:
    assert len(good(workbook(tmp_path / "bench.xlsx", BENCH), rules).specimens) == 2


def test_a_workbook_of_one_sheet_may_bear_the_table_s_name_itself(
    tmp_path: Path, rules: Rulebook
) -> None:
    workbook(tmp_path / "Specimens.XLSX", {"Sheet1": BENCH["specimens"]})
    assert len(good(tmp_path, rules).specimens) == 2


def test_a_fault_in_a_workbook_is_told_at_its_sheet_and_row(
    tmp_path: Path, rules: Rulebook
) -> None:
    lines: Cells = [
        [],
        ["specimen", "body_mm"],
        [],
        ["K-01", "thick"],
        ["K-02", date(2027, 3, 4)],
    ]
    workbook(tmp_path / "bench.xlsx", {"specimens": lines, "notes": [["wash the boards"]]})
    batch, problems = read_batch(tmp_path, known=RECORD, rules=rules)
    assert [(p.file, p.row, p.value) for p in problems] == [
        ("bench.xlsx, sheet specimens", 4, "thick"),
        ("bench.xlsx, sheet specimens", 5, "2027-03-04"),
    ]
    assert 'bench.xlsx: sheet "notes" is not a table, and not read' in batch.notes


def test_a_workbook_without_tables_is_named(tmp_path: Path, rules: Rulebook) -> None:
    path = workbook(tmp_path / "specimens.xlsx", {"moths": [["specimen"]], "bees": [["specimen"]]})
    (problem,) = faults(tmp_path, rules)
    assert 'only "moths", "bees"' in problem.reason
    path.rename(tmp_path / "album.xlsx")
    batch, problems = read_batch(tmp_path, known=RECORD, rules=rules)
    assert [p.reason for p in problems] == ["holds no file of a batch"]
    assert any("album.xlsx" in note for note in batch.notes)


def _recalculated(path: Path, values: Mapping[str, str]) -> None:
    """Put values beside the formulas, as a spreadsheet program does when it saves."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    sheet = "xl/worksheets/sheet1.xml"
    text = parts[sheet].decode()
    for formula, value in values.items():
        kind = ' t="str"' if not value or not value[0].isdigit() else ""
        kind = ' t="e"' if value.startswith("#") else kind
        at = text.index(f"<f>{formula}</f>")
        begin = text.rindex("<c ", 0, at)
        cell = text[begin:at].replace(">", f"{kind}>", 1) if kind else text[begin:at]
        end = text.index("</c>", at)
        text = f"{text[:begin]}{cell}<f>{formula}</f><v>{value}</v>{text[end:]}"
    parts[sheet] = text.encode()
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)


def test_formulas_count_by_the_value_that_was_last_shown(tmp_path: Path, rules: Rulebook) -> None:
    lines: Cells = [
        ["specimen", "body_mm", "wingspan_mm"],
        ["K-01", "=2*2.15", '=IF(1,"")'],
        ["K-02", "=1/0", 40],
    ]
    path = workbook(tmp_path / "specimens.xlsx", {"specimens": lines})
    _recalculated(path, {"2*2.15": "4.3", 'IF(1,"")': "", "1/0": "#DIV/0!"})
    batch, problems = read_batch(tmp_path, known=RECORD, rules=rules)
    assert (batch.specimens[0].body_mm, batch.specimens[0].wingspan_mm) == (4.3, None)
    assert [(p.row, p.reason) for p in problems] == [(3, "shows an error of the spreadsheet")]


def test_a_formula_that_no_program_has_reckoned_is_no_empty_cell(
    tmp_path: Path, rules: Rulebook
) -> None:
    lines = [["specimen", "taxon", "body_mm"], ["K-01", "=A2", "=2*2.15"]]
    workbook(tmp_path / "specimens.xlsx", {"specimens": lines})
    assert [(p.column, p.value, p.reason) for p in faults(tmp_path, rules)] == [
        ("taxon", "=A2", "is a formula that has no value yet"),
        ("body_mm", "=2*2.15", "is a formula that has no value yet"),
    ]


def test_a_sum_s_noise_in_the_16th_digit_is_not_shown(tmp_path: Path, rules: Rulebook) -> None:
    lines: Cells = [
        ["specimen", "body_mm", "decimalLatitude", "decimalLongitude"],
        ["K-01", 0.1 + 0.2, 55.1 + 0.2, 1e-5],
    ]
    workbook(tmp_path / "specimens.xlsx", {"specimens": lines})
    (specimen,) = good(tmp_path, rules).specimens
    assert specimen.body_mm == 0.3
    assert specimen.label == {"decimalLatitude": "55.3", "decimalLongitude": "0.00001"}


def test_a_half_open_workbook_beside_it_is_passed_over(tmp_path: Path, rules: Rulebook) -> None:
    workbook(tmp_path / "bench.xlsx", BENCH)
    (tmp_path / "~$bench.xlsx").write_bytes(b"\x00")
    assert len(good(tmp_path, rules).specimens) == 2


# One file alone


def test_a_text_alone_is_told_by_its_name_or_its_columns(tmp_path: Path, rules: Rulebook) -> None:
    specimens(tmp_path, "specimen;body_mm\nK-01;4\n")
    assert manner(good(tmp_path / "specimens.csv", rules)) == []
    text = "specimen;board;mounted\nK-01;B1;2027-04-17\n"
    specimens(tmp_path, text, "bad.csv")
    batch, problems = read_batch(tmp_path / "bad.csv", known=RECORD, rules=rules)
    assert manner(batch) == ["bad.csv: read as mounted, by its columns"]
    assert [(p.file, p.column) for p in problems] == [("bad.csv", "specimen"), ("bad.csv", "board")]


def test_a_text_alone_that_is_no_table(tmp_path: Path, rules: Rulebook) -> None:
    specimens(tmp_path, "moth,night\nK-01,4\n", "list.csv")
    assert [p.reason for p in faults(tmp_path / "list.csv", rules)] == ["is not a table of a batch"]


# Bad rows


def test_of_two_rows_that_contradict_each_other_neither_is_good(
    tmp_path: Path, rules: Rulebook
) -> None:
    specimens(tmp_path, "specimen,body_mm\nK-01,4\nK-02,4\nk-01,5\n")
    batch, whole, bad = read_good_rows(tmp_path, known=RECORD, rules=rules)
    assert (whole, [s.specimen for s in batch.specimens]) == ([], ["K-02"])
    assert [(row.row.number, row.problems[0].reason) for row in bad] == [
        (2, "has an id that stands again (specimens.csv, row 4)"),
        (4, "stands twice (first in specimens.csv, row 2)"),
    ]


def test_what_depends_on_a_bad_row_is_bad_too(tmp_path: Path, rules: Rulebook) -> None:
    (tmp_path / "rooms.csv").write_text("room,rh_pct\nloft,500\nden,50\n", encoding="utf-8")
    (tmp_path / "boards.csv").write_text(
        "board,groove_mm,span_mm,length_mm,room\nB1,4,80,350,loft\nB2,4,80,350,den\n",
        encoding="utf-8",
    )
    specimens(tmp_path, "specimen,body_mm\nK-01,4\nK-02,thick\nK-03,4\n")
    (tmp_path / "mounted.csv").write_text(
        "specimen,board,mounted\nK-01,B1,2027-04-17\nK-02,B2,2027-04-17\nK-03,B2,2027-04-17\n",
        encoding="utf-8",
    )
    batch, whole, bad = read_good_rows(tmp_path, known=RECORD, rules=rules)
    assert whole == []
    assert [(row.table.name, row.row.number, row.problems[0].reason) for row in bad] == [
        ("rooms", 2, "is outside 0 to 100 %"),
        ("boards", 2, "names a room that is left out (rooms.csv, row 2)"),
        ("specimens", 3, "is not a number"),
        ("mounted", 2, "names a board that is left out (boards.csv, row 2)"),
        ("mounted", 3, "names a specimen that is left out (specimens.csv, row 3)"),
    ]
    assert [m.specimen for m in batch.mounted] == ["K-03"]


def test_what_is_no_single_row_s_is_not_left_out(tmp_path: Path, rules: Rulebook) -> None:
    specimens(tmp_path, "specimen,body_mm,available\nK-01,4,8.5.2027\nK-02,thick,\n")
    batch, whole, bad = read_good_rows(tmp_path, known=RECORD, rules=rules)
    assert (whole, [q.key for q in batch.questions if q.open]) == ([], ["dates"])
    assert [row.row.number for row in bad] == [3]


# Laws

DAYS = st.dates(date(2026, 1, 1), date(2028, 12, 31))
MM = st.integers(20, 120).map(lambda tenth: tenth / 10)
INSECTS = st.lists(
    st.tuples(MM, DAYS | st.none(), st.sampled_from(["", "Alder Carr, Saltmere", "a\nb", 'a "b"'])),
    min_size=1,
    max_size=6,
)


def _tables(insects: Sequence[tuple[float, date | None, str]]) -> dict[str, list[list[Any]]]:
    start = datetime.fromisoformat("2027-05-23T09:00")
    head = ["specimen", "body_mm", "available", "verbatimLabel"]
    last = ["K-last", 4.3, date(2027, 5, 23), ""]
    return {
        "specimens": [head, *([f"K-{n}", *i] for n, i in enumerate(insects)), last],
        "sessions": [["session", "start", "minutes"], ["SUN", start, 90]],
        "mounted": [
            ["specimen", "board", "from_mm", "to_mm", "mounted"],
            ["K-last", "B1", 0, 40, start - timedelta(days=30)],
        ],
        "boards": [
            ["board", "groove_mm", "span_mm", "length_mm", "room"],
            ["B1", 4.5, 80, 350, "study"],
        ],
    }


def _typed(value: Any, decimal: str, day: str) -> str:
    if isinstance(value, datetime):
        return f"{value:{day} %H:%M}"
    if isinstance(value, date):
        return f"{value:{day}}"
    return (
        ""
        if value is None
        else str(value).replace(".", decimal)
        if isinstance(value, float)
        else str(value)
    )


def _write_text(
    folder: Path, tables: Mapping[str, Cells], separator: str, decimal: str, day: str
) -> None:
    for name, lines in tables.items():
        out = io.StringIO()
        writer = csv.writer(out, delimiter=separator)
        writer.writerows([_typed(value, decimal, day) for value in line] for line in lines)
        (folder / f"{name}.csv").write_bytes(out.getvalue().encode("utf-8-sig"))


@settings(deadline=None, max_examples=40)
@given(insects=INSECTS)
def test_a_batch_reads_the_same_however_it_is_written(
    rules: Rulebook, insects: list[tuple[float, date | None, str]]
) -> None:
    tables = _tables(insects)
    read: list[Batch] = []
    with TemporaryDirectory() as name:
        for way in ("iso", "semicolons", "tabs"):
            (Path(name) / way).mkdir()
        _write_text(Path(name) / "iso", tables, ",", ".", "%Y-%m-%d")
        _write_text(Path(name) / "semicolons", tables, ";", ",", "%d.%m.%Y")
        _write_text(Path(name) / "tabs", tables, "\t", ".", "%m/%d/%Y")
        book = workbook(Path(name) / "bench.xlsx", tables)
        for place in (*(Path(name) / way for way in ("iso", "semicolons", "tabs")), book):
            told = None
            if place.name == "semicolons":
                # A table may hold no date that settles the order; then a person must say.
                told = Told(dates="day-first")
            if place.name == "tabs":
                told = Told(dates="month-first")
            read.append(replace(good(place, rules, told), notes=(), seen=(), questions=()))
    assert read == [read[0]] * 4


def test_the_first_weekend_reads_the_same_from_a_workbook(tmp_path: Path, rules: Rulebook) -> None:
    sheets = {}
    for table in TABLES:
        with (FIRST_WEEKEND / table.file).open(encoding="utf-8", newline="") as file:
            head, *lines = csv.reader(file)
        columns = [next(c for c in table.columns if c.key == title_key(t)) for t in head]
        sheets[table.name] = [
            head,
            *([_cell(*cell) for cell in zip(columns, x, strict=True)] for x in lines),
        ]
    workbook(tmp_path / "weekend.xlsx", sheets)
    (tmp_path / "settings.toml").write_bytes((FIRST_WEEKEND / "settings.toml").read_bytes())
    assert replace(good(tmp_path, rules), seen=()) == replace(good(FIRST_WEEKEND, rules), seen=())


def _cell(column: Column, text: str) -> Any:
    if column.form == "number" and text:
        return float(text)
    if column.form == "date" and len(text) == 10:
        return date.fromisoformat(text)
    return (
        datetime.fromisoformat(text) if column.form == "date" and len(text) == 16 else text or None
    )


WILD = st.sampled_from(
    ["4,3", "4.3", "1,250", "1.250", "250", "x", "8.5.2027", "23.5.2027", "5/23/2027", "23.24.2027",
     "0.0.2027", "8.V.2027", "8.IIII.2027", "8.5.27", "5.5.2027", "2027-05-08", "31.2.2027",
     "8.5.2027 9:00", "31.12.2027 25:61", "", "٣,٣", "-,5", "5,"]
)  # fmt: skip


@given(
    rows=st.lists(st.tuples(WILD, WILD, WILD), min_size=1, max_size=5),
    decimal=st.sampled_from([None, "comma", "point"]),
    dates=st.sampled_from([None, "day-first", "month-first"]),
)
def test_every_cell_is_read_or_reported(
    rules: Rulebook, rows: list[tuple[str, str, str]], decimal: Any, dates: Any
) -> None:
    columns = ("minimumElevationInMeters", "available", "eventDate")
    with TemporaryDirectory() as name:
        lines = [
            ["specimen", "body_mm", *columns],
            *([f"K-{n}", "4", *r] for n, r in enumerate(rows)),
        ]
        text = "\n".join(";".join(line) for line in lines)
        folder = specimens(Path(name), text)
        batch, problems = read_batch(
            folder, known=RECORD, rules=rules, told=Told(decimal=decimal, dates=dates)
        )
    problems += [q.as_problem() for q in batch.questions if q.open]
    told = {(p.row, p.column) for p in problems}
    for number, (row, specimen) in enumerate(zip(rows, batch.specimens, strict=True), 2):
        got = (specimen.label.get(columns[0]), specimen.available, specimen.label.get(columns[2]))
        for column, text, value in zip(columns, row, got, strict=True):
            assert value is None or (text and (number, column) not in told)
            assert value is not None or not text or {(number, column), (None, None)} & told


@given(
    content=st.binary(max_size=200),
    cut=st.integers(0, 6000),
    flip=st.integers(0, 5999),
)
@settings(deadline=None, max_examples=60)
def test_no_workbook_stops_the_reading(
    rules: Rulebook, content: bytes, cut: int, flip: int
) -> None:
    with TemporaryDirectory() as name:
        path = workbook(Path(name) / "bench.xlsx", BENCH)
        whole = bytearray(path.read_bytes())
        whole[flip % len(whole)] ^= 0xFF
        path.write_bytes(bytes(whole[: max(cut, 1)] if cut % 2 else whole) + content)
        _, problems = read_batch(Path(name), known=RECORD, rules=rules)
    assert all(isinstance(problem, Problem) for problem in problems)
