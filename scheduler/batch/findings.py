"""What reading a batch brings to light, collected as it goes."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from scheduler.batch.columns import FILES, TABLES
from scheduler.problems import Problem

_FILE_ORDER = {file: place for place, file in enumerate(FILES)}
_COLUMN_ORDER = {
    (table.file, column.name): place
    for table in TABLES
    for place, column in enumerate(table.columns)
}


class Findings:
    """Problems, which refuse the batch, and notes, which a person should read."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []
        self.notes: list[str] = []

    def problem(
        self,
        file: str,
        row: int | None,
        column: str | None,
        value: str | None,
        reason: str,
        remedy: str,
    ) -> None:
        """Add one problem."""
        self._problems.append(Problem(file, row, column, value, reason, remedy))

    def note(self, text: str) -> None:
        """Add one note."""
        self.notes.append(text)

    @property
    def problems(self) -> list[Problem]:
        """Return all problems by file, row and column."""
        return sorted(self._problems, key=_place)


def closest(word: str, choices: Iterable[str]) -> str | None:
    """Return the choice that `word` was probably meant to be, None when none is near."""
    by_fold = {choice.casefold(): choice for choice in choices}
    near = difflib.get_close_matches(word.casefold(), by_fold, n=1, cutoff=0.7)
    return by_fold[near[0]] if near else None


def did_you_mean(word: str, choices: Iterable[str]) -> str:
    """Return `; did you mean ...?`, or nothing when no choice is near."""
    near = closest(word, choices)
    return f'; did you mean "{near}"?' if near else ""


def _place(problem: Problem) -> tuple[int, int, int]:
    return (
        _FILE_ORDER.get(problem.file, -1),
        problem.row or 0,
        _COLUMN_ORDER.get((problem.file, problem.column or ""), -1),
    )
