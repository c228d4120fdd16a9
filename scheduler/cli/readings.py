"""`wingrest readings`: a humidity logger's file."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Literal

import click

from scheduler.cli.desk import Desk, say_outcome
from scheduler.cli.recording import recording
from scheduler.words.problems import BadInput


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--room", required=True, help="The room in which the logger hangs.")
@click.option("--add-rh", type=float, default=0.0, help="The logger's fixed offset, in points.")
@click.option(
    "--dates",
    type=click.Choice(["day-first", "month-first"]),
    help="What 8/5/2027 means, where the file does not show it.",
)
@click.option(
    "--decimal",
    type=click.Choice(["comma", "point"]),
    help="The decimal sign, where the file does not show it.",
)
@click.option(
    "--utc-offset",
    metavar="+HH:MM",
    help="A logger whose clock stands so far ahead of UTC all year.",
)
@click.pass_obj
def command(
    desk: Desk,
    file: Path,
    room: str,
    add_rh: float,
    dates: Literal["day-first", "month-first"] | None,
    decimal: Literal["comma", "point"] | None,
    utc_offset: str | None,
) -> None:
    """Record a humidity logger's file.

    CSV or XLSX, as loggers write them. Reading an overlapping file again adds only what is
    new. Impossible values are listed with their rows and left out. Says whose dates the real
    air moves.
    """
    from scheduler.deeds.readings import Manner, add_readings

    manner = Manner(add_rh, dates, decimal, _minutes(utc_offset))
    with recording(desk, None) as (store, when):
        if sys.stderr.isatty():
            with click.progressbar(length=100, label=file.name, file=sys.stderr) as bar:
                outcome = add_readings(
                    store,
                    desk.rules(),
                    file,
                    room,
                    manner,
                    when,
                    lambda done: bar.update(max(0, round(100 * done) - bar.pos)),
                )
        else:
            outcome = add_readings(store, desk.rules(), file, room, manner, when)
    say_outcome(outcome)


def _minutes(text: str | None) -> int | None:
    if text is None:
        return None
    found = re.fullmatch(r"([+-])(\d{1,2}):?([0-5]\d)", text)
    if found is None:
        raise BadInput(f"--utc-offset {text!r} is no offset. Write it as +01:00")
    minutes = 60 * int(found[2]) + int(found[3])
    return -minutes if found[1] == "-" else minutes
