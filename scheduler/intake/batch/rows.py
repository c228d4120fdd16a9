"""A row of a table as it was read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Row:
    """One row: `text` has its filled cells as the file writes them, by column.

    `plain` has them made plain (a decimal point, ISO dates) and `values` as values; both lack what
    could not be read. `line` is the whole row, with the cells under unknown columns. `number`
    counts rows as a spreadsheet does.
    """

    number: int
    text: dict[str, str]
    plain: dict[str, str]
    values: dict[str, Any]
    line: tuple[str, ...] = ()
