"""`wingrest bag`: dry specimens into the freezer, before the cabinet."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.bag import bag


@click.command()
@click.argument("names", nargs=-1, metavar="[SPECIMEN|LOT]...")
@at_option
@click.pass_obj
def command(desk: Desk, names: tuple[str, ...], at: str | None) -> None:
    """Record what was bagged dry and frozen against pests, before the cabinet.

    Without a name it means all that came off and was in no bag yet. You are told until when the bag
    stays shut; the calendar tells you too.
    """
    with recording(desk, at) as (store, when):
        outcome = bag(store, desk.rules(), names, when)
    say_outcome(outcome)
