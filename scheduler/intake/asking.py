"""What a file leaves open is asked, not guessed; scripts give the answers beforehand.

A question has a short key and the answers that it takes, so that a terminal, a form on the page and
an option of a script all answer the same question. Where one answer is likely, the file was
understood that way, and a person agrees to all of these at once. A question without a likely answer
must be answered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scheduler.words.problems import Problem

OPTIONS_SHOWN = 8
"""So many answers are named in a line."""


class Option(NamedTuple):
    """One answer: the word for scripts, and what it means."""

    answer: str
    means: str


@dataclass(frozen=True, slots=True)
class Question:
    """What a file does not tell; `row` is where this shows, counted as a spreadsheet does.

    `file` is the name of one of several files, "" for a single one. `likely` is the answer that was
    understood, None where there is none. `must_say`: agreeing to everything does not answer it.
    """

    key: str
    text: str
    options: tuple[Option, ...]
    row: int | None = None
    file: str = ""
    likely: str | None = None
    must_say: bool = False

    @property
    def open(self) -> bool:
        """Say whether somebody must answer it: agreeing to everything is not enough."""
        return self.likely is None or self.must_say

    @property
    def full_key(self) -> str:
        """Return the key that answers the question for this file alone."""
        return f"{self.file}:{self.key}" if self.file else self.key

    def as_problem(self) -> Problem:
        """Return the problem that keeps the file out until the question is answered."""
        words = " or ".join(option.answer for option in self.options[:OPTIONS_SHOWN])
        more = " ..." if len(self.options) > OPTIONS_SHOWN else ""
        if self.key in ("dates", "decimal"):
            words = " or ".join(f"--{self.key} {option.answer}" for option in self.options)
            alone = f"--answer {_quoted(self.full_key)}=WORD"
            remedy = f"Say which with {words}; of this file alone with {alone}"
            return Problem(self.file, self.row, None, None, self.text, remedy)
        remedy = f"Answer it with --answer {_quoted(self.full_key)}=WORD: {words}{more}"
        return Problem(self.file, self.row, None, None, self.text.rstrip("?"), remedy)

    def __str__(self) -> str:
        answers = ", or ".join(f"{option.answer} ({option.means})" for option in self.options)
        where = f" (row {self.row})" if self.row is not None else ""
        end = "" if self.text.endswith("?") else "."
        return f"{self.text}{where}{end} Answer {self.full_key}={answers}"


def _quoted(key: str) -> str:
    return f"'{key}'" if " " in key else key


def of_file(answers: Mapping[str, str], file: str) -> dict[str, str]:
    """Return the answers for one file by their short keys; its own go before those for all."""
    lead = f"{file}:"
    own = {key.removeprefix(lead): said for key, said in answers.items() if key.startswith(lead)}
    return {**answers, **own}


class Asking:
    """The answers given so far, and the questions that are left."""

    def __init__(self, answers: Mapping[str, str]) -> None:
        self._answers = dict(answers)
        self._open: dict[str, Question] = {}

    @property
    def questions(self) -> tuple[Question, ...]:
        """Return the questions that are still open."""
        return tuple(self._open.values())

    def given(self, key: str) -> str | None:
        """Return an answer that was given, None without one."""
        return self._answers.get(key)

    def ask(self, key: str, text: str, options: Sequence[Option], row: int | None = None) -> str:
        """Return the answer given; if none fits, ask, and return the first option for now."""
        answer = self._answers.get(key)
        if answer is not None:
            fitting = [o.answer for o in options if o.answer.casefold() == answer.casefold()]
            if fitting:
                return fitting[0]
        self._open.setdefault(key, Question(key, text, tuple(options), row))
        return options[0].answer
