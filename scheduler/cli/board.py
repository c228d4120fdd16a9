"""`wingrest board`: a board out of use or back, and where it may be refilled."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.rooms import set_board
from scheduler.words.records import REFILLS, Refill


@click.command()
@click.argument("board", metavar="BOARD")
@click.argument("state", type=click.Choice(("out", "in")), required=False, metavar="[out|in]")
@click.option(
    "--refill",
    type=click.Choice(REFILLS),
    help="Where new ones may join: anywhere, right of all others, or not until it is empty.",
)
@at_option
@click.pass_obj
def command(
    desk: Desk, board: str, state: str | None, refill: Refill | None, at: str | None
) -> None:
    """Take a board out of use, or back; say where it may be refilled.

    For example: board B9 out. Nothing is planned on a board that is out; what stands on it
    stays.
    """
    out = None if state is None else state == "out"
    with recording(desk, at) as (store, when):
        outcome = set_board(store, board, out=out, refill=refill, when=when)
    say_outcome(outcome)
