"""`wingrest move`: record that a board stands in another room."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.rooms import move


@click.command()
@click.argument("board", metavar="BOARD")
@click.argument("room", metavar="ROOM")
@at_option
@click.pass_obj
def command(desk: Desk, board: str, room: str, at: str | None) -> None:
    """Record that a board stands in another room.

    It stands there from now on, or from --at on. Each part of a specimen's time counts by the room
    in which it was spent; those whose dates this moves are listed. Warm cabinets: 30-40 deg C,
    vented and watched, nothing flammable inside.
    """
    with recording(desk, at) as (store, when):
        outcome = move(store, desk.rules(), board, room, when)
    say_outcome(outcome)
