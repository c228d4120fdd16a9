"""`wingrest relax`: record what went into the relaxing chamber."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.chamber import relax
from scheduler.deeds.lot import lots_spread


@click.command()
@click.argument("specimens", nargs=-1, required=True, metavar="SPECIMEN|LOT...")
@at_option
@click.pass_obj
def command(desk: Desk, specimens: tuple[str, ...], at: str | None) -> None:
    """Record what went into the relaxing chamber.

    You are told when to look first and when each must be out. Look for mould and decay at every
    look. Mould inhibitors and solvents are harmful, solvents also flammable: air the room, keep
    flames away, wear gloves and follow the safety data sheet.
    """
    with recording(desk, at) as (store, when):
        those = lots_spread(store.facts(), specimens)
        outcome = relax(store, desk.rules(), those, when)
    say_outcome(outcome)
