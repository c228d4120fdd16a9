"""`wingrest feed`: the calendar as a file."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.desk import Desk, write_file


@click.command()
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Where to write it, e.g. wingrest.ics.",
)
@click.option("--by-bench-day", is_flag=True, help="One release event a day, for many boards.")
@click.pass_obj
def command(desk: Desk, output: Path, by_bench_day: bool) -> None:
    """Write the release reminders as a calendar file.

    Sessions and chamber times stand in it too. The same record gives the same bytes all day.
    Reminders come the day before: many phones drop the alarms of a calendar they subscribe
    to, so title and date say it all.
    """
    from scheduler.feed.calendars import record_calendar

    with desk.open() as store:
        data = record_calendar(store, desk.rules(), desk.now(store.zone), by_bench_day=by_bench_day)
    write_file(output, data)
    count = data.count(b"BEGIN:VEVENT")
    click.echo(f"{count} event{'s' * (count != 1)} written to {output}")
