"""`wingrest feed`: the calendar as a file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from scheduler.cli.desk import Desk, write_file
from scheduler.cli.which_calendar import calendar_options


@click.command()
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Where to write it, e.g. wingrest.ics.",
)
@calendar_options
@click.pass_obj
def command(desk: Desk, /, output: Path, **which: Any) -> None:
    """Write the release reminders as a calendar file.

    Sessions and chamber times are in it too. An unchanged record gives the same file all day.
    Reminders come the day before; but many phones drop the alarms of a calendar they subscribe to,
    so title and date alone say what to do. It covers the last 30 and the next 180 days; without
    --most it holds at most 199 events, those nearest to today.
    """
    from scheduler.feed.calendars import calendars
    from scheduler.feed.chosen import variant_of

    with desk.open() as store:
        found = calendars(store, desk.rules(), desk.now(store.zone))
    data = found.as_bytes(variant_of(found, **which))
    write_file(output, data)
    count = data.count(b"BEGIN:VEVENT")
    click.echo(f"{count} event{'s' * (count != 1)} written to {output}")
