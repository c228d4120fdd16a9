"""From a workbook (.xlsx) to grids: the values of its cells, and the texts their formats show.

openpyxl reads what stands around the sheets (their names, formats, the epoch of dates); the
cells themselves come as a stream (`sheet_xml.py`).
"""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from typing import Any, NamedTuple

from openpyxl.reader.excel import ExcelReader  # type: ignore[import-untyped]
from openpyxl.styles.stylesheet import apply_stylesheet  # type: ignore[import-untyped]
from openpyxl.utils.datetime import (  # type: ignore[import-untyped]
    from_excel,
    from_ISO8601,
)
from openpyxl.xml.constants import SHARED_STRINGS  # type: ignore[import-untyped]

from scheduler.table.filling import (
    MOST_FILLED_CELLS,
    MOST_SHEETS,
    NO_DATE,
    NOT_RECKONED,
    SHOWS_ERROR,
    Filling,
)
from scheduler.table.grid import CellValue, Grid, TableFault, clean
from scheduler.table.sheet_xml import RawCell, SheetXml, refuse_too_many, shared_strings
from scheduler.table.shown import Shown, shown_as

LONGEST_CELL = 40_000
"""Most characters in a cell; spreadsheet programs stop at 32,767."""
_MOST_BYTES = {"worksheets/": 128_000_000, "sharedStrings": 16_000_000, "": 1_000_000}
"""Most bytes, unpacked, of the parts of a workbook whose names hold these words."""

_SAVE_AGAIN = "Save it again as .xlsx without a password, or as CSV"


def read_workbook(raw: bytes) -> tuple[Grid, ...]:
    """Return the grid of every sheet; raise TableFault when the workbook cannot be read."""
    try:
        with warnings.catch_warnings(action="ignore", category=UserWarning):
            return tuple(_grids(raw))
    except TableFault:
        raise
    except Exception as error:
        # The reader raises anything for a damaged archive, from KeyError to a fault of its XML.
        reason = f"is not a workbook that can be read ({type(error).__name__})"
        raise TableFault(None, reason, _SAVE_AGAIN) from error


def _grids(raw: bytes) -> Iterator[Grid]:
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        _check_size(archive)
        book, parts = _frame(archive, raw)
        strings = _strings(archive, book)
        left = MOST_FILLED_CELLS
        for part in parts:
            work = _Sheet(part, book.wb, strings)
            parser = SheetXml(work.take, left, LONGEST_CELL)
            with archive.open(part.path) as source:
                refuse_too_many(source, left)
            with archive.open(part.path) as source:
                parser.read(source)
            left -= parser.cells
            yield work.grid(tuple(parser.merged))


class _Part(NamedTuple):
    title: str
    path: str
    hidden: bool


def _frame(archive: zipfile.ZipFile, raw: bytes) -> tuple[Any, list[_Part]]:
    """Return what stands around the sheets, and where each sheet is.

    openpyxl's own way to open a workbook would read each sheet once more, and keep all of it.
    """
    book = ExcelReader(io.BytesIO(raw), read_only=True, keep_links=False)
    book.read_manifest()
    book.read_workbook()
    apply_stylesheet(book.archive, book.wb)
    sheets = [
        _Part(str(sheet.name), rel.target, sheet.state != "visible")
        for sheet, rel in book.parser.find_sheets()
        if "chartsheet" not in rel.Type and rel.target in archive.namelist()
    ]
    if len(sheets) > MOST_SHEETS:
        raise TableFault(None, f"has {len(sheets)} sheets", "Give a workbook with fewer")
    return book, sheets


def _strings(archive: zipfile.ZipFile, book: Any) -> list[str]:
    part = book.package.find(SHARED_STRINGS)
    if part is None:
        return []
    with archive.open(part.PartName[1:]) as source:
        return shared_strings(source, MOST_FILLED_CELLS)


def _check_size(archive: zipfile.ZipFile) -> None:
    for entry in archive.infolist():
        most = next(size for part, size in _MOST_BYTES.items() if part in entry.filename)
        if entry.file_size > most and entry.filename.endswith((".xml", ".rels")):
            reason = f"unpacks to more than {most // 1_000_000} MB ({entry.filename})"
            raise TableFault(None, reason, "Give a smaller workbook, or save it as CSV")


class _Sheet:
    """One sheet while it is read."""

    def __init__(self, part: _Part, book: Any, strings: list[str]) -> None:
        self._part, self._book, self._strings = part, book, strings
        self._forms: dict[int, Shown] = {}
        self._cells = Filling()
        self._formulas: list[tuple[int, int, str]] = []
        self._reckoned = False

    def grid(self, merged: tuple[tuple[int, int, int, int], ...]) -> Grid:
        """Return what was read."""
        for at, place, formula in [] if self._reckoned else self._formulas:
            self._cells.put_fault(at, place, f"={formula}", NOT_RECKONED)
        return self._cells.grid(self._part.title, merged, hidden=self._part.hidden)

    def take(self, cell: RawCell) -> None:
        """Enter one cell."""
        at, place, text = cell.line, cell.column, cell.text
        if cell.formula is not None:
            # Programs store the values of all formulas or of none: where some are stored, an
            # empty one is the value "".
            self._reckoned |= bool(text)
            if not text:
                self._formulas.append((at, place, cell.formula))
        if not text:
            return
        if cell.kind == "n":
            self._put_number(at, place, float(text), cell.style)
        elif cell.kind == "e":
            self._cells.put_fault(at, place, text, SHOWS_ERROR)
        elif cell.kind == "b":
            self._put_value(at, place, text not in ("0", "false"), Shown())
        elif cell.kind == "d":
            self._put_moment(at, place, from_ISO8601(text), self._form(cell.style))
        else:
            said = self._strings[int(text)] if cell.kind == "s" else text
            self._cells.put(at, place, clean(said.replace("\r\n", "\n").replace("\r", "\n")), None)

    def _put_number(self, at: int, place: int, number: float, style: int) -> None:
        form = self._form(style)
        if style not in self._book._date_formats:
            # A spreadsheet holds and shows 15 digits; the 16th and 17th are rounding errors.
            value = number if form.times == 1 else number * form.times
            self._put_value(at, place, float(f"{value:.15g}"), form)
            if form.unit:
                self._cells.units[at, place] = form.unit
            return
        span = style in self._book._timedelta_formats
        try:
            moment = from_excel(number, self._book.epoch, timedelta=span)
        except (OverflowError, ValueError):
            self._cells.put_fault(at, place, f"{number:.15g}", NO_DATE)
        else:
            self._put_moment(at, place, moment, form)

    def _put_moment(self, at: int, place: int, value: Any, form: Shown) -> None:
        if isinstance(value, datetime):
            # A workbook counts days in binary fractions, so it is rounded to the nearest second.
            value = (value + timedelta(microseconds=500_000)).replace(microsecond=0)
            if value.time() == time() and not form.with_clock:
                value = value.date()
        self._put_value(at, place, value, form)

    def _put_value(self, at: int, place: int, value: CellValue, form: Shown) -> None:
        self._cells.put(at, place, form.text(value), value)

    def _form(self, style: int) -> Shown:
        form = self._forms.get(style)
        if form is None:
            styles = self._book._cell_styles
            number = styles[style].numFmtId if style < len(styles) else 0
            form = self._forms[style] = shown_as(number, self._book._number_formats)
        return form
