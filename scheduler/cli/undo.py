"""`wingrest undo`: take back a line of the journal."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.undo import undo


@click.command()
@click.argument("line", type=int, required=False)
@click.pass_obj
def command(desk: Desk, line: int | None) -> None:
    """Take back a line of the journal.

    The latest that stands, or the one named. Nothing is erased: taking back is a line of its
    own, and can be taken back by its number.
    """
    with recording(desk, None) as (store, when):
        outcome = undo(store, line, when)
    say_outcome(outcome)
