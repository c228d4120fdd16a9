"""`wingrest release`: record what was taken off."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.release import release


@click.command()
@click.argument("names", nargs=-1, required=True, metavar="(BOARD|SPECIMEN)...")
@click.option("--early", metavar="REASON", help="Take off what is not due, and why.")
@at_option
@click.pass_obj
def command(desk: Desk, names: tuple[str, ...], early: str | None, at: str | None) -> None:
    """Record what was taken off its board.

    From a board, what is due or was tested stiff comes off, and the rest is listed. Take off on a
    dry day; the label comes off with the specimen. Mind points: pins and blades.
    """
    with recording(desk, at) as (store, when):
        outcome = release(store, desk.rules(), names, early, when)
    say_outcome(outcome)
