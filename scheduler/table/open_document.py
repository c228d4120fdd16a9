"""From an OpenDocument spreadsheet (.ods) to grids, as a stream.

A cell holds its value and, as text, what is seen of it. The elements' meaning: OpenDocument
1.3, part 3, 9.1 (tables), 19.385-19.390 (office:value-type and the values beside it).
"""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime, time, timedelta

from scheduler.table.filling import MOST_FILLED_CELLS, MOST_SHEETS, SHOWS_ERROR, Filling
from scheduler.table.grid import MOST_COLUMNS, CellValue, Grid, TableFault, clean
from scheduler.table.sheet_xml import parse
from scheduler.table.shown import Shown

_MOST_UNPACKED = 128_000_000
_MOST_ROWS = 1_048_576
_LONGEST_TEXT = 40_000

_ASIDE = frozenset({"annotation", "tracked-changes", "shapes", "frame", "custom-shape", "rect"})
_UNIT_SHOWN = re.compile(r"[+-]?[\d.,'\s\u00a0\u202f]*\d[\d.,']*(?:E[+-]?\d+)?\s*([^\d.,'\s].*)?")
_SPAN = re.compile(r"PT(\d+)H(\d+)M(\d+)(?:[.,]\d+)?S")
_ERROR = re.compile(r"#[A-Z/0!?]+[!?A]?|Err:\d+")
_SAVE_AGAIN = "Save it again, or as .xlsx or CSV"


def read_open_document(raw: bytes) -> tuple[Grid, ...]:
    """Return the grid of every sheet; raise TableFault when the workbook cannot be read."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            entry = archive.getinfo("content.xml")
            if entry.file_size > _MOST_UNPACKED:
                reason = f"unpacks to more than {_MOST_UNPACKED // 1_000_000} MB"
                raise TableFault(None, reason, "Give a smaller workbook, or save it as CSV")
            reader = _Reader()
            with archive.open(entry) as source:
                parse(source, reader.start, reader.end, reader.characters)
            return tuple(reader.grids)
    except TableFault:
        raise
    except Exception as error:
        # A damaged archive raises anything, from zlib's error to a fault of its XML.
        reason = f"is not a workbook that can be read ({type(error).__name__})"
        raise TableFault(None, reason, _SAVE_AGAIN) from error


class _Reader:
    """The state of the parser while it reads the content."""

    def __init__(self) -> None:
        self.grids: list[Grid] = []
        self._hidden_styles: set[str] = set()
        self._style, self._aside, self._left = "", 0, MOST_FILLED_CELLS
        self._title, self._hidden = "", False
        self._cells = Filling()
        self._merged: list[tuple[int, int, int, int]] = []
        self._line, self._rows, self._column = 0, 1, 0
        self._row: list[tuple[int, int, _Cell]] = []
        self._cell: _Cell | None = None
        self._tables = 0

    def start(self, name: str, given: dict[str, str]) -> None:
        tag = _bare(name)
        attributes = {_bare(key): value for key, value in given.items()}
        if tag in _ASIDE or self._aside:
            self._aside += 1
        elif tag == "style":
            self._style = attributes.get("name", "")
        elif tag == "table-properties" and attributes.get("display") == "false":
            self._hidden_styles.add(self._style)
        elif tag == "table":
            self._start_table(attributes)
        elif tag == "table-row":
            self._rows, self._column = int(attributes.get("number-rows-repeated", 1)), 0
            self._row = []
        elif tag in ("table-cell", "covered-table-cell"):
            self._cell = _Cell(attributes, covered=tag == "covered-table-cell")
        elif self._cell is not None:
            self._cell.start(tag, attributes)

    def end(self, name: str) -> None:
        tag = _bare(name)
        if self._aside:
            self._aside -= 1
        elif tag == "table":
            self._tables -= 1
            if not self._tables:
                self.grids.append(
                    self._cells.grid(self._title, tuple(self._merged), hidden=self._hidden)
                )
        elif tag == "table-row":
            self._end_row()
        elif tag in ("table-cell", "covered-table-cell") and self._cell is not None:
            self._end_cell(self._cell)
            self._cell = None

    def characters(self, text: str) -> None:
        if self._cell is not None and not self._aside:
            self._cell.characters(text, self._line)

    def _start_table(self, given: dict[str, str]) -> None:
        self._tables += 1
        if self._tables > 1:
            raise TableFault(None, "has a table within a cell", _SAVE_AGAIN)
        if len(self.grids) >= MOST_SHEETS:
            raise TableFault(None, f"has more than {MOST_SHEETS} sheets", "Give fewer")
        self._title = given.get("name", "")
        self._hidden = given.get("style-name", "") in self._hidden_styles
        self._cells, self._merged, self._line = Filling(), [], 0

    def _end_cell(self, cell: _Cell) -> None:
        if cell.filled:
            self._row.append((self._column, cell.columns, cell))
        self._column += cell.columns

    def _end_row(self) -> None:
        if self._row:
            if self._line + self._rows > _MOST_ROWS:
                raise TableFault(None, f"has more than {_MOST_ROWS:,} rows", _SAVE_AGAIN)
            for at in range(self._line, self._line + self._rows):
                for first, columns, cell in self._row:
                    if first + columns > MOST_COLUMNS:
                        reason = f"has cells beyond column {MOST_COLUMNS}"
                        raise TableFault(at + 1, reason, "Give a table of fewer columns")
                    for place in range(first, first + columns):
                        self._put(at, place, cell)
        self._line += self._rows

    def _put(self, at: int, place: int, cell: _Cell) -> None:
        self._left -= 1
        if self._left < 0:
            reason = f"has more than {MOST_FILLED_CELLS:,} cells"
            raise TableFault(None, reason, "Save the sheet as CSV, or split it")
        text, value, unit = cell.said()
        if cell.is_error(text):
            self._cells.put_fault(at, place, text, SHOWS_ERROR)
            return
        self._cells.put(at, place, text, value)
        if unit:
            self._cells.units[at, place] = unit
        if (cell.rows_spanned, cell.columns_spanned) != (1, 1):
            below, beyond = at + cell.rows_spanned - 1, place + cell.columns_spanned - 1
            self._merged.append((at, place, below, beyond))


class _Cell:
    """One cell while it is read."""

    def __init__(self, given: dict[str, str], *, covered: bool) -> None:
        self.columns = int(given.get("number-columns-repeated", 1))
        self.rows_spanned = int(given.get("number-rows-spanned", 1))
        self.columns_spanned = int(given.get("number-columns-spanned", 1))
        self._given, self._covered = given, covered
        self._parts: list[str] = []
        self._paragraphs = self._chars = 0

    @property
    def filled(self) -> bool:
        """Return whether anything is seen in it."""
        return not self._covered and bool(clean("".join(self._parts)))

    def start(self, tag: str, given: dict[str, str]) -> None:
        if tag == "p":
            self._parts += ["\n"] if self._paragraphs else []
            self._paragraphs += 1
        elif tag == "s":
            self._parts.append(" " * min(int(given.get("c", 1)), 100))
        elif tag in ("tab", "line-break"):
            self._parts.append("\t" if tag == "tab" else "\n")

    def characters(self, text: str, line: int) -> None:
        self._chars += len(text)
        if self._chars > _LONGEST_TEXT:
            reason = f"has a cell of more than {_LONGEST_TEXT:,} characters"
            raise TableFault(line + 1, reason, "Shorten the text")
        # White space between the elements of a cell is not part of its text.
        if self._paragraphs:
            self._parts.append(text)

    def is_error(self, text: str) -> bool:
        formula = "formula" in self._given
        return bool(formula and _ERROR.fullmatch(text)) or text == "#N/A"

    def said(self) -> tuple[str, CellValue | None, str]:
        """Return the text as one reads it, the value behind it, and the unit that is shown."""
        text, kind = clean("".join(self._parts)), self._given.get("value-type", "string")
        if kind == "date":
            day = _day(self._given["date-value"], with_clock=":" in text)
            return Shown().text(day), day, ""
        if kind == "time":
            span = _span(self._given["time-value"])
            return Shown().text(span), span, ""
        if kind == "boolean":
            true = self._given.get("boolean-value") == "true"
            return Shown().text(true), true, ""
        shown = _UNIT_SHOWN.fullmatch(text)
        if kind not in ("float", "percentage", "currency") or shown is None:
            return text, None, ""
        times, unit = (100, "%") if kind == "percentage" else (1, (shown[1] or "").strip())
        number = float(f"{float(self._given['value']) * times:.15g}")
        return Shown(times, unit).text(number), number, unit


def _bare(name: str) -> str:
    return name.rpartition(" ")[2]


def _day(text: str, *, with_clock: bool) -> date | datetime:
    moment = datetime.fromisoformat(text).replace(microsecond=0)
    return moment if with_clock or moment.time() != time() else moment.date()


def _span(text: str) -> time | timedelta:
    found = _SPAN.fullmatch(text)
    if found is None:
        raise ValueError(f"no time {text!r}")
    hours, minutes, seconds = (int(part) for part in found.groups())
    if hours < 24:
        return time(hours, minutes, seconds)
    return timedelta(hours=hours, minutes=minutes, seconds=seconds)
