"""`wingrest room`: a new room, and the air that is assumed in it."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.places import ROOM_OPTIONS, put_room
from scheduler.words.records import REGIMES

_COLUMNS = {option[2:]: column for column, option in ROOM_OPTIONS.items()}


@click.command()
@click.argument("room", metavar="ROOM")
@click.option("--rh", metavar="PERCENT", help="The humidity assumed where nobody has read it.")
@click.option("--temp", metavar="CELSIUS", help="The temperature assumed where nobody has read it.")
@click.option(
    "--regime",
    type=click.Choice(REGIMES),
    help="An ordinary room, a box with a drying agent, or a warm cabinet.",
)
@at_option
@click.pass_obj
def command(desk: Desk, /, room: str, at: str | None, **air: str | None) -> None:
    """Record a new room and the air assumed there, or change what is assumed.

    For example: room study --rh 52 --temp 20. What a dial or a logger says counts for more:
    wingrest air, wingrest readings. Warm cabinets: 30-40 deg C, vented and watched, nothing
    flammable inside.
    """
    given = {_COLUMNS[name]: text for name, text in air.items() if text is not None}
    with recording(desk, at) as (store, when):
        outcome = put_room(store, desk.rules(), room, given, when)
    say_outcome(outcome)
