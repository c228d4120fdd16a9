"""`wingrest away`: days off."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, say_outcome
from scheduler.cli.recording import recording


@click.command()
@click.argument("first", metavar="FROM")
@click.argument("last", metavar="TO")
@click.pass_obj
def command(desk: Desk, first: str, last: str) -> None:
    """Record days off, both included: no session is planned in them.

    For example: away 2027-07-10 2027-07-24. What falls due meanwhile is asked for on the first
    day back; what must leave the chamber, or go into the cold, before you go is said here, in
    `today`, and on the day before in the calendar. `undo` takes the days back.
    """
    from scheduler.deeds.away import set_away

    with recording(desk, None) as (store, when):
        outcome = set_away(store, desk.rules(), first, last, when)
    say_outcome(outcome)
