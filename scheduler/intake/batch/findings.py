"""What reading a batch brings to light, collected along the way."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from scheduler.intake.asking import Option, Question
from scheduler.intake.batch.columns import FILES, TABLES
from scheduler.words.problems import Problem

AS_READ = Option("yes", "as it was understood")

_FILE_ORDER = {file: place for place, file in enumerate(FILES)}
_COLUMN_ORDER = {
    (table.file, column.name): place
    for table in TABLES
    for place, column in enumerate(table.columns)
}


class Found(NamedTuple):
    """A problem and the table in which it is: `file` is the table's usual file name."""

    file: str
    problem: Problem


@dataclass
class Findings:
    """Problems, with which a batch is not loaded, and notes, which a person should read.

    `called` gives for a usual file name the place where the table really is, so that people find
    it. `beside` are rows that a problem elsewhere contradicts: of two rows with one id, one has the
    problem and the other stands beside it. `questions` are about what was understood but needs a
    person's word, and about what cannot be understood without one.
    """

    found: list[Found] = field(default_factory=list)
    beside: list[Found] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    called: dict[str, str] = field(default_factory=dict)
    questions: list[Question] = field(default_factory=list)

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
        problem = Problem(self.name(file), row, column, value, reason, remedy)
        self.found.append(Found(file, problem))

    def stands_beside(self, file: str, row: int, column: str, reason: str, remedy: str) -> None:
        """Add a row that contradicts a row with a problem."""
        problem = Problem(self.name(file), row, column, None, reason, remedy)
        self.beside.append(Found(file, problem))

    def note(self, text: str, file: str | None = None, row: int | None = None) -> None:
        """Add one note, on a table and a row of it if they are given."""
        place = "" if file is None else self.name(file)
        place += "" if row is None else f", row {row}"
        self.notes.append(f"{place}: {text}" if place else text)

    def ask(
        self,
        file: str,
        key: str,
        text: str,
        options: Sequence[Option] = (AS_READ,),
        likely: str | None = AS_READ.answer,
    ) -> None:
        """Add a question; by default it asks a person to agree to what was understood."""
        found = Question(key, text, tuple(options), None, self.name(file), likely)
        self.questions.append(found)

    def ask_once(self, file: str, key: str, texts: Sequence[str]) -> None:
        """Add one question about many cells of one kind, with the first as an example."""
        self.ask(file, key, first_of(texts))

    def name(self, file: str) -> str:
        """Return where the table with that usual file name really is."""
        return self.called.get(file, file)

    def copy(self) -> Findings:
        """Return a copy of the findings that can be added to separately."""
        return Findings(
            [*self.found], [*self.beside], [*self.notes], {**self.called}, [*self.questions]
        )

    def become(self, other: Findings) -> None:
        """Take over everything that other findings hold."""
        self.found, self.beside, self.notes = other.found, other.beside, other.notes
        self.called, self.questions = other.called, other.questions

    @property
    def problems(self) -> list[Problem]:
        """Return all problems by file, row and column."""
        return [found.problem for found in by_place(self.found)]


def by_place(found: Iterable[Found]) -> list[Found]:
    """Return problems by file, row and column."""
    return sorted(found, key=_place)


def closest(word: str, choices: Iterable[str]) -> str | None:
    """Return the choice that `word` was probably meant to be, None when none is near."""
    by_fold = {choice.casefold(): choice for choice in choices}
    near = difflib.get_close_matches(word.casefold(), by_fold, n=1, cutoff=0.7)
    return by_fold[near[0]] if near else None


def did_you_mean(word: str, choices: Iterable[str]) -> str:
    """Return `; did you mean ...?`, or "" when no choice is near."""
    near = closest(word, choices)
    return f'; did you mean "{near}"?' if near else ""


def _place(found: Found) -> tuple[int, int, int]:
    file, problem = found
    return (
        _FILE_ORDER.get(file, -1),
        problem.row or 0,
        _COLUMN_ORDER.get((file, problem.column or ""), -1),
    )


def first_of(texts: Sequence[str]) -> str:
    """Return the first of some texts, and how many more there are."""
    return texts[0] + (f" (and {len(texts) - 1} more)" if len(texts) > 1 else "")
