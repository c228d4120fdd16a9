"""`wingrest away`: days off."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, say_outcome
from scheduler.cli.recording import recording


@click.command()
@click.argument("first", metavar="FROM")
@click.argument("last", metavar="TO")
@click.option("--who", metavar="NAME", help="Only this person is away: see session --who.")
@click.option("--there", is_flag=True, help="You are there after all: FROM to TO are no days off.")
@click.pass_obj
def command(desk: Desk, first: str, last: str, who: str | None, there: bool) -> None:
    """Record days off, first and last included: no session is planned on them.

    For example: away 2027-07-10 2027-07-24. What falls due meanwhile is asked for on the first day
    back. What must leave the chamber or go into the cold before you go is named here, in `today`,
    and in the calendar on the day before. If you come back sooner, or do not go at all, away
    2027-07-18 2027-07-24 --there takes those days back and leaves the others.
    """
    from scheduler.deeds.away import set_away, set_there

    record = set_there if there else set_away
    with recording(desk, None) as (store, when):
        outcome = record(store, desk.rules(), first, last, who, when)
    say_outcome(outcome)
