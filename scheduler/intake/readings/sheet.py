"""From a logger's file to the text of its time, humidity and temperature cells, row by row.

Rows count as a spreadsheet does. Loggers put lines above the header and units below it, and use any
separator. Bytes, encodings and workbooks are read by `scheduler.table`. The long body of a text is
read by pandas, because a year of minutes has half a million rows.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from scheduler.intake.asking import Asking
from scheduler.intake.readings import shape
from scheduler.intake.readings.arrays import Texts
from scheduler.intake.readings.header import Columns, columns_of, is_header, looks_like_header
from scheduler.table import SEPARATORS, Grid, TableFault, decoded, read_bytes, read_grids

HEADER_WITHIN = 100
"""A header is looked for within so many lines."""

LONGEST_ROW = 10_000
"""A longer line is no row of readings."""

MOST_ROWS = 800_000
"""The most rows that are read: a year and a half of minutes; a year takes 320 MB."""

_NO_SHEET = "Give the logger's CSV or XLSX export, as it writes it"
_ODD = (("\u00a0", " "), ("\u202f", " "), ("\u2009", " "), ("−", "-"))


@dataclass(frozen=True, slots=True)
class LoggerSheet:
    """The cells that count; `rows` are their numbers in the file.

    `cut` marks rows that have lost a cell, `alone` lines with a single cell, which are no rows.
    `open_end`: the last line has no end, so it may have been cut off. `line` gives the text of a
    row as the file writes it.
    """

    columns: Columns
    rows: npt.NDArray[np.int64]
    moment: Texts
    humidity: Texts
    temperature: Texts | None
    cut: npt.NDArray[np.bool_]
    alone: npt.NDArray[np.bool_]
    open_end: bool
    separator: str | None
    encoding: str | None
    line: Callable[[int], str]
    digest: str = ""


def read_cells(path: Path, asking: Asking) -> LoggerSheet:
    """Read the file. Raises TableFault when it is no table of readings."""
    raw = read_bytes(path)
    if raw[:4] == b"PK\x03\x04" or raw[:4] == b"\xd0\xcf\x11\xe0":
        return replace(_of_workbook(read_grids(path), asking), digest=_digest(raw))
    text, encoding = decoded(raw)
    for odd, usual in _ODD:
        text = text.replace(odd, usual)
    return replace(_of_text(text, encoding, asking), digest=_digest(raw))


def _digest(raw: bytes) -> str:
    return hashlib.sha256(raw).hexdigest()


def _of_text(text: str, encoding: str, asking: Asking) -> LoggerSheet:
    lines = text.split("\n", HEADER_WITHIN)
    top = lines[:HEADER_WITHIN]
    if any(len(line) > LONGEST_ROW for line in top):
        raise TableFault(None, f"has a line of more than {LONGEST_ROW:,} letters", _NO_SHEET)
    found = next(
        (
            (number, sign)
            for sign in (";", "\t", "|", ",")
            for number, line in enumerate(top)
            if sign in SEPARATORS and is_header(_cells(line, sign))
        ),
        None,
    )
    if found is None:
        raise _no_header([_cells(line, sign) for sign in SEPARATORS for line in top])
    number, sign = found
    below = _cells(top[number + 1], sign) if number + 1 < len(top) else []
    columns, skip = _columns(_cells(top[number], sign), below, asking)
    begin = number + 1 + skip
    body = "\n".join(lines[begin:])
    return _body(body, sign, columns, begin + 1, encoding)


def _body(body: str, sign: str, columns: Columns, first_row: int, encoding: str) -> LoggerSheet:
    if not body.strip():
        raise TableFault(None, "has a header and no readings", _NO_SHEET)
    lines = shape.lines_of(body, sign)
    if len(lines.ends) > MOST_ROWS:
        reason = f"has more than {MOST_ROWS:,} rows"
        raise TableFault(None, reason, "Export it in parts, a year at a time")
    if lines.quoted and len(lines.ends) != body.count("\n") + (not body.endswith("\n")):
        raise _quote_fault(body, first_row)
    cut = shape.check_widths(lines, columns, sign, first_row)
    width = int(lines.widths.max())
    if max(columns.wanted) >= width:
        raise TableFault(
            first_row, f"has {width} cells, the header more", "Export it from the logger anew"
        )
    frame = _frame(body, sign, columns, first_row, width)
    if len(frame) != len(lines.ends):
        raise _quote_fault(body, first_row)
    wanted = [int(str(n)) for n in frame]
    cells = {n: frame[n].to_numpy(dtype=object) for n in wanted}
    _check_headers(cells, columns, first_row)
    if sign == ",":
        _check_shift(cells, columns, first_row)
    alone = (lines.widths == 1) & ~lines.empty
    return _sheet(columns, first_row, cells, (cut, alone), (sign, encoding), lines.text, body)


def _cells(line: str, sign: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=sign), [])]
    except csv.Error:
        return []


def _frame(body: str, sign: str, columns: Columns, first_row: int, width: int) -> pd.DataFrame:
    wanted = list(columns.wanted)
    if sign == ",":
        # Cells after the readings tell whether commas are decimal signs, too.
        wanted += range(max(wanted) + 1, width)
    try:
        return pd.read_csv(
            io.StringIO(body),
            sep=sign,
            header=None,
            names=range(width),
            usecols=wanted,
            dtype=object,
            keep_default_na=False,
            na_filter=False,
            skip_blank_lines=False,
            skipinitialspace=True,
            index_col=False,
        )[wanted]
    except (pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise _quote_fault(body, first_row) from error


def _check_headers(cells: dict[int, Texts], columns: Columns, first_row: int) -> None:
    """Refuse a file with a second header that has its columns in another order."""
    texts = cells[columns.humidity]
    titles = {title for title in columns.titles if title}
    again = np.flatnonzero(np.isin(texts, np.array(sorted(titles), dtype=object)))
    for at in again:
        if texts[at] != columns.title(columns.humidity):
            raise TableFault(
                first_row + int(at),
                "is a second header, with its columns in another order",
                "Cut the file in two there, and read one after the other",
            )


def _check_shift(cells: dict[int, Texts], columns: Columns, first_row: int) -> None:
    at = shape.shifted_row(columns, cells)
    if at is not None:
        raise TableFault(
            first_row + at,
            "has figures in a column behind the readings: commas seem to be decimal signs, too",
            shape.EXPORT_ANEW,
        )


def _quote_fault(body: str, first_row: int) -> TableFault:
    """Return the fault of a cell that goes on beyond the end of its line."""
    lines = enumerate(body.split("\n"), first_row)
    row = next((row for row, line in lines if line.count('"') % 2), None)
    return TableFault(
        row,
        "has a quotation mark that does not close its cell",
        'Close the cell with ", or export it from the logger anew',
    )


def _columns(head: Sequence[str], below: Sequence[str], asking: Asking) -> tuple[Columns, int]:
    """Return the columns of a header, and how many lines of units are below it."""
    has_units = any(below) and not any(sign.isdigit() for cell in below for sign in cell)
    has_units &= not is_header(below)
    return columns_of(head, below if has_units else [], asking), int(has_units)


def _no_header(grid: Sequence[Sequence[str]]) -> TableFault:
    if any(map(looks_like_header, grid)):
        return TableFault(None, "has no column of relative humidity", "Give a file that has one")
    return TableFault(
        None,
        "has no header that names a time and a humidity",
        "Write one above the readings, such as: Time, RH (%), Temp (C)",
    )


def _of_workbook(grids: Sequence[Grid], asking: Asking) -> LoggerSheet:
    found = []
    for grid in grids:
        at = next((n for n, line in enumerate(grid.lines[:HEADER_WITHIN]) if is_header(line)), None)
        if at is not None:
            found.append((grid, at))
    if not found:
        raise _no_header([line for grid in grids for line in grid.lines[:HEADER_WITHIN]])
    if len(found) > 1:
        names = " and ".join(f'"{grid.sheet}"' for grid, _ in found[:2])
        raise TableFault(
            None, f"has readings on several sheets: {names}", "Give each sheet as a file of its own"
        )
    return _of_grid(*found[0], asking)


def _of_grid(grid: Grid, at: int, asking: Asking) -> LoggerSheet:
    below = grid.lines[at + 1] if at + 1 < len(grid.lines) else []
    columns, skip = _columns(grid.lines[at], below, asking)
    begin = at + 1 + skip
    body = grid.lines[begin:]
    if not any(any(line) for line in body):
        raise TableFault(None, "has a header and no readings", _NO_SHEET)
    wide = next((n for n, line in enumerate(body) if len(line) > len(columns.titles)), None)
    if wide is not None:
        raise TableFault(
            begin + wide + 1,
            f"has {len(body[wide])} cells, the header has {len(columns.titles)}",
            "Take out what stands beside the readings",
        )
    fault = min((place for place in grid.faults if place[0] >= begin), default=None)
    if fault is not None and fault[1] in columns.wanted:
        why = grid.faults[fault]
        raise TableFault(fault[0] + 1, why.reason, why.remedy)
    cells = {
        n: np.array([grid.text(line, n) for line in range(begin, len(grid.lines))], dtype=object)
        for n in columns.wanted
    }

    def line(number: int) -> str:
        return "  ".join(body[number])

    alone = np.array([sum(map(bool, line)) == 1 for line in body])
    widths = np.array([len(line) for line in body], dtype=np.int64)
    cut = shape.cut_rows(widths, widths > 0, len(columns.titles))
    return _sheet(columns, begin + 1, cells, (cut, alone), (None, None), line)


def _sheet(
    columns: Columns,
    first_row: int,
    cells: dict[int, Texts],
    cut_alone: tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]],
    written: tuple[str | None, str | None],
    line: Callable[[int], str],
    body: str = "",
) -> LoggerSheet:
    moment = cells[columns.times[0]]
    if len(columns.times) > 1:
        moment = moment + " " + cells[columns.times[1]]
    rows = np.arange(first_row, first_row + len(moment), dtype=np.int64)
    temperature = None if columns.temperature is None else cells[columns.temperature]
    humidity = cells[columns.humidity]
    return LoggerSheet(
        columns,
        rows,
        moment,
        humidity,
        temperature,
        *cut_alone,
        bool(body) and not body.endswith("\n"),
        *written,
        lambda row: line(row - first_row),
    )
