"""`wingrest mount`: record what was mounted."""

from __future__ import annotations

import click

from scheduler.bench.mount import When, mount_one, mount_session
from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.problems import BadInput


@click.command()
@click.argument("name", metavar="SESSION|SPECIMEN")
@click.option("--except", "excepted", multiple=True, metavar="SPECIMEN", help="Not this one.")
@click.option("--board", help="The board of one specimen mounted by hand.")
@click.option("--from-mm", type=click.IntRange(min=0), help="Where its slot begins.")
@click.option("--to-mm", type=click.IntRange(min=1), help="Where its slot ends.")
@at_option
@click.pass_obj
def command(
    desk: Desk,
    name: str,
    excepted: tuple[str, ...],
    board: str | None,
    from_mm: int | None,
    to_mm: int | None,
    at: str | None,
) -> None:
    """Record what was mounted: a session as planned, or one specimen with --board.

    Says what to write on the strip beside each. Blades and pins are sharp; scales are dust:
    mask and moving air.
    """
    if board is None and (from_mm is not None or to_mm is not None):
        raise BadInput("a slot without a board. Give --board too")
    if board is not None and excepted:
        raise BadInput("--except goes with a session, --board with one specimen. Give one of them")
    with desk.open() as store:
        zone = store.snapshot().zone
        now = desk.now(zone)
        when = When(desk.at(at, now, zone), now, desk.who)
        rules = desk.rules()
        if board is None:
            outcome = mount_session(store, rules, name, excepted, when)
        else:
            outcome = mount_one(store, rules, name, board, (from_mm, to_mm), when)
    say_outcome(outcome)
