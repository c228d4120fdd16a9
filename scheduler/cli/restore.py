"""`wingrest restore`: a record brought back from a snapshot."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from scheduler.cli.desk import Desk, warn
from scheduler.record.restoring import Restored, WouldGoBack, restore
from scheduler.words.wording import counted

MOST_NAMED = 3
"""So many missing photos are named."""


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--over", is_flag=True, help="Go back even if the record there holds more.")
@click.pass_obj
def command(desk: Desk, file: Path, over: bool) -> None:
    """Bring a record back from a snapshot.

    The record that is there is put aside under another name, never lost. If it holds lines that the
    snapshot does not, you are asked first; where nobody can be asked, it is refused. The addresses
    of calendar and bench page stay as they are, so that phones keep working. Photos that are gone
    come back from the folder beside the snapshot.
    """
    try:
        done = restore(desk.store_path, file, over=over)
    except WouldGoBack as error:
        if not (sys.stdin is not None and sys.stdin.isatty()):
            raise
        click.confirm(f"{error}.\nPut it aside and go back", abort=True, err=True)
        done = restore(desk.store_path, file, over=True)
    _say(desk, done)


def _say(desk: Desk, done: Restored) -> None:
    when = f", recorded {done.recorded_at:%Y-%m-%d %H:%M} UTC" if done.recorded_at else ""
    click.echo(f"{desk.store_path} is back, up to journal line {done.line}{when}")
    if done.put_aside is not None:
        click.echo(f"  what was there is now {done.put_aside}")
    photos = done.photos
    if photos.came:
        click.echo(f"  {counted(photos.came, 'photo')} came back with it")
    if photos.missing:
        shown = ", ".join(photos.missing[:MOST_NAMED])
        more = len(photos.missing) - MOST_NAMED
        text = f"{counted(len(photos.missing), 'photo')} not found beside it: {shown}"
        warn([f"{text} and {more} more" if more > 0 else text])
    if not done.in_the_file:
        click.echo("  if `wingrest serve` runs, start it again")
