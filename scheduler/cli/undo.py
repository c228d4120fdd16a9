"""`wingrest undo`: take back a line of the journal."""

from __future__ import annotations

import sys

import click

from scheduler.cli.desk import Desk, say_outcome, say_problem
from scheduler.cli.recording import recording
from scheduler.deeds.undo import AskFirst, undo
from scheduler.words.problems import Refused


@click.command()
@click.argument("line", type=int, required=False)
@click.option(
    "--yes",
    is_flag=True,
    help="Take it back even if another person recorded it, or if it is a whole load.",
)
@click.pass_obj
def command(desk: Desk, line: int | None, yes: bool) -> None:
    """Take back a line of the journal.

    Without a number it is your latest line that still stands. You are asked before it takes back
    what another person recorded, or a whole load. Nothing is erased: taking back is a line of its
    own, and can be taken back by its number.
    """
    rules = desk.rules()
    with recording(desk, None) as (store, when):
        try:
            outcome = undo(store, rules, line, when, sure=yes)
        except AskFirst as ask:
            if not (sys.stdin.isatty() and sys.stdout.isatty()):
                raise Refused(f"{ask}. If it is meant: wingrest undo {ask.line} --yes") from ask
            say_problem(str(ask))
            if not click.confirm("Take it back?"):
                raise click.Abort from ask
            outcome = undo(store, rules, ask.line, when, sure=True)
    say_outcome(outcome)
