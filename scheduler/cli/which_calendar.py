"""The options that choose one of the calendars; `feed` and `publish` share them."""

from __future__ import annotations

import click

from scheduler.cli.desk import F

KIND_NAMES = ("all", "releases", "chamber-and-sessions", "sessions", "chamber", "bench-days")
"""The kinds in `feed.variants`, repeated here so that reading a command line imports little."""


def calendar_options(command: F) -> F:
    """Add the options that choose what is in the calendar."""
    for option in (
        click.option(
            "--most", type=click.IntRange(1, 10_000), metavar="N", help="No more events than this."
        ),
        click.option(
            "--daily", "--by-bench-day", "daily", is_flag=True,
            help="One event a day with all boards to test, for a lab.",
        ),
        click.option("--who", metavar="NAME", help="Only what concerns this person: see session "
                                                   "--who."),
        click.option("--room", metavar="ROOM", help="Only the boards of this room."),
        click.option("--kind", type=click.Choice(KIND_NAMES), help="Only one kind of event."),
    ):  # fmt: skip
        command = option(command)
    return command
