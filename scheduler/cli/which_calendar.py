"""The options that choose one of the calendars: `feed` and `publish` have the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import F
from scheduler.words.problems import BadInput
from scheduler.words.wording import listed

if TYPE_CHECKING:
    from scheduler.feed.calendars import Calendars
    from scheduler.feed.variants import Variant


KIND_NAMES = ("all", "releases", "chamber-and-sessions", "sessions", "chamber", "bench-days")
"""As `feed.variants` has them, which nobody imports to read a command line."""


def calendar_options(command: F) -> F:
    """Add the options that choose what of the calendar is told."""
    for option in (
        click.option(
            "--most", type=click.IntRange(1, 10_000), metavar="N", help="At most so many events."
        ),
        click.option(
            "--daily", "--by-bench-day", "daily", is_flag=True,
            help="One event a day with all boards to test, for a lab.",
        ),
        click.option("--who", metavar="NAME", help="What concerns one person: see session --who."),
        click.option("--room", metavar="ROOM", help="The boards of one room alone."),
        click.option("--kind", type=click.Choice(KIND_NAMES), help="Only a part of it."),
    ):  # fmt: skip
        command = option(command)
    return command


def variant_of(
    found: Calendars,
    *,
    kind: str | None,
    room: str | None,
    who: str | None,
    daily: bool,
    most: int | None,
) -> Variant:
    """Return the calendar that the options ask for; raise BadInput for one that there is not."""
    from scheduler.feed.variants import KINDS, MOST_EVENTS, OF_BOARDS, Variant

    if daily and kind not in (None, "bench-days"):
        raise BadInput(f"--daily is a kind of its own. Leave --kind {kind} out, or --daily")
    usual = "bench-days" if daily else "all" if room is None else "releases"
    variant = Variant(kind or usual, room, who, most or MOST_EVENTS)
    if room is not None and (who is not None or not OF_BOARDS & {*KINDS[variant.kind][1]}):
        raise BadInput("a room has boards, and no sessions or chamber. Leave --room out")
    known = found.known(variant)
    if known is None:
        people = f"have sessions: {listed(found.people)}" if found.people else "have no sessions"
        raise BadInput(
            f"there is no calendar of {room or who!r}. Rooms are {listed(found.rooms)};"
            f" people {people}"
        )
    return known
