"""`wingrest lost`: record that a specimen is lost, and why."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.chamber import lose


@click.command()
@click.argument("specimen", metavar="SPECIMEN")
@click.argument("reason", nargs=-1, required=True, metavar="REASON...")
@at_option
@click.pass_obj
def command(desk: Desk, specimen: str, reason: tuple[str, ...], at: str | None) -> None:
    """Record that a specimen is lost, and why.

    For example: lost M-31 abdomen broken. It leaves the chamber, or its board, at that
    moment; nothing plans it again, and the plan is mended.
    """
    with recording(desk, at) as (store, when):
        outcome = lose(store, desk.rules(), specimen, " ".join(reason), when)
    say_outcome(outcome)
