"""A logger's file -> the text of its time, humidity and temperature cells, row by row.

Rows count as a spreadsheet does. Loggers put lines above the header, units below it, and write
any separator; XLSX cells become text, so that both go the same way from here on.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from scheduler.intake.readings.header import (
    Columns,
    HeaderFault,
    columns_of,
    is_header,
    looks_like_header,
)

Texts = npt.NDArray[np.object_]

SEPARATORS = (";", "\t", "|", ",")
HEADER_WITHIN = 100
"""Lines within which a header is looked for."""

_NO_SHEET = "Give the logger's CSV or XLSX export, as it writes it"


class SheetFault(Exception):  # noqa: N818
    """A file that cannot be read as a table of readings at all."""

    def __init__(
        self, row: int | None, column: str | None, value: str | None, reason: str, remedy: str
    ) -> None:
        super().__init__(reason)
        self.row = row
        self.column = column
        self.value = value
        self.reason = reason
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class Sheet:
    """The cells that count; `rows` are their numbers in the file."""

    columns: Columns
    rows: npt.NDArray[np.int64]
    moment: Texts
    humidity: Texts
    temperature: Texts | None


def read_sheet(path: Path) -> Sheet:
    """Read the file; raise SheetFault when it is no table of readings."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise SheetFault(
            None, None, None, f"cannot be read ({error.strerror})", "Check the name and permissions"
        ) from error
    return _of_workbook(raw) if raw[:4] == b"PK\x03\x04" else _of_text(_decoded(raw))


def _decoded(raw: bytes) -> str:
    """Return the text: by its byte order mark, else UTF-8, else the Western code page."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = raw.decode("utf-16", errors="replace")
    else:
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = raw.decode("cp1252", errors="replace")
    if "\0" in text[:10_000]:
        raise SheetFault(None, None, None, "is not a text", _NO_SHEET)
    for odd, usual in (("\r\n", "\n"), ("\r", "\n"), ("\u00a0", " "), ("\u202f", " "), ("−", "-")):
        text = text.replace(odd, usual)
    return text


def _of_text(text: str) -> Sheet:
    lines = text.split("\n", HEADER_WITHIN)
    top = lines[:HEADER_WITHIN]
    found = next(
        (
            (number, sign)
            for sign in SEPARATORS
            for number, line in enumerate(top)
            if is_header(_cells(line, sign))
        ),
        None,
    )
    if found is None:
        raise _no_header([_cells(line, sign) for sign in SEPARATORS for line in top])
    number, sign = found
    head = _cells(top[number], sign)
    below = [_cells(line, sign) for line in top[number + 1 :]]
    columns, skip = _columns(head, below, number + 1)
    _check_width(head, below[skip:], sign, number + 1 + skip)
    first_row = number + 2 + skip
    frame = _frame("\n".join(lines[number + 1 + skip :]), sign, columns, first_row)
    return _sheet(columns, first_row, [frame[n].to_numpy(dtype=object) for n in frame])


def _cells(line: str, sign: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=sign), [])]
    except csv.Error:
        return []


def _frame(text: str, sign: str, columns: Columns, first_row: int) -> pd.DataFrame:
    wanted = _wanted(columns)
    if not text.strip():
        raise SheetFault(None, None, None, "has a header and no readings", _NO_SHEET)
    try:
        frame = pd.read_csv(
            io.StringIO(text),
            sep=sign,
            header=None,
            names=range(len(columns.titles)),
            usecols=wanted,
            dtype=object,
            keep_default_na=False,
            na_filter=False,
            skip_blank_lines=False,
            skipinitialspace=True,
            index_col=False,
        )[wanted]
    except pd.errors.ParserError as error:
        raise _quote_fault(text, first_row) from error
    if len(frame) != text.count("\n") + (not text.endswith("\n")):
        raise _quote_fault(text, first_row)
    return frame


def _quote_fault(text: str, first_row: int) -> SheetFault:
    """Return the fault of a cell that goes on over the end of its line."""
    lines = enumerate(text.split("\n"), first_row)
    row = next((row for row, line in lines if line.count('"') % 2), None)
    return SheetFault(
        row,
        None,
        None,
        "has a quotation mark that does not close its cell",
        'Close the cell with ", or export it from the logger anew',
    )


def _wanted(columns: Columns) -> list[int]:
    temperature = [] if columns.temperature is None else [columns.temperature]
    return [*columns.times, columns.humidity, *temperature]


def _columns(head: Sequence[str], below: Sequence[Sequence[str]], row: int) -> tuple[Columns, int]:
    """Return the columns of a header and how many lines of units stand below it."""
    try:
        columns = columns_of(head)
        units = below[0] if below else []
        moment = "".join(units[n] for n in columns.times if n < len(units))
        has_units = any(units) and not any(sign.isdigit() for sign in "".join(units) + moment)
        return (columns_of(head, units), 1) if has_units else (columns, 0)
    except HeaderFault as fault:
        raise SheetFault(row, fault.column, None, fault.reason, fault.remedy) from fault


def _no_header(grid: Sequence[Sequence[str]]) -> SheetFault:
    if any(map(looks_like_header, grid)):
        return SheetFault(
            None, None, None, "has no column of relative humidity", "Give a file that has one"
        )
    return SheetFault(
        None,
        None,
        None,
        "has no header that names a time and a humidity",
        "Write one above the readings, such as: Time, RH (%), Temp (C)",
    )


def _check_width(
    head: Sequence[str], below: Sequence[Sequence[str]], sign: str, above: int
) -> None:
    """Refuse decimal commas in a file whose cells are separated by commas."""
    filled = [(row, cells) for row, cells in enumerate(below, above + 1) if any(cells)]
    wide = [row for row, cells in filled if len("".join(cells[len(head) :])) > 0]
    if sign == "," and wide and 2 * len(wide) > len(filled):
        raise SheetFault(
            wide[0],
            None,
            None,
            f"has more cells than the header, {len(head)}: commas seem to be decimal signs, too",
            "Export with semicolons between the cells, or with decimal points",
        )


def _of_workbook(raw: bytes) -> Sheet:
    import openpyxl  # type: ignore[import-untyped]

    try:
        book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
    except (zipfile.BadZipFile, KeyError, ValueError, OSError) as error:
        raise SheetFault(None, None, None, f"is no workbook ({error})", _NO_SHEET) from error
    top: list[list[str]] = []
    for page in book.worksheets:
        grid = list(_text_rows(page))
        at = next((n for n, line in enumerate(grid[:HEADER_WITHIN]) if is_header(line)), None)
        if at is not None:
            return _of_grid(grid, at)
        top += grid[:HEADER_WITHIN]
    raise _no_header(top)


def _of_grid(grid: Sequence[Sequence[str]], at: int) -> Sheet:
    columns, skip = _columns(grid[at], grid[at + 1 : at + 2], at + 1)
    body = grid[at + 1 + skip :]
    if not body:
        raise SheetFault(None, None, None, "has a header and no readings", _NO_SHEET)
    texts = [
        np.array([line[n] if n < len(line) else "" for line in body], dtype=object)
        for n in _wanted(columns)
    ]
    return _sheet(columns, at + 2 + skip, texts)


def _text_rows(page: Any) -> Iterator[list[str]]:
    for line in page.iter_rows():
        yield [_text(cell.value, str(cell.number_format or "")) for cell in line]


def _text(value: object, shown_as: str) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        # A workbook counts days in binary fractions: back to the nearest second.
        moment = (value + timedelta(microseconds=500_000)).replace(microsecond=0)
        dated_only = moment.time() == time() and "h" not in shown_as.casefold()
        return moment.date().isoformat() if dated_only else moment.isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, float | int) and "%" in shown_as:
        return f"{100 * value:.10g}"
    return f"{value:.10g}" if isinstance(value, float) else str(value).strip()


def _sheet(columns: Columns, first_row: int, texts: list[Texts]) -> Sheet:
    moment = texts[0] if len(columns.times) == 1 else texts[0] + " " + texts[1]
    rest = texts[len(columns.times) :]
    rows = np.arange(first_row, first_row + len(moment), dtype=np.int64)
    return Sheet(columns, rows, moment, rest[0], rest[1] if len(rest) > 1 else None)
