"""`wingrest readings`: a humidity logger's file."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from scheduler.cli.asking import ask_each, given_answers
from scheduler.cli.desk import Desk, asked_by_a_person, say_outcome, say_problem
from scheduler.cli.recording import recording
from scheduler.words import wording
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from scheduler.looks.logger_file import ReadFile

Look = Callable[[Mapping[str, str]], "ReadFile"]


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--room", required=True, help="The room in which the logger hangs.")
@click.option("--logger", metavar="NAME", help="Its name, where a room has several.")
@click.option(
    "--dates",
    type=click.Choice(["day-first", "month-first", "year-first"]),
    help="What 8/5/2027 means, where the file does not show it.",
)
@click.option(
    "--decimal",
    type=click.Choice(["comma", "point"]),
    help="The decimal sign; a number with the other one is then not read.",
)
@click.option("--unit", type=click.Choice(["C", "F", "cell"]), help="The unit of the temperatures.")
@click.option(
    "--utc-offset",
    metavar="+HH:MM",
    help="How far ahead of UTC the logger's clock stands, if all year.",
)
@click.option(
    "--answer",
    "answers",
    metavar="KEY=WORD",
    multiple=True,
    help="Answer what would be asked; may be given several times.",
)
@click.option("--yes", is_flag=True, help="Record it without asking, if no question is open.")
@click.pass_obj
def command(
    desk: Desk,
    /,
    file: Path,
    room: str,
    logger: str | None,
    utc_offset: str | None,
    answers: tuple[str, ...],
    yes: bool,
    **settled: str | None,
) -> None:
    """Record a humidity logger's file.

    CSV, XLSX, XLS or ODS, as loggers write them. Shows what was understood before anything is
    recorded, and asks what the file does not tell. Impossible values are listed with their rows and
    left out. A corrected file replaces what the same logger said for the time it covers. You are
    told whose dates the measured air moves.
    """
    from scheduler.deeds.reading_file import read_file
    from scheduler.deeds.readings import record_file
    from scheduler.intake.readings import LoggerManner

    given = given_answers(answers) | {key: answer for key, answer in settled.items() if answer}
    offset_min = _minutes(utc_offset)
    with recording(desk, None) as (store, when):
        rules = desk.rules()

        def look(told: Mapping[str, str]) -> ReadFile:
            manner = LoggerManner(told, offset_min)
            with _Bar(file.name) as done:
                return read_file(store, rules, file, room, manner, when.now, logger, done)

        shown = _settled(look, given, when.now)
        if not shown.tally.changes:
            click.echo(f"{shown.room.room}: 0 new readings, all known already: nothing to record")
            return
        _confirm(shown, yes=yes)
        outcome = record_file(store, rules, shown, when)
    say_outcome(outcome)


def _settled(look: Look, answers: dict[str, str], today: date) -> ReadFile:
    """Look at a file and show it until nothing is open. Raises BadInput in a script."""
    shown = look(answers)
    _show(shown, today)
    while shown.questions:
        if not asked_by_a_person():
            for question in shown.questions:
                say_problem(f"to be answered: {question}")
            raise BadInput(
                f"nothing was recorded: {wording.counted(len(shown.questions), 'question')} to be"
                " answered, with --answer KEY=WORD"
            )
        answers |= ask_each(shown.questions)
        shown = look(answers)
        _show(shown, today)
    return shown


def _show(shown: ReadFile, today: date) -> None:
    from scheduler.faces.readings import preview_lines, record_lines

    assert shown.found.preview is not None
    for line in (*preview_lines(shown.found.preview), *record_lines(shown, today)):
        click.echo(line)


def _confirm(shown: ReadFile, *, yes: bool) -> None:
    if yes:
        return
    if not asked_by_a_person():
        raise BadInput("nothing was recorded: this is what would be. Give --yes to record it")
    if not click.confirm(f"Record it in {shown.room.room}?", err=True):
        raise BadInput("nothing was recorded")


class _Bar:
    """A bar on a terminal that shows how much of a file is read; elsewhere it does nothing."""

    def __init__(self, name: str) -> None:
        self._bar = None
        if sys.stderr.isatty():
            self._bar = click.progressbar(length=100, label=name, file=sys.stderr)

    def __enter__(self) -> Callable[[float], None] | None:
        if self._bar is None:
            return None
        bar = self._bar.__enter__()
        return lambda done: bar.update(max(0, round(100 * done) - bar.pos))

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.__exit__(None, None, None)


def _minutes(text: str | None) -> int | None:
    if text is None:
        return None
    found = re.fullmatch(r"([+-])(\d{1,2}):?([0-5]\d)", text)
    if found is None:
        raise BadInput(f"--utc-offset {text!r} is no offset. Write it as +01:00")
    minutes = 60 * int(found[2]) + int(found[3])
    return -minutes if found[1] == "-" else minutes
