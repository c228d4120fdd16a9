"""`wingrest drooped`: what shows only weeks later."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.droop import drooped


@click.command()
@click.argument("specimen", metavar="SPECIMEN")
@click.argument("note", nargs=-1, metavar="[NOTE]...")
@at_option
@click.pass_obj
def command(desk: Desk, specimen: str, note: tuple[str, ...], at: str | None) -> None:
    """Record that a wing sank after its specimen had come off.

    For example: drooped M-14 left forewing. How dry the specimen was believed to be when it came
    off is kept with it, so that you can judge the dates of its room.
    """
    with recording(desk, at) as (store, when):
        outcome = drooped(store, specimen, " ".join(note), when)
    say_outcome(outcome)
