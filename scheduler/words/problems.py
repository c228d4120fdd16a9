"""What can be wrong with what a person gave us, and how the program says so.

Bad input is reported as a flat list of `Problem`s, all at once. Everything that stops a
command is a `WingrestError`; each carries its exit status, and its last sentence says
what to do.
"""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.words.tuples import NamedTuple

_MOST_RUNS = 24
"""The most runs of rows named for one fault: nobody reads more of them before mending it."""


class Problem(NamedTuple):
    """One fault in a file: where it stands, what was read, why it is wrong, what to do.

    `row` counts as a spreadsheet does (the header is row 1); None means the whole file.
    `also` are further rows with the same fault.
    """

    file: str
    row: int | None
    column: str | None
    value: str | None
    reason: str
    remedy: str
    also: tuple[int, ...] = ()

    def __str__(self) -> str:
        place = self.file
        if self.also:
            place += f", rows {_runs((self.row or 0, *self.also))}"
        elif self.row is not None:
            place += f", row {self.row}"
        if self.column is not None:
            place += f", {self.column}"
        read = f" (read: {self.value!r})" if self.value is not None else ""
        return f"{place}: {self.reason}{read}. {self.remedy}"


def by_kind_of_fault(problems: Iterable[Problem]) -> list[Problem]:
    """Return problems with those of one kind in one column of a file merged, with all rows."""
    kinds: dict[tuple[str, str | None, str, str], list[Problem]] = {}
    for p in problems:
        kinds.setdefault((p.file, p.column, p.reason, p.remedy), []).append(p)
    found = []
    for same in kinds.values():
        values = list(dict.fromkeys(p.value for p in same if p.value is not None))
        shown = ", ".join(values[:3]) + (f" and {len(values) - 3} more" if len(values) > 3 else "")
        rows = sorted({p.row for p in same if p.row is not None})
        if len(rows) > 1:
            first = same[0]._replace(row=rows[0], value=shown or None, also=tuple(rows[1:]))
            found.append(first)
        else:
            found += same
    return found


def _runs(rows: tuple[int, ...]) -> str:
    """Return rows as "3, 5-9 and 12"; of very many, the first runs and how many more there are."""
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    shown, more = runs[:_MOST_RUNS], sum(map(len, runs[_MOST_RUNS:]))
    said = [f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in shown]
    if more:
        said.append(f"{more:,} more")
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


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
    """The record holds data that cannot be trusted (exit status 4); its file is left as it is."""
