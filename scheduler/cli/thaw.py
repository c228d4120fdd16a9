"""`wingrest thaw`: record what was taken out to lie in ordinary air."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.chamber import thaw


@click.command()
@click.argument("specimens", nargs=-1, required=True, metavar="SPECIMEN...")
@at_option
@click.pass_obj
def command(desk: Desk, specimens: tuple[str, ...], at: str | None) -> None:
    """Record what was taken out to lie in ordinary air.

    It came out of the cold or out of the chamber. You are told by when it must be mounted.
    """
    with recording(desk, at) as (store, when):
        outcome = thaw(store, desk.rules(), specimens, when)
    say_outcome(outcome)
