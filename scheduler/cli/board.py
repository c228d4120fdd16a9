"""`wingrest board`: a new board, its measures, out of use or back, and where it is refilled."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.places import BOARD_OPTIONS, put_boards
from scheduler.deeds.rooms import set_board
from scheduler.words.problems import BadInput
from scheduler.words.records import REFILLS, Refill

_COLUMNS = {option[2:]: column for column, option in BOARD_OPTIONS.items()} | {"room": "room"}


@click.command()
@click.argument("board", metavar="BOARD")
@click.argument("state", type=click.Choice(("out", "in")), required=False, metavar="[out|in]")
@click.option("--groove", metavar="MM", help="How wide its groove is.")
@click.option(
    "--span", metavar="MM", help="How wide the board is, where the wings lie from tip to tip."
)
@click.option("--length", metavar="MM", help="The length of groove that can be used.")
@click.option("--room", metavar="ROOM", help="Where a new board stands.")
@click.option("--count", metavar="N", help="How many new boards that are alike: B1-1, B1-2, ...")
@click.option(
    "--refill",
    type=click.Choice(REFILLS),
    help="Where a new specimen may join others: anywhere, to the right of all, or not until it is "
    "empty.",
)
@at_option
@click.pass_obj
def command(
    desk: Desk,
    /,
    board: str,
    state: str | None,
    refill: Refill | None,
    at: str | None,
    **measures: str | None,
) -> None:
    """Record a new board, correct a board's measures, or take it out of use and back.

    For example: board B9 --groove 4 --span 80 --length 350 --room study. To take
    it out of use, board B9 out: nothing is planned on it, and what stands on it stays.
    """
    given = {_COLUMNS[name]: text for name, text in measures.items() if text is not None}
    if given and state is not None:
        raise BadInput(f"one thing at a time: {state}, or what it measures")
    out = None if state is None else state == "out"
    with recording(desk, at) as (store, when):
        if given:
            given |= {"refill": refill} if refill else {}
            outcome = put_boards(store, desk.rules(), board, given, when)
        else:
            outcome = set_board(store, desk.rules(), board, out=out, refill=refill, when=when)
    say_outcome(outcome)
