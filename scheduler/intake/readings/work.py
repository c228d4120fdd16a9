"""The rows of a file that hold values, while they are being read, and what is left out."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scheduler.intake.readings import values
from scheduler.intake.readings.arrays import Bools, Ints, Texts
from scheduler.intake.readings.sheet import LoggerSheet
from scheduler.words.problems import Problem

MOST_QUOTED = 40


class Work:
    """The rows that are still in, with the columns that were made from them (`carry`)."""

    def __init__(self, file: str, sheet: LoggerSheet) -> None:
        self.file = file
        self.sheet = sheet
        self.rows: Ints = sheet.rows
        self.moment: Texts = sheet.moment
        self.humidity: Texts = sheet.humidity
        self.temperature: Texts | None = sheet.temperature
        self.left_out: list[Problem] = []
        self.notes: list[str] = []
        self._left_out: set[int] = set()
        self._carried: dict[str, Ints] = {}

    @property
    def rows_left_out(self) -> int:
        """Return how many rows lost one value or all of them."""
        return len(self._left_out)

    def carry(self, **columns: Ints) -> None:
        """Keep columns beside the rows; they lose the same rows."""
        self._carried |= columns

    def carried(self, name: str) -> Ints:
        """Return a carried column as it is now."""
        return self._carried[name]

    def keep_filled(self) -> None:
        """Keep only the rows that hold any value; note the others."""
        alone = self.sheet.alone
        if alone.any():
            first = short(self.sheet.line(int(self.rows[np.flatnonzero(alone)[0]])))
            said = said_rows(int(alone.sum()))
            self.notes.append(f"{self.file}: {said} of one cell alone, not read ({first})")
            self._keep(~alone)
        has = values.filled(self.humidity)
        if self.temperature is not None:
            has |= values.filled(self.temperature)
        if not has.all():
            empty = int((~has & values.filled(self.moment)).sum())
            self._keep(has)
            if empty:
                self.notes.append(f"{self.file}: {said_rows(empty)} without values, not read")

    def count_left_out(self, rows: Ints) -> None:
        """Count as left out rows that are named elsewhere."""
        self._left_out |= set(rows.tolist())

    def leave_out(self, bad: Bools, column: str | None, reason: str, remedy: str) -> None:
        """Name the bad rows by their moment, and go on without them."""
        if bad.any():
            self.name(bad, self.moment, column, reason, remedy)
            self._keep(~bad)

    def name(self, bad: Bools, texts: Texts, column: str | None, reason: str, remedy: str) -> None:
        """Name bad cells; those in consecutive rows are named together."""
        self._left_out |= set(self.rows[bad].tolist())
        for begin, count in _runs(bad):
            row, value = int(self.rows[begin]), str(texts[begin])
            last = int(self.rows[begin + count - 1])
            more = f", in {count} rows down to row {last}" if count > 1 else ""
            self.left_out.append(
                Problem(self.file, row, column, short(value), reason + more, remedy)
            )

    def _keep(self, good: Bools) -> None:
        self.rows, self.moment = self.rows[good], self.moment[good]
        self.humidity = self.humidity[good]
        if self.temperature is not None:
            self.temperature = self.temperature[good]
        self._carried = {name: column[good] for name, column in self._carried.items()}


def _runs(bad: Bools) -> Iterator[tuple[int, int]]:
    """Yield where each run of marks begins and how long it is."""
    edges = np.flatnonzero(np.diff(bad.astype(np.int8), prepend=0, append=0))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        yield int(begin), int(end - begin)


def said_rows(count: int) -> str:
    """Return "1 row" or "3 rows"."""
    return "1 row" if count == 1 else f"{count} rows"


def short(text: str, most: int = MOST_QUOTED) -> str:
    """Return a text in a form that can be quoted, at most `most` signs long."""
    shown = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return shown if len(shown) <= most else shown[: most - 1] + "…"
