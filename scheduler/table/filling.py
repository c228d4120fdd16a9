"""From a sheet's cells, as they come one by one, to a grid."""

from __future__ import annotations

from scheduler.table.grid import MOST_COLUMNS, CellPlace, CellValue, Grid, NoValue, TableFault

MOST_FILLED_CELLS = 240_000
MOST_SHEETS = 100

NOT_RECKONED = NoValue(
    "is a formula that has no value yet",
    "Open the workbook and save it again, or write the value itself",
)
SHOWS_ERROR = NoValue("shows an error of the spreadsheet", "Write the value itself")
NO_DATE = NoValue("is a number that its format shows as no day", "Write the value itself")


class Filling:
    """The cells of one sheet while it is read."""

    def __init__(self) -> None:
        self.units: dict[CellPlace, str] = {}
        self.faults: dict[CellPlace, NoValue] = {}
        self._lines: list[list[str]] = []
        self._values: list[list[CellValue | None]] = []

    def put(self, at: int, place: int, text: str, value: CellValue | None) -> None:
        """Enter one cell unless its text is empty; raise TableFault beyond `MOST_COLUMNS`."""
        if not text:
            return
        if place >= MOST_COLUMNS:
            reason = f"has cells beyond column {MOST_COLUMNS}"
            raise TableFault(at + 1, reason, "Give a table of fewer columns")
        while len(self._lines) <= at:
            self._lines.append([])
            self._values.append([])
        line, values = self._lines[at], self._values[at]
        missing = place + 1 - len(line)
        if missing > 0:
            line += [""] * missing
            values += [None] * missing
        line[place], values[place] = text, value

    def put_fault(self, at: int, place: int, text: str, fault: NoValue) -> None:
        """Enter a cell that shows no value."""
        self.put(at, place, text, None)
        self.faults[at, place] = fault

    def grid(
        self, sheet: str, merged: tuple[tuple[int, int, int, int], ...], *, hidden: bool
    ) -> Grid:
        """Return what was read."""
        return Grid(
            self._lines, self._values, self.units, self.faults, merged, sheet=sheet, hidden=hidden
        )
