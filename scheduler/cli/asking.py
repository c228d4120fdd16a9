"""What a file leaves open: asked one by one on a terminal, or answered beforehand by a script."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import say_problem
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from scheduler.intake.asking import Option, Question

_OPTIONS_IN_LINES = 8
_STOP = "stop"


def ask_each(questions: Iterable[Question]) -> dict[str, str]:
    """Ask one question after the other; return the answers by key. Raises BadInput for "stop"."""
    answers: dict[str, str] = {}
    said: tuple[Option, ...] = ()
    for question in questions:
        answers[question.full_key] = _ask(question, tell=question.options != said)
        said = question.options
    return answers


def _ask(question: Question, *, tell: bool) -> str:
    where = f"{question.file}: " if question.file else ""
    say_problem(where + question.text + (f" (row {question.row})" if question.row else ""))
    if tell:
        _say_options(question.options)
    words = [option.answer for option in question.options]
    answer: str = click.prompt(
        "Which",
        type=click.Choice([*words, _STOP], case_sensitive=False),
        default=question.likely,
        show_choices=len(words) <= _OPTIONS_IN_LINES,
        err=True,
    )
    if answer == _STOP:
        raise BadInput("stopped: nothing was recorded")
    return answer


def _say_options(options: Sequence[Option]) -> None:
    if len(options) <= _OPTIONS_IN_LINES:
        for option in options:
            say_problem(f"  {option.answer}: {option.means}")
    else:
        say_problem("  " + ", ".join(f"{o.answer} ({o.means})" for o in options))


def given_answers(answers: Sequence[str]) -> dict[str, str]:
    """Return what --answer said, by key. Raises BadInput for what is no answer."""
    found = {}
    for answer in answers:
        key, sign, word = answer.rpartition("=")
        if not sign:
            raise BadInput(
                f"--answer {answer!r} is not understood. Write it as --answer dates=day-first"
            )
        found[key.strip()] = word.strip()
    return found
