"""`wingrest handover`: specimens leave for a collection, with their data."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.words.problems import BadInput


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.argument("specimens", nargs=-1, metavar="[SPECIMEN]...")
@click.option("--since", metavar="DATE", help="Only what came off on that date or later.")
@click.option("--lot", metavar="NAME", help="Only those of this lot.")
@click.option("--to", "whom", metavar="WHOM", help="Who gets them; without it nothing is recorded.")
@click.option("--permit", metavar="TEXT", help="The permit, where protected species leave.")
@at_option
@click.pass_obj
def command(
    desk: Desk,
    folder: Path,
    specimens: tuple[str, ...],
    since: str | None,
    lot: str | None,
    whom: str | None,
    permit: str | None,
    at: str | None,
) -> None:
    """Hand released specimens over: a Darwin Core Archive, CSV and XLSX in a new folder.

    It takes all that came off and is still here, or only what you name. With --to the journal says
    what was given to whom, and when. To bring in the receiver's numbers, load their table
    (specimen, catalogNumber) with `wingrest load`.
    """
    from datetime import date

    from scheduler.deeds.handover import Gift, hand_over

    try:
        begin = date.fromisoformat(since) if since else None
    except ValueError:
        raise BadInput(f"--since {since!r} is not a date. Write it as 2027-05-08") from None
    if lot is not None and specimens:
        raise BadInput("a lot and specimens. Give one of them")
    gift = Gift(whom, specimens, lot, begin, permit)
    with recording(desk, at) as (store, when):
        outcome = hand_over(store, desk.rules(), gift, folder, when)
    say_outcome(outcome)
