"""How many cells each row of a text has, and whether the rows agree with the header.

Cells are counted without cutting the text. A decimal comma in a file whose cells are separated by
commas shifts every cell after it. The shift shows anywhere in the file: in the count of cells, also
where the extra cells are empty, and in figures that are in a column for events.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scheduler.intake.readings.arrays import Bools, Ints
from scheduler.intake.readings.header import Columns
from scheduler.table import TableFault

_COMMAS_TWICE = "commas seem to be decimal signs, too"
EXPORT_ANEW = "Export with semicolons between the cells, or with decimal points"


@dataclass(frozen=True, slots=True)
class Lines:
    """Where the lines of a text begin and end in its bytes, and how many cells each has."""

    raw: bytes
    begins: Ints
    ends: Ints
    widths: Ints
    quoted: bool

    def text(self, line: int) -> str:
        """Return one line as the file writes it."""
        return self.raw[int(self.begins[line]) : int(self.ends[line])].decode("utf-8", "replace")

    @property
    def empty(self) -> Bools:
        """Return which lines hold nothing."""
        return np.asarray(self.begins == self.ends, dtype=bool)


def lines_of(body: str, separator: str) -> Lines:
    """Count the cells of every line; a separator in quotes does not count."""
    raw = body.encode("utf-8")
    data = np.frombuffer(raw, dtype=np.uint8)
    breaks = np.flatnonzero(data == ord("\n"))
    signs = np.flatnonzero(data == ord(separator))
    quoted = b'"' in raw
    if quoted:
        inside = np.cumsum(data == ord('"'), dtype=np.int64) % 2 == 1
        breaks, signs = breaks[~inside[breaks]], signs[~inside[signs]]
    ends = breaks if raw.endswith(b"\n") else np.append(breaks, len(raw))
    begins = np.concatenate(([0], ends[:-1] + 1)) if len(ends) else ends
    counts = np.searchsorted(signs, ends) - np.searchsorted(signs, begins)
    return Lines(raw, begins, ends, counts + 1, quoted)


def check_widths(lines: Lines, columns: Columns, separator: str, first_row: int) -> Bools:
    """Return which rows are cut short. Raises TableFault for a row with too many cells.

    All rows may lack the header's last cells, which some programs leave out; see `cut_rows`. With a
    separator other than a comma, all may end with one more cell, which is empty.
    """
    header = len(columns.titles)
    widths, filled = lines.widths, ~lines.empty
    if not filled.any():
        return np.zeros(len(widths), dtype=bool)
    usual = int(np.bincount(widths[filled]).argmax())
    most = header
    if separator != "," and usual == header + 1 and _ends_empty(lines, separator, filled, usual):
        most = usual
    wide = np.flatnonzero(filled & (widths > most))
    if wide.size:
        row, count = first_row + int(wide[0]), int(widths[wide[0]])
        told = f"has {count} cells, the header has {header}"
        if separator == ",":
            told += f": {_COMMAS_TWICE}"
        remedy = EXPORT_ANEW if separator == "," else "Close up what is too much, or export it anew"
        raise TableFault(row, f"{told} ({_counted(wide.size)} like that)", remedy)
    return cut_rows(widths, filled, header)


def cut_rows(widths: Ints, filled: Bools, header: int) -> Bools:
    """Return the rows that have fewer cells than most rows, but more than one."""
    usual = int(np.bincount(widths[filled]).argmax())
    return filled & (widths < min(usual, header)) & (widths > 1)


def _ends_empty(lines: Lines, separator: str, filled: Bools, usual: int) -> bool:
    last = lines.ends[filled & (lines.widths == usual)] - 1
    return all(lines.raw[int(at)] == ord(separator) for at in last)


def shifted_row(columns: Columns, cells: dict[int, npt.NDArray[np.object_]]) -> int | None:
    """Return the first line with figures in a cell after the readings, None without any.

    cells: those of the columns read, and those after them, which are not read. The figures count
    when some cells of that column are empty, or when most readings are whole numbers: then they may
    be the second halves of decimals.
    """
    last = max(columns.wanted)
    behind = [n for n in cells if n > last]
    at = np.flatnonzero(cells[columns.humidity] != "")
    read = [cells[n][at] for n in columns.wanted if n not in columns.times]
    for n in behind if at.size else []:
        figures = _figures(cells[n][at])
        if not figures.any():
            continue
        some_empty = bool((cells[n][at] == "").any())
        if some_empty or all(_figures(texts).mean() > 0.5 for texts in read):
            return int(at[np.flatnonzero(figures)[0]])
    return None


def _figures(texts: npt.NDArray[np.object_]) -> Bools:
    return np.fromiter((t.isascii() and t.strip().isdigit() for t in texts), bool, len(texts))


def _counted(rows: int) -> str:
    return "1 row is" if rows == 1 else f"{rows} rows are"
