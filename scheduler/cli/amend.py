"""`wingrest amend`: correct what is recorded."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.amend import amend


@click.command()
@click.argument("name", metavar="ID")
@click.argument("corrections", nargs=-1, metavar="COLUMN=VALUE...")
@click.pass_obj
def command(desk: Desk, name: str, corrections: tuple[str, ...]) -> None:
    """Correct what is recorded: a date, a size, a slot, a start.

    For example: amend M-14 wingspan_mm=62 mounted=2027-05-07T10:00. The columns are those of the
    tables you load; for what stands on a board, also mounted, board, from_mm and to_mm. An empty
    value clears the cell: spoils_by=
    """
    with recording(desk, None) as (store, when):
        outcome = amend(store, desk.rules(), name, corrections, when)
    say_outcome(outcome)
