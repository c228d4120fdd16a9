"""From a text to a grid; the best separator shows known titles, then the most lines alike."""

from __future__ import annotations

import contextlib
import csv
import re
from collections import Counter
from collections.abc import Iterator

from scheduler.table.encoding import decoded
from scheduler.table.grid import MOST_COLUMNS, Grid, Likes, TableFault, clean

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
MOST_CELLS = 4_000_000
MOST_LINES = 2_000_000
LONGEST_LINE = 1_000_000
_SAMPLE_LINES = 100

_SEP_LINE = re.compile(r"\A\s*sep=(.)(?=\n|\Z)", re.IGNORECASE)
_LINE = re.compile(r"[^\n]*\n|[^\n]+")


def read_text(raw: bytes, likes: Likes | None = None) -> Grid:
    """Return the cells of a text; see `read_grids`."""
    text, encoding = decoded(raw)
    # A first line "sep=;" is for the spreadsheet program alone, but it counts as a row.
    named = _SEP_LINE.search(text)
    text = text[: named.start(1) - 4] + text[named.end() :] if named else text
    told = named[1] if named and named[1] in SEPARATORS else None
    separator = told or _separator(text, likes)
    return Grid(_lines(text, separator), separator=separator, encoding=encoding)


def _separator(text: str, likes: Likes | None) -> str:
    sample = [m[0] for m, _ in zip(_LINE.finditer(text), range(_SAMPLE_LINES), strict=False)]
    return max(SEPARATORS, key=lambda sign: _likeness(sample, sign, likes))


def _likeness(sample: list[str], separator: str, likes: Likes | None) -> tuple[float, int, int]:
    """Return how well a separator fits: by the best header, then by lines of one width."""
    lines: list[list[str]] = []
    with contextlib.suppress(csv.Error):
        lines.extend(csv.reader(sample, delimiter=separator))
    header = max((likes(line) for line in lines), default=0.0) if likes else 0.0
    widths = Counter(len(line) for line in lines if len(line) > 1)
    return header, max(widths.values(), default=0), max(widths, default=0)


def _lines(text: str, separator: str) -> list[list[str]]:
    lines: list[list[str]] = []
    cells = 0
    source = _Bounded(text)
    reader = csv.reader(source, delimiter=separator, strict=True)
    plain = text.isascii()
    try:
        for line in reader:
            source.since = 0
            cells += len(line)
            if len(line) > MOST_COLUMNS:
                raise TableFault(
                    len(lines) + 1,
                    f"has {len(line)} cells in a row, more than {MOST_COLUMNS}",
                    "Give a table, one row a line",
                )
            if cells > MOST_CELLS or len(lines) >= MOST_LINES:
                reason = f"has more than {MOST_CELLS:,} cells or {MOST_LINES:,} lines"
                raise TableFault(None, reason, "Split it into several files")
            lines.append([cell.strip() for cell in line] if plain else [clean(c) for c in line])
    except csv.Error as error:
        raise TableFault(
            len(lines) + 1,
            f"has a quotation mark that does not close its cell, or a cell too long ({error})",
            'Close the cell with ", and write "" for a quotation mark inside it',
        ) from None
    return lines


class _Bounded:
    """The lines of a text one by one; a row that never ends is refused, not gathered."""

    def __init__(self, text: str) -> None:
        self.since = 0
        self._row = 0
        self._found = _LINE.finditer(text)

    def __iter__(self) -> Iterator[str]:
        for found in self._found:
            self._row += 1
            self.since += found.end() - found.start()
            if self.since > LONGEST_LINE:
                reason = f"has a row of more than {LONGEST_LINE:,} characters"
                raise TableFault(self._row, reason, "Give a table, one row a line")
            yield found[0]
