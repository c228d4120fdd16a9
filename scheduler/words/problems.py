"""What can be wrong with what a person gave us, and how the program says so.

Bad input is reported as a flat list of `Problem`s, all at once. Everything else that
stops a command is a `WingrestError`; each carries its exit status, and its last
sentence is the way out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault in a file: where it stands, what was read, why it is wrong, what to do.

    `row` counts as a spreadsheet does (the header is row 1); None means the whole file.
    """

    file: str
    row: int | None
    column: str | None
    value: str | None
    reason: str
    remedy: str

    def __str__(self) -> str:
        place = self.file
        if self.row is not None:
            place += f", row {self.row}"
        if self.column is not None:
            place += f", {self.column}"
        read = f" (read: {self.value!r})" if self.value is not None else ""
        return f"{place}: {self.reason}{read}. {self.remedy}"


class WingrestError(Exception):
    """Anything that stops a command; `status` is its exit status."""

    status = 70


class BadInput(WingrestError):  # noqa: N818 - reads as the trade would say it
    """Files or words that cannot be used (exit status 2); nothing was changed."""

    status = 2

    def __init__(self, message: str, problems: Iterable[Problem] = ()) -> None:
        super().__init__(message)
        self.problems = tuple(problems)


class Refused(WingrestError):  # noqa: N818
    """A command that would lose or contradict something recorded (exit status 3)."""

    status = 3


class RecordBusy(WingrestError):  # noqa: N818
    """The record is locked by another command, or cannot be read (exit status 4)."""

    status = 4


class RecordDamaged(RecordBusy):
    """The record holds what cannot be trusted (exit status 4); it is left as it is."""
