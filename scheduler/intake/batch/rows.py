"""A row of a table as it was read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its filled cells as they were read, made plain, and their values.

    `plain` and `values` lack what could not be read. `line` is the whole row, also what
    stands under unknown columns.
    """

    number: int
    text: dict[str, str]
    plain: dict[str, str]
    values: dict[str, Any]
    line: tuple[str, ...] = ()
