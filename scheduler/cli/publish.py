"""`wingrest publish`: the record's events in the person's own calendar."""

from __future__ import annotations

import re
import time
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from scheduler.cli.desk import Desk
from scheduler.cli.password import offer_to_keep, password_of, somebody_there
from scheduler.cli.which_calendar import calendar_options
from scheduler.words.problems import BadInput, RecordBusy, Refused, WingrestError
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.deeds.publish import Progress
    from scheduler.feed.address import CalendarPlace
    from scheduler.feed.publishing import EventChange, Owner, Wanted
    from scheduler.feed.server import CalendarServer


@click.command()
@click.argument("url")
@click.option("--user", metavar="NAME", help="Your name on the calendar server.")
@calendar_options
@click.option("--remove", is_flag=True, help="Take this record's events out of the calendar.")
@click.option("--dry-run", is_flag=True, help="Say what would change; change nothing.")
@click.option(
    "--ca-file",
    type=click.Path(exists=True, dir_okay=False),
    metavar="FILE",
    help="The certificate to trust, for a server of your own.",
)
@click.option(
    "--every",
    metavar="TIME",
    help="Publish again and again, for example every 15min, until Ctrl-C.",
)
@click.option(
    "--timeout",
    type=click.IntRange(1, 600),
    default=30,
    show_default=True,
    metavar="SECONDS",
    help="How long to wait for each answer.",
)
@click.pass_obj
def command(
    desk: Desk,
    /,
    url: str,
    user: str | None,
    remove: bool,
    dry_run: bool,
    ca_file: str | None,
    every: str | None,
    timeout: int,
    **which: Any,
) -> None:
    """Put the reminders into your own calendar on a CalDAV server.

    These are the events of the feed, but the calendar is yours: its alarms ring. URL is the address
    of a calendar (best one used for nothing else) or of your account; then you are asked which
    calendar. Publish again when the record has changed: only what differs is sent, and other events
    are left alone. What you changed in an event stays until the record changes that event; colour,
    guests and alarms of your own stay even then. An event that you deleted comes back.

    The password is read from WINGREST_CALDAV_PASSWORD, from the keyring of this computer, or asked
    for. One that you type is kept only in the keyring, if you say so and the Python package keyring
    is installed (pip install 'wingrest[keyring]'). Use https: over http the password crosses the
    network unencrypted.
    """
    from scheduler.feed.server import CalendarServer

    pause_min = None if every is None else _minutes(every)
    if pause_min is not None and (remove or dry_run):
        raise BadInput("--every goes with neither --remove nor --dry-run. Leave one of them out")
    at, user = _account(url, user)
    asked = Publishing(which, remove, dry_run)
    password = password_of(at, user)
    with CalendarServer(at, user, password.text, timeout_s=timeout, ca_file=ca_file) as server:
        place = _calendar(server)
        offer_to_keep(at, user, password)
        _once(desk, server, place, asked)
        while pause_min is not None:
            _pause(pause_min)
            _again(desk, server, place, asked)


class Publishing(NamedTuple):
    """What is published, and whether it is taken out again or only shown."""

    which: Mapping[str, Any]
    remove: bool
    dry_run: bool


def _once(
    desk: Desk,
    server: CalendarServer,
    place: CalendarPlace,
    asked: Publishing,
    *,
    quiet: bool = False,
) -> None:
    """Tell the calendar what the record says now; `quiet`: print only what was changed."""
    from scheduler.deeds import publish
    from scheduler.feed import calendars as feed
    from scheduler.feed.chosen import variant_of
    from scheduler.record.asked import note_asked

    with desk.open() as store:
        now = desk.now(store.zone)
        calendars = feed.calendars(store, desk.rules(), now)
    variant = variant_of(calendars, **asked.which)
    wanted = [] if asked.remove else publish.wanted(calendars, variant)
    owner = publish.owner(calendars)
    if asked.dry_run:
        _say_pending(publish.pending(server, place, wanted, owner), now)
        return
    progress = _publish(server, place, wanted, owner)
    if not asked.remove:
        note_asked(desk.store_path, "publish", now)
    if progress.made or progress.refused or not quiet:
        _say_done(place, progress, now)


def _again(desk: Desk, server: CalendarServer, place: CalendarPlace, asked: Publishing) -> None:
    """Publish once more; a fault that passes by itself is printed, and the next time waited for."""
    from scheduler.cli.desk import say_problem
    from scheduler.feed.server import Unreachable

    try:
        _once(desk, server, place, asked, quiet=True)
    except (Unreachable, RecordBusy) as error:
        say_problem(str(error))


def _pause(minutes: int) -> None:
    try:
        time.sleep(60 * minutes)
    except KeyboardInterrupt:
        click.echo("Stopped. Nothing was under way", err=True)
        click.get_current_context().exit(130)


def _minutes(text: str) -> int:
    """Return the minutes of "15min" or "2h". Raises BadInput for anything else, or over a day."""
    read = re.fullmatch(r"([1-9][0-9]{0,3})\s*(min|h)", text.strip())
    minutes = int(read[1]) * {"min": 1, "h": 60}[read[2]] if read else 0
    if not 1 <= minutes <= 1440:
        raise BadInput(f"--every {text!r} is no time up to a day. Write it as 15min or 2h")
    return minutes


def _account(url: str, user: str | None) -> tuple[str, str]:
    """Return the calendar's address and its user; warn of a password that is sent in clear."""
    from scheduler.feed.address import address, sends_in_clear

    _require_client()
    at, named = address(url)
    user = user or named
    if not user:
        raise BadInput("No user is named. Give your name on the calendar server with --user")
    if sends_in_clear(at):
        click.echo(
            "warning: this is http without encryption. Your password crosses the network in"
            " clear, for anyone who listens there. Use https",
            err=True,
        )
    return at, user


def _require_client() -> None:
    """Raise BadInput where the client for calendar servers is not installed: few people need it."""
    from importlib.util import find_spec

    if find_spec("caldav") is None:
        raise BadInput(
            "publish needs the Python package caldav, which is not installed. Install it beside"
            " wingrest: pip install 'wingrest[publish]', from a checkout pip install '.[publish]';"
            " or subscribe to what `wingrest serve` offers, which needs nothing more"
        )


def _publish(
    server: CalendarServer, place: CalendarPlace, wanted: list[Wanted], owner: Owner
) -> Progress:
    from scheduler.deeds.publish import Progress, publish

    progress = Progress()
    try:
        publish(server, place, wanted, owner, progress)
    except KeyboardInterrupt:
        click.echo(f"Stopped. {_so_far(progress)}", err=True)
        click.get_current_context().exit(130)
    except WingrestError as error:
        if progress.made:
            raise type(error)(f"{_so_far(progress)}\n{error}") from None
        raise
    return progress


def _say_done(place: CalendarPlace, progress: Progress, now: datetime) -> None:
    from scheduler.deeds.publish import done_said, refused_said

    click.echo(f"{place.name or place.url}: {done_said(progress)}")
    if told := refused_said(progress, now):
        raise Refused("\n  ".join(told[:-1]) + f"\n{told[-1]}")


def _so_far(progress: Progress) -> str:
    from scheduler.deeds.publish import broken_off_said

    return broken_off_said(progress)


def _say_pending(todo: list[EventChange], now: datetime) -> None:
    from scheduler.deeds.publish import pending_said

    for line in pending_said(todo, now):
        click.echo(line)


def _calendar(server: CalendarServer) -> CalendarPlace:
    """Return the calendar at the address, or the one of the account that the person picks."""
    from scheduler.deeds.publish import calendars_at

    found = calendars_at(server)
    if found[0].url == server.url:
        return found[0]
    lines = [f"{one.name or 'no name'}: {one.url}" for one in found]
    if not somebody_there():
        listed = "\n".join(f"  {line}" for line in lines)
        raise BadInput(
            f"{server.url} is no calendar, but leads to these:\n{listed}\nName one of them"
        )
    for number, line in enumerate(lines, 1):
        click.echo(f"  {number}  {line}", err=True)
    picked: int = click.prompt("Which calendar", type=click.IntRange(1, len(found)), err=True)
    return found[picked - 1]
