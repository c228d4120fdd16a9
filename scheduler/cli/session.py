"""`wingrest session`: bench time."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.sessions import Asked, set_session


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="DATE [TIME]|SESSION|WEEKDAYS TIME")
@click.option("--minutes", metavar="N", help="How long it is; 0 cancels it.")
@click.option(
    "--until",
    metavar="DATE",
    help="The last day of sessions that repeat; half a year ahead if not said.",
)
@click.option("--who", metavar="NAME", help="Whose session it is, if several people mount.")
@click.pass_obj
def command(
    desk: Desk, words: tuple[str, ...], minutes: str | None, until: str | None, who: str | None
) -> None:
    """Record bench time: one session, or one a week; 0 minutes cancels.

    For example: session 2027-05-08 09:00 --minutes 90. A session that is recorded already gets
    those minutes: session SAT-08 --minutes 0 cancels it. Weekdays repeat: session "Saturdays 09:00"
    --minutes 180 --until 2027-07-31.

    If several people mount, each has sessions of their own with --who NAME, even at the same hour;
    no two of them are planned onto one board at once. A `--who` before the word session says who
    records it.
    """
    with recording(desk, None) as (store, when):
        outcome = set_session(store, desk.rules(), Asked(words, minutes, until, who), when)
    say_outcome(outcome)
