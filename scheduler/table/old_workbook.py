"""From a workbook of the kind written until 2007 (.xls) to grids, by xlrd."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Any

import xlrd  # type: ignore[import-untyped]

from scheduler.table.filling import MOST_FILLED_CELLS, MOST_SHEETS, NO_DATE, SHOWS_ERROR, Filling
from scheduler.table.grid import CellValue, Grid, TableFault, clean
from scheduler.table.shown import Shown, shown_by

MOST_BYTES_OLD = 24_000_000
"""The largest old workbook read: xlrd takes about 30 times a file's size in memory."""

_REMEDY = "Save it as .xlsx without a password, or as CSV"


def read_old_workbook(raw: bytes) -> tuple[Grid, ...]:
    """Return the grid of every sheet; raise TableFault when the workbook cannot be read."""
    if len(raw) > MOST_BYTES_OLD:
        reason = f"is an old workbook of more than {MOST_BYTES_OLD // 1_000_000} MB"
        raise TableFault(None, reason, _REMEDY)
    try:
        book = xlrd.open_workbook(
            file_contents=raw,
            logfile=io.StringIO(),
            formatting_info=True,
            on_demand=True,
            ragged_rows=True,
        )
        if book.nsheets > MOST_SHEETS:
            raise TableFault(None, f"has {book.nsheets} sheets", "Give a workbook with fewer")
        return tuple(_grids(book))
    except TableFault:
        raise
    except Exception as error:
        # xlrd raises anything for a file that is damaged, has a password or is of another kind.
        reason = "is a workbook of an old kind that cannot be read, or has a password"
        raise TableFault(None, reason, _REMEDY) from error


def _grids(book: Any) -> Iterator[Grid]:
    left = MOST_FILLED_CELLS
    forms: dict[int, Shown] = {}
    for number in range(book.nsheets):
        sheet = book.sheet_by_index(number)
        cells = Filling()
        for at in range(sheet.nrows):
            for place, cell in enumerate(sheet.row(at)):
                if cell.ctype not in (xlrd.XL_CELL_EMPTY, xlrd.XL_CELL_BLANK):
                    left -= 1
                    if left < 0:
                        reason = f"has more than {MOST_FILLED_CELLS:,} cells"
                        raise TableFault(None, reason, "Save the sheet as CSV, or split it")
                    _put(cells, at, place, cell, _form(book, cell.xf_index, forms), book.datemode)
        merged = tuple(
            (top, first, below - 1, after - 1) for top, below, first, after in sheet.merged_cells
        )
        hidden = sheet.visibility != 0
        book.unload_sheet(number)
        yield cells.grid(sheet.name, merged, hidden=hidden)


def _form(book: Any, style: int, forms: dict[int, Shown]) -> Shown:
    if style not in forms:
        code = book.format_map[book.xf_list[style].format_key].format_str
        forms[style] = shown_by(code)
    return forms[style]


def _put(cells: Filling, at: int, place: int, cell: Any, form: Shown, epoch: int) -> None:
    if cell.ctype == xlrd.XL_CELL_TEXT:
        text = clean(cell.value.replace("\r\n", "\n").replace("\r", "\n"))
        cells.put(at, place, text, None)
    elif cell.ctype == xlrd.XL_CELL_ERROR:
        text = xlrd.error_text_from_code.get(cell.value, "#ERROR")
        cells.put_fault(at, place, text, SHOWS_ERROR)
    elif cell.ctype == xlrd.XL_CELL_BOOLEAN:
        cells.put(at, place, Shown().text(bool(cell.value)), bool(cell.value))
    elif cell.ctype == xlrd.XL_CELL_DATE:
        value = _moment(cell.value, epoch, with_clock=form.with_clock)
        if value is None:
            cells.put_fault(at, place, f"{cell.value:.15g}", NO_DATE)
        else:
            cells.put(at, place, form.text(value), value)
    else:
        number = float(f"{cell.value * form.times:.15g}")
        cells.put(at, place, form.text(number), number)
        if form.unit:
            cells.units[at, place] = form.unit


def _moment(number: float, epoch: int, *, with_clock: bool) -> CellValue | None:
    """Return the date, moment or time of day that a number of days means; None if it means none."""
    if 0 <= number < 1:
        seconds = round(number * 86_400) % 86_400
        return time(seconds // 3600, seconds // 60 % 60, seconds % 60)
    try:
        moment: datetime = xlrd.xldate.xldate_as_datetime(number, epoch)
    except (xlrd.xldate.XLDateError, OverflowError, ValueError):
        return None
    # A workbook counts days in binary fractions, so a moment is rounded to the nearest second.
    moment = (moment + timedelta(microseconds=500_000)).replace(microsecond=0)
    return moment if with_clock or moment.time() != time() else moment.date()
