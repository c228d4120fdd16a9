"""`wingrest load`: a folder of tables into the record."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.desk import Desk, say_outcome


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.pass_obj
def command(desk: Desk, folder: Path) -> None:
    """Load a folder of tables into the record.

    All problems of all files are listed at once (exit status 2), and nothing is loaded then.
    What the folder does not say removes nothing; loading it again changes nothing.
    """
    from scheduler.bench.load import load

    with desk.open() as store:
        now = desk.now(store.snapshot().zone)
        outcome = load(store, desk.rules(), folder, now=now, who=desk.who)
    say_outcome(outcome)
