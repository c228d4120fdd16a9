"""Workbooks of the old kind and OpenDocument: what is seen in a cell is what is read."""

from __future__ import annotations

import contextlib
import datetime as dt
import random
import time
import zipfile
from pathlib import Path

import pytest
import xlwt  # type: ignore[import-untyped]
from bench_cases import Desk
from verb_cases import snapshot

from scheduler.table import Grid, TableFault, read_grids

CELL = "<table:table-cell{}><text:p>{}</text:p></table:table-cell>"


def cell(kind: str, shown: str, **given: str) -> str:
    said = "".join(f' office:{key.replace("_", "-")}="{value}"' for key, value in given.items())
    return CELL.format(f' office:value-type="{kind}"{said}', shown)


def ods(path: Path, tables: str, styles: str = "") -> Path:
    """An OpenDocument spreadsheet as programs write it, with what stands in its tables."""
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text", "style", "draw")
    )
    content = (
        f"<office:document-content {spaces}><office:automatic-styles>{styles}"
        "</office:automatic-styles><office:body><office:spreadsheet>"
        f"{tables}</office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        kind = "application/vnd.oasis.opendocument.spreadsheet"
        archive.writestr(zipfile.ZipInfo("mimetype"), kind)
        archive.writestr("content.xml", content)
    return path


def row(*cells: str, given: str = "") -> str:
    return f"<table:table-row{given}>{''.join(cells)}</table:table-row>"


def one(path: Path) -> Grid:
    (grid,) = read_grids(path)
    return grid


def test_an_open_document_is_read_as_it_is_seen(tmp_path: Path) -> None:
    table = '<table:table table:name="Liste">' + row(
        cell("percentage", "52%", value="0.52"),
        cell("float", "9,5 mm", value="9.5"),
        cell("date", "23.05.26", date_value="2026-05-23"),
        cell("date", "23.05.26 19:30", date_value="2026-05-23T19:30:00"),
        cell("time", "19:30", time_value="PT19H30M00S"),
        cell("string", "Dose<text:s/> 3"),
        cell("float", "12.000", value="12000"),
    )
    table += row(
        cell("string", "#N/A") + cell("float", "1", value="1"),
        '<table:table-cell office:value-type="string"><office:annotation><text:p>a note</text:p>'
        "</office:annotation><text:p>two</text:p><text:p>lines</text:p></table:table-cell>",
    )
    grid = one(ods(tmp_path / "a.ods", table + "</table:table>"))
    assert grid.lines[0] == [
        *("52%", "9.5 mm", "2026-05-23", "2026-05-23T19:30", "19:30", "Dose  3", "12000")
    ]
    assert grid.values[0][:3] == [52.0, 9.5, dt.date(2026, 5, 23)]
    assert (grid.units[0, 0], grid.units[0, 1], grid.sheet) == ("%", "mm", "Liste")
    assert grid.lines[1] == ["#N/A", "1", "two\nlines"]
    assert (1, 0) in grid.faults


def test_what_an_open_document_repeats_is_there_as_often_and_empty_stretches_cost_nothing(
    tmp_path: Path,
) -> None:
    table = (
        '<table:table table:name="a">'
        + row(CELL.format(' table:number-columns-repeated="2"', "x"))
        + row("<table:table-cell/>", given=' table:number-rows-repeated="3"')
        + row(
            '<table:table-cell table:number-rows-spanned="2" office:value-type="string">'
            "<text:p>Dose 3</text:p></table:table-cell>"
        )
        + row("<table:covered-table-cell/>")
        + row(
            '<table:table-cell table:number-columns-repeated="16384"/>',
            given=' table:number-rows-repeated="1048000"',
        )
        + "</table:table>"
    )
    grid = one(ods(tmp_path / "a.ods", table))
    assert grid.lines == [["x", "x"], [], [], [], ["Dose 3"]]
    assert grid.merged == ((4, 0, 5, 0),)


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        (row(CELL.format(' table:number-columns-repeated="16384"', "x")), "beyond column 1000"),
        (
            row(
                CELL.format(' table:number-columns-repeated="900"', "x"),
                given=' table:number-rows-repeated="1000000"',
            ),
            "more than 240,000 cells",
        ),
        (row(cell("string", "x" * 50_000)), "a cell of more than 40,000 characters"),
        (row(cell("float", "5", value="five")), "is not a workbook that can be read"),
    ],
)
def test_an_open_document_that_would_not_end_is_refused(
    tmp_path: Path, table: str, reason: str
) -> None:
    path = ods(tmp_path / "a.ods", f'<table:table table:name="a">{table}</table:table>')
    begin = time.process_time()
    with pytest.raises(TableFault, match=reason):
        read_grids(path)
    assert time.process_time() - begin < 10


def test_a_hidden_sheet_of_an_open_document_is_hidden(tmp_path: Path) -> None:
    styles = (
        '<style:style style:name="ta2" style:family="table">'
        '<style:table-properties table:display="false"/></style:style>'
    )
    tables = '<table:table table:name="a" table:style-name="ta2"></table:table>'
    assert one(ods(tmp_path / "a.ods", tables, styles)).hidden


def old_workbook(path: Path) -> Path:
    book = xlwt.Workbook()
    sheet = book.add_sheet("Gefrierliste")
    for at, title in enumerate(("Nr.", "Art", "Spannweite", "eingefroren am", "Dose")):
        sheet.write(0, at, title)
    day = xlwt.easyxf(num_format_str="DD.MM.YYYY")
    cm = xlwt.easyxf(num_format_str='0.0" cm"')
    for at, (name, taxon, span, frozen) in enumerate(
        (
            ("Q-1", "Sphinx ligustri", 9.5, dt.date(2026, 5, 23)),
            ("Q-2", "Noctua pronuba", 5.4, dt.date(2026, 7, 12)),
        ),
        start=1,
    ):
        sheet.write(at, 0, name)
        sheet.write(at, 1, taxon)
        sheet.write(at, 2, span, cm)
        sheet.write(at, 3, frozen, day)
    sheet.write_merge(1, 2, 4, 4, "Dose 3")
    hidden = book.add_sheet("alt")
    hidden.visibility = 1
    hidden.write(0, 0, 0.52, xlwt.easyxf(num_format_str="0%"))
    hidden.write(0, 1, 61.5)
    book.save(str(path))
    return path


def test_an_old_workbook_is_read_as_it_is_seen(tmp_path: Path) -> None:
    grid, hidden = read_grids(old_workbook(tmp_path / "a.xls"))
    assert grid.lines[1] == ["Q-1", "Sphinx ligustri", "9.5 cm", "2026-05-23", "Dose 3"]
    assert (grid.merged, grid.sheet, grid.hidden) == (((1, 4, 2, 4),), "Gefrierliste", False)
    assert (hidden.lines, hidden.hidden) == ([["52%", "61.5"]], True)


def test_a_freezer_list_in_an_old_workbook_is_loaded(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", old_workbook(tmp_path / "Gefrierliste.xls"))
    first, second = dict(snapshot(desk).specimens).values()
    assert (first.taxon, first.wingspan_mm, first.box) == ("Sphinx ligustri", 95, "Dose 3")
    assert (second.wingspan_mm, str(second.frozen_on), second.box) == (54, "2026-07-12", "Dose 3")


@pytest.mark.parametrize("kind", ["xls", "ods"])
def test_broken_workbooks_are_refused_or_read_and_end(tmp_path: Path, kind: str) -> None:
    dice = random.Random(5)
    path = tmp_path / f"a.{kind}"
    if kind == "xls":
        old_workbook(path)
    else:
        table = '<table:table table:name="a">' + row(cell("float", "5", value="5")) * 40
        ods(path, table + "</table:table>")
    raw = path.read_bytes()
    for _ in range(150):
        data = bytearray(raw)
        for _ in range(dice.randint(1, 30)):
            data[dice.randrange(len(data))] = dice.randrange(256)
        path.write_bytes(bytes(data[: dice.choice([len(data), dice.randrange(len(data))])]))
        begin = time.process_time()
        with contextlib.suppress(TableFault):
            read_grids(path)
        assert time.process_time() - begin < 10
