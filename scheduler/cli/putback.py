"""`wingrest putback`: record what went back into the cold."""

from __future__ import annotations

from typing import Literal

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.chamber import put_back
from scheduler.words.problems import BadInput


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="SPECIMEN... fridge|freezer")
@at_option
@click.pass_obj
def command(desk: Desk, words: tuple[str, ...], at: str | None) -> None:
    """Record what went back into the fridge or the freezer.

    It came out of the relaxing chamber or off the bench. What goes into the freezer counts as
    frozen on that day, unless it was dried.
    """
    *specimens, last = words
    place = last.casefold()
    if place not in ("fridge", "freezer") or not specimens:
        raise BadInput(
            "which, and where to? Write the ids, then fridge or freezer: putback M-30 fridge"
        )
    where: Literal["fridge", "freezer"] = "fridge" if place == "fridge" else "freezer"
    with recording(desk, at) as (store, when):
        outcome = put_back(store, desk.rules(), specimens, where, when)
    say_outcome(outcome)
