"""Flat rows as a CSV file or a workbook."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from datetime import datetime


def csv_text(columns: Sequence[str], rows: Sequence[Mapping[str, object]]) -> str:
    """Return rows as CSV; None gives an empty cell, and no text is read as a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow(["" if row.get(n) is None else no_formula(row[n]) for n in columns])
    return out.getvalue()


FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\0")
"""A spreadsheet takes a cell that begins with one of these for a formula.

A quote before it stops that (OWASP ASVS, requirement 1.2.10).
"""


def no_formula(value: object) -> object:
    """Return a value as a cell that is no formula to a spreadsheet; numbers may be negative."""
    if not isinstance(value, str) or not value.startswith(FORMULA_SIGNS):
        return value
    try:
        float(value)
    except ValueError:
        return f"'{value}"
    return value


def xlsx_bytes(sheet: str, columns: Sequence[str], rows: Sequence[Mapping[str, object]]) -> bytes:
    """Return rows as a workbook of one sheet; texts stay texts, whatever they begin with."""
    from openpyxl import Workbook  # type: ignore[import-untyped]
    from openpyxl.cell import WriteOnlyCell  # type: ignore[import-untyped]

    book = Workbook(write_only=True)
    made = book.create_sheet(sheet)
    made.append(list(columns))
    for row in rows:
        cells = []
        for name in columns:
            value = row.get(name)
            cell = WriteOnlyCell(made, value=value)
            if isinstance(value, str):
                cell.data_type = "s"
            cells.append(cell)
        made.append(cells)
    # Same rows, same bytes, as far as the library allows.
    book.properties.created = book.properties.modified = datetime(2000, 1, 1)  # noqa: DTZ001
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
