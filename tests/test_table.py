"""The one reader of tables: what it reads, and what it refuses before it costs anything."""

from __future__ import annotations

import datetime as dt
import io
import resource
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl  # type: ignore[import-untyped]
import pytest

from scheduler.table import TableFault, read_grids

MOST_MB = 500
MOST_SECONDS = 10


def written(tmp_path: Path, content: str | bytes, name: str = "list.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def workbook(tmp_path: Path, *rows: list[object], formats: dict[str, str] | None = None) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(row)
    for cell, form in (formats or {}).items():
        sheet[cell].number_format = form
    path = tmp_path / "list.xlsx"
    book.save(path)
    return path


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_told_by_agreement(tmp_path: Path, separator: str) -> None:
    text = separator.join(("specimen", "group", "body")) + "\n"
    text += separator.join(("Q-1", "hawkmoths", "8")) + "\n"
    (grid,) = read_grids(written(tmp_path, text))
    assert grid.separator == separator
    assert grid.lines[1] == ["Q-1", "hawkmoths", "8"]


def test_titles_tell_the_separator_where_decimal_commas_agree_as_well(tmp_path: Path) -> None:
    text = "body_mm;wingspan_mm,\n4,5;38,0\n4,0;36,5\n"
    (grid,) = read_grids(
        written(tmp_path, text), likes=lambda line: sum(c == "body_mm" for c in line)
    )
    assert grid.lines[1] == ["4,5", "38,0"]


def test_every_line_is_as_long_as_the_file_makes_it(tmp_path: Path) -> None:
    (grid,) = read_grids(written(tmp_path, "a,b\n1,2,3,,\n\n4\n"))
    assert [len(line) for line in grid.lines] == [2, 5, 0, 1]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_unicode_is_told_by_its_marks_or_its_zeros(tmp_path: Path, encoding: str) -> None:
    text = "Kasten;Größe\nLade 3;mittel\n"
    (grid,) = read_grids(written(tmp_path, text.encode(encoding)))
    assert grid.lines == [["Kasten", "Größe"], ["Lade 3", "mittel"]]


@pytest.mark.parametrize("encoding", ["cp1252", "mac_roman", "cp850"])
@pytest.mark.parametrize(
    "text",
    [
        "Kästchen 3, Größe M, Flügelspannweite",
        "Temp (°C)",
        "Boîte à ailes séchées",
        "Zeit;Feuchte;Temperatur (°C), gemäß Gerät",
        "Bläuling",
        "Lade für Käfer, Öland",
    ],
)
def test_old_code_pages_are_told_by_the_letters_people_write(
    tmp_path: Path, encoding: str, text: str
) -> None:
    (grid,) = read_grids(written(tmp_path, f"note\t\n{text}\t\n".encode(encoding)))
    assert grid.lines[1][0] == text


def test_bytes_that_could_be_several_letters_are_asked_about(tmp_path: Path) -> None:
    # 0xE4 is a letter of Windows or DOS; 0xF5 is one of neither that people here write.
    with pytest.raises(TableFault, match="is not UTF-8 text"):
        read_grids(written(tmp_path, b"note\nL\xf5unge\n"))


def test_a_percentage_is_what_the_cell_shows(tmp_path: Path) -> None:
    path = workbook(tmp_path, ["rh", "rh"], [0.52, 0.525], formats={"A2": "0%", "B2": "0.0%"})
    (grid,) = read_grids(path)
    assert grid.lines[1] == ["52%", "52.5%"]
    assert grid.values[1] == [52.0, 52.5]


def test_a_unit_that_only_the_format_writes_is_read(tmp_path: Path) -> None:
    path = workbook(tmp_path, ["span"], [38.5], formats={"A2": '0.0" mm"'})
    (grid,) = read_grids(path)
    assert (grid.lines[1], grid.units) == (["38.5 mm"], {(1, 0): "mm"})


def test_what_a_format_rounds_away_is_still_there(tmp_path: Path) -> None:
    (grid,) = read_grids(workbook(tmp_path, ["body"], [4.56], formats={"A2": "0"}))
    assert grid.lines[1] == ["4.56"]


def test_dates_are_iso_and_keep_their_clock_only_where_the_format_has_one(tmp_path: Path) -> None:
    day = dt.datetime(2027, 5, 6)  # noqa: DTZ001 - a workbook knows no zones
    path = workbook(
        tmp_path, ["d", "m"], [day, day], formats={"A2": "dd/mm/yy", "B2": "dd/mm/yy hh:mm"}
    )
    (grid,) = read_grids(path)
    assert grid.lines[1] == ["2027-05-06", "2027-05-06T00:00"]
    assert grid.values[1] == [dt.date(2027, 5, 6), day]


def test_merged_cells_and_hidden_sheets_are_told(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["family", "specimen"])
    book.active.append(["Sphingidae", "Q-1"])
    book.active.append([None, "Q-2"])
    book.active.merge_cells("A2:A3")
    notes = book.create_sheet("notes")
    notes.sheet_state = "hidden"
    book.save(tmp_path / "two.xlsx")
    first, second = read_grids(tmp_path / "two.xlsx")
    assert first.merged == ((1, 0, 2, 0),)
    assert (second.sheet, second.hidden) == ("notes", True)


def test_formulas_without_values_and_errors_are_faults(tmp_path: Path) -> None:
    (grid,) = read_grids(workbook(tmp_path, ["a"], ["=1+1"], ["#N/A"]))
    assert grid.faults[1, 0].reason == "is a formula that has no value yet"
    assert grid.faults[2, 0].reason == "shows an error of the spreadsheet"


def test_a_blank_in_the_last_cell_of_a_sheet_costs_nothing(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["specimen"])
    book.active.cell(1_048_576, 16_384).value = " "
    book.save(tmp_path / "sparse.xlsx")
    (grid,) = read_grids(tmp_path / "sparse.xlsx")
    assert grid.lines == [["specimen"]]


def _zipped(name: str, content: bytes) -> bytes:
    out = io.BytesIO()
    book = openpyxl.Workbook()
    book.active.append(["specimen"])
    book.save(out)
    out.seek(0)
    made = io.BytesIO()
    with zipfile.ZipFile(out) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in {*old.namelist(), name}:
            new.writestr(entry, content if entry == name else old.read(entry))
    return made.getvalue()


def _sheet(inside: bytes) -> bytes:
    head = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    return head + b"<sheetData>" + inside + b"</sheetData></worksheet>"


SHEET = "xl/worksheets/sheet1.xml"
FAR = b'<row><c r="XFD1" t="n"><v>1</v></c></row>'
HEAVY = {
    "bomb.xlsx": lambda: _zipped(SHEET, b" " * 900_000_000),
    "strings.xlsx": lambda: _zipped("xl/sharedStrings.xml", b"<si/>" * 9_000_000),
    "row_without_end.xlsx": lambda: _zipped(SHEET, _sheet(b"<row>" + b"<c/>" * 12_000_000)),
    "cells.xlsx": lambda: _zipped(SHEET, _sheet((b"<row>" + b"<c/>" * 900 + b"</row>") * 12_000)),
    "far.xlsx": lambda: _zipped(SHEET, _sheet(FAR)),
    "columns.csv": lambda: b"a," * 10_000 + b"\n",
    "line.csv": lambda: b"x" * 60_000_000,
    "cells.csv": lambda: b"1,2,3,4,5,6,7,8,9\n" * 3_500_000,
    "quoted.csv": lambda: b'"\n",' * 12_000_000,
    "unclosed.csv": lambda: b'a,b\n"' + b"1,2\n" * 10_000_000,
    "large.csv": lambda: b"1,2\n" * 20_000_000,
    "zeros.csv": lambda: b"\0" * 60_000_000,
    "breaks.csv": lambda: b"\n" * 60_000_000,
}


@pytest.mark.parametrize("name", HEAVY)
def test_no_file_costs_more_than_the_bounds_before_it_is_refused(tmp_path: Path, name: str) -> None:
    path = written(tmp_path, HEAVY[name](), name)
    script = (
        "import sys, resource, time; from pathlib import Path\n"
        "from scheduler.table import TableFault, read_grids\n"
        "try: read_grids(Path(sys.argv[1])); print('read')\n"
        "except TableFault as fault: print('refused:', fault.reason)\n"
        "usage = resource.getrusage(resource.RUSAGE_SELF)\n"
        # The usage of a process counts from before it became this program; its status does not.
        "status = Path('/proc/self/status')\n"
        "lines = status.read_text().splitlines() if status.exists() else []\n"
        "high = [int(line.split()[1]) for line in lines if line.startswith('VmHWM')]\n"
        "print((high or [usage.ru_maxrss])[0] / 1024, usage.ru_utime + usage.ru_stime)"
    )
    limit = MOST_MB * 3 << 20

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (limit, limit))

    run = subprocess.run(
        [sys.executable, "-c", script, str(path)],
        capture_output=True,
        text=True,
        timeout=120,
        preexec_fn=bound,
        check=False,
    )
    said, *figures = run.stdout.splitlines()
    mb, seconds = map(float, figures[0].split())
    assert said.startswith("refused:"), run.stdout + run.stderr
    assert mb < MOST_MB, said
    assert seconds < MOST_SECONDS, said
