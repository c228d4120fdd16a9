"""`wingrest air`: the air of a room, read off a dial."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.rooms import read_dial


# A cold attic is -3: not an option.
@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("room", metavar="ROOM")
@click.argument("rh", metavar="RH")
@click.argument("temp", metavar="[TEMP]", required=False)
@at_option
@click.pass_obj
def command(desk: Desk, room: str, rh: str, temp: str | None, at: str | None) -> None:
    """Record the air of a room, read off a dial.

    For example: air attic 68 19. RH is the relative humidity in %, TEMP the temperature in
    deg C.
    """
    with recording(desk, at) as (store, when):
        outcome = read_dial(store, desk.rules(), room, rh, temp, when)
    say_outcome(outcome)
