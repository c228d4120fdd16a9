"""A file of a batch -> a grid of cells, one line a row, as wide as its widest row.

Nothing outside this module knows whether a table came as text or in a workbook. pandas is
imported where a file is read: what is typed at the bench needs the columns alone.
"""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scheduler.intake.batch.cells import CellFault
from scheduler.intake.batch.columns import title_key

if TYPE_CHECKING:
    import pandas as pd

Place = tuple[int, int]
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}

_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u202f"), " ") | dict.fromkeys(
    map(ord, "\u200b\u2060\ufeff")
)
_SAVE_AS_UTF_8 = 'Save the file again as "CSV UTF-8"'
_WRITE_VALUE = "Write the value itself"
_OTHER_KINDS = {
    b"PK\x03\x04": ("is a workbook by its content", "Name it .xlsx, or save it as CSV"),
    b"\xff\xfe": ("is UTF-16 text, not UTF-8", _SAVE_AS_UTF_8),
    b"\xfe\xff": ("is UTF-16 text, not UTF-8", _SAVE_AS_UTF_8),
}


@dataclass(frozen=True, slots=True)
class Grid:
    """The cells of one table, stripped; lines and places count from 0.

    `typed` are the cells that a workbook holds as numbers or dates, not as text: they need
    no guess how they are written. `faults` are cells that show no value.
    """

    lines: list[list[str]] = field(default_factory=list)
    typed: frozenset[Place] = frozenset()
    faults: Mapping[Place, CellFault] = field(default_factory=dict)
    separator: str = ","


class SheetFault(Exception):  # noqa: N818 - reads as the trade would say it
    """A file that cannot be read as a table at all."""

    def __init__(self, row: int | None, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.row = row
        self.reason = reason
        self.remedy = remedy


def decode(path: Path) -> str:
    """Return the file's text; UTF-8, with or without a byte order mark."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = f"cannot be read ({error.strerror})"
        raise SheetFault(None, reason, "Check the file and its permissions") from None
    for start, (reason, remedy) in _OTHER_KINDS.items():
        if raw.startswith(start):
            raise SheetFault(None, reason, remedy)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = raw.count(b"\n", 0, error.start) + 1
        reason = f"is not UTF-8 text (byte 0x{raw[error.start]:02X})"
        raise SheetFault(row, reason, _SAVE_AS_UTF_8) from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def text_grid(text: str, titles: Collection[str]) -> Grid:
    """Return the cells of a text; the separator is the one that shows most of the `titles`."""
    import pandas as pd

    # A first line "sep=;" is for the spreadsheet program alone, but it counts as a row.
    text = re.sub(r"\A\s*sep=.(?=\n|\Z)", "", text, flags=re.IGNORECASE)
    first = next((line for line in text.split("\n") if line.strip()), "")
    separator = max(SEPARATORS, key=lambda sign: _likeness(first, sign, titles))
    width = _width(text, separator)
    try:
        frame = pd.read_csv(
            io.StringIO(text),
            sep=separator,
            dtype=str,
            keep_default_na=False,
            na_filter=False,
            header=None,
            names=range(width),
            index_col=False,
            skip_blank_lines=False,
        )
    except pd.errors.EmptyDataError:
        return Grid(separator=separator)
    lines = [[clean(str(cell)) for cell in line] for line in frame.to_numpy().tolist()]
    return Grid(lines, separator=separator)


def sheet_names(path: Path) -> list[str]:
    """Return the names of a workbook's sheets, in their order."""
    try:
        with _quietly(), _workbook(path, values=True) as book:
            return [str(name) for name in book.sheet_names]
    except Exception as error:
        raise _broken(error) from error


def workbook_grid(path: Path, sheet: str) -> Grid:
    """Return the cells of a workbook's sheet: of formulas the values that were last shown."""
    try:
        with _quietly():
            shown = _raw_lines(path, sheet, values=True)
            # Reading again for the formulas takes as long as the reading itself.
            behind = _raw_lines(path, sheet, values=False) if _has_formulas(path) else shown
    except Exception as error:
        raise _broken(error) from error
    # Programs keep the values of all formulas or of none; with some there, "" is a value.
    reckoned = any(
        _formula(cell) and value != ""
        for line, values in zip(behind, shown, strict=False)
        for cell, value in zip(line, values, strict=False)
    )
    lines: list[list[str]] = []
    typed: set[Place] = set()
    faults: dict[Place, CellFault] = {}
    for at, line in enumerate(behind):
        values = shown[at] if at < len(shown) else []
        values = values + [""] * (len(line) - len(values))
        lines.append([_text_of(value) for value in values])
        for place, value in enumerate(values):
            if isinstance(value, float) and value != value:
                lines[at][place] = "#"
                faults[at, place] = CellFault("shows an error of the spreadsheet", _WRITE_VALUE)
            elif value == "" and _formula(line[place]) and not reckoned:
                lines[at][place] = _formula(line[place])
                remedy = f"Open the workbook and save it again, or {_WRITE_VALUE.lower()}"
                faults[at, place] = CellFault("is a formula that has no value yet", remedy)
            elif not isinstance(value, str):
                typed.add((at, place))
    return Grid(lines, frozenset(typed), faults)


def clean(text: str) -> str:
    """Return a cell's text without what nobody sees: stray and non-breaking spaces."""
    return text.translate(_SPACES).strip()


def _likeness(line: str, separator: str, titles: Collection[str]) -> tuple[int, int]:
    cells = next(csv.reader([line], delimiter=separator), [])
    return sum(title_key(cell) in titles for cell in cells), len(cells)


def _width(text: str, separator: str) -> int:
    """Return the number of cells in the widest line.

    pandas takes its width from the first line and refuses or cuts longer ones, and it names
    no row for a quotation mark that is never closed; the csv module tells both.
    """
    reader = csv.reader(io.StringIO(text), delimiter=separator, strict=True)
    width = lines = 0
    try:
        for line in reader:
            width = max(width, len(line))
            lines += 1
    except csv.Error as error:
        raise SheetFault(
            lines + 1,
            f"has a quotation mark that does not close its cell, or a cell too long ({error})",
            'Close the cell with ", and write "" for a quotation mark inside it',
        ) from None
    return width


def _workbook(path: Path, *, values: bool) -> pd.ExcelFile:
    import pandas as pd

    return pd.ExcelFile(path, engine="openpyxl", engine_kwargs={"data_only": values})


def _raw_lines(path: Path, sheet: str, *, values: bool) -> list[list[Any]]:
    import pandas as pd

    with _workbook(path, values=values) as book:
        frame = pd.read_excel(
            book,
            sheet_name=sheet,
            header=None,
            dtype=object,
            keep_default_na=False,
            na_filter=False,
        )
    found: list[list[Any]] = frame.to_numpy(dtype=object).tolist()
    return found


def _formula(cell: object) -> str:
    """Return a cell's formula, "" for a value."""
    text = getattr(cell, "text", cell)
    return text if isinstance(text, str) and text.startswith("=") else ""


def _has_formulas(path: Path) -> bool:
    with zipfile.ZipFile(path) as archive:
        return any(
            re.search(rb"<(\w+:)?f[ />]", archive.read(name))
            for name in archive.namelist()
            if "worksheets/" in name
        )


def _quietly() -> warnings.catch_warnings[None]:
    # What a workbook holds beside its cells (styles, validations) is no concern of a batch.
    return warnings.catch_warnings(action="ignore", category=UserWarning)


def _broken(error: Exception) -> SheetFault:
    # A damaged archive makes the reader raise anything, from KeyError to a fault of its XML.
    reason = f"is not a workbook that can be read ({type(error).__name__})"
    return SheetFault(None, reason, "Save it again as .xlsx without a password, or as CSV")


def _text_of(value: object) -> str:
    """Return a cell's value as one would type it: a decimal point, ISO dates and times."""
    if isinstance(value, datetime):
        second = (value + timedelta(microseconds=500_000)).replace(microsecond=0)
        if second.time() == time():
            return second.date().isoformat()
        return second.isoformat(timespec="seconds" if second.second else "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.isoformat(timespec="minutes")
    if isinstance(value, float) and value == value and abs(value) != float("inf"):
        # A spreadsheet holds and shows 15 digits; the 16th and 17th are noise of the sum.
        return f"{Decimal(f'{value:.15g}'):f}"
    return clean(str(value).replace("\r\n", "\n").replace("\r", "\n"))
