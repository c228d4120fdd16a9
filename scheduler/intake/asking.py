"""What a file leaves open, asked rather than guessed; scripts give the answers beforehand.

A question has a short key and the answers that it takes, so that a terminal, a form on the page
and an option of a script all answer the same one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple


class Option(NamedTuple):
    """One answer: the word for scripts, and what it means."""

    answer: str
    means: str


@dataclass(frozen=True, slots=True)
class Question:
    """What a file does not tell; `row` is where it shows, counted as a spreadsheet does."""

    key: str
    text: str
    options: tuple[Option, ...]
    row: int | None = None

    def __str__(self) -> str:
        answers = ", or ".join(f"{option.answer} ({option.means})" for option in self.options)
        where = f" (row {self.row})" if self.row is not None else ""
        end = "" if self.text.endswith("?") else "."
        return f"{self.text}{where}{end} Answer {self.key}={answers}"


class Asking:
    """The answers given so far, and the questions that are left."""

    def __init__(self, answers: Mapping[str, str]) -> None:
        self._answers = dict(answers)
        self._open: dict[str, Question] = {}

    @property
    def questions(self) -> tuple[Question, ...]:
        """Return what is still to be asked."""
        return tuple(self._open.values())

    def given(self, key: str) -> str | None:
        """Return an answer that was given, None without one."""
        return self._answers.get(key)

    def ask(self, key: str, text: str, options: Sequence[Option], row: int | None = None) -> str:
        """Return the answer given; without a fitting one, ask, and return the first option."""
        answer = self._answers.get(key)
        if answer is not None:
            fitting = [o.answer for o in options if o.answer.casefold() == answer.casefold()]
            if fitting:
                return fitting[0]
        self._open.setdefault(key, Question(key, text, tuple(options), row))
        return options[0].answer
