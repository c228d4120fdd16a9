"""`wingrest phone`: connect a phone, by photographing two codes."""

from __future__ import annotations

import socket
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import Desk, certificate_options, write_file
from scheduler.cli.serve import OPEN, drawn_code
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from scheduler.page.links import Link

HELP_SAID = """\
If the phone finds nothing there:
  - it must be in the same network as this computer: the same Wi-Fi, and no guest one
  - this computer's firewall must let the port in, for private networks
  - a computer that sleeps answers nobody; this window must stay open
  - a router may give this computer another address tomorrow: run this again then, or tell
    the router to keep it. The link itself stays the same"""


@click.command()
@click.argument("name", default="phone")
@click.option("--read", "reads", is_flag=True, help="The link shows all and records nothing.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8033, show_default=True, help="0: any free."
)
@certificate_options
@click.option(
    "--at-login",
    "starter",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write a file that starts this when you log in: .service, .plist or .xml.",
)
@click.pass_obj
def command(
    desk: Desk,
    name: str,
    reads: bool,
    port: int,
    cert: Path | None,
    key: Path | None,
    starter: Path | None,
) -> None:
    """Connect a phone: serve the record to this network, and show two codes to photograph.

    One code opens the bench, the other subscribes to the calendar. NAME is whose phone it is, for
    the journal. The record is served until Ctrl-C. `link NAME --end` ends that phone's link alone.

    With --at-login FILE nothing is served; instead a systemd unit (.service), a launchd agent
    (.plist) or a Windows task (.xml) is written, and you are told what to do with it.
    """
    if starter is not None:
        _write_starter(desk, starter, port, cert, key)
        return
    from scheduler.cli.server import found_place, run_server
    from scheduler.page.links import link_for
    from scheduler.page.tokens import note_base, read_base

    with desk.open() as store:
        link = link_for(store, name, "read" if reads else "record", desk.now(store.zone))
        try:
            where = found_place("0.0.0.0", port, cert, key)
        except BadInput:
            served = read_base(store.db)
            if served is None or not served.endswith(f":{port}") or "//127." in served:
                raise
            _show_codes(link, served)
            click.echo(f"The record is served at {served} already; nothing more was started.")
            return
        note_base(store, where.base)
    if cert is None:
        click.echo(OPEN, err=True)
    run_server(desk, where, partial(_greet_phone, link, where.base))
    click.echo("\nStopped.")


def _write_starter(desk: Desk, path: Path, port: int, cert: Path | None, key: Path | None) -> None:
    """Write what starts the server at login, and tell where it belongs and what to run."""
    from scheduler.cli.at_login import STARTERS
    from scheduler.cli.door import options_of

    known = STARTERS.get(path.suffix.removeprefix(".").lower())
    if known is None:
        raise BadInput(
            f"{path.name!r} does not say which system it is for. End its name in .service (Linux),"
            " .plist (macOS) or .xml (Windows)"
        )
    if not port:
        raise BadInput("--port 0 would be another port each time. Give one")
    if desk.now_text is not None:
        raise BadInput("--now would stop the server's clock for good. Leave it out")
    pair = [("--cert", cert), ("--key", key)]
    tls = [text for option, file in pair if file for text in (option, str(file.resolve()))]
    serve = ["serve", "--host", "0.0.0.0", "--port", str(port), *tls]
    words = [sys.executable, "-m", "scheduler", *options_of(desk), *serve]
    write_file(path, known.made(words))
    click.echo(f"{path}: starts `wingrest serve` on port {port} when you log in.")
    click.echo(f"It belongs in {known.belongs}. Then:")
    for line in known.run:
        click.echo(f"  {line.format(file=path.resolve())}")
    click.echo(f"To end it: {known.ends}")
    click.echo("Phones that have a link go on with it; wingrest phone shows the codes again.")


def _greet_phone(link: Link, base: str) -> None:
    _show_codes(link, base)
    click.echo("Ctrl-C ends it.")


def _show_codes(link: Link, base: str) -> None:
    from scheduler.page.reach import Reach, found_by_name

    bench, calendar = f"{base}/bench/{link.bench}/", f"{base}/calendar/{link.calendar}/all.ics"
    does = "records" if link.may == "record" else "reads and records nothing"
    click.echo(f"Two codes for {link.name}, whose link {does}. They work like a password.\n")
    click.echo("1. The bench:")
    click.echo(f"{drawn_code(bench)}  {bench}\n")
    subscribe = calendar.replace("http", "webcal", 1)
    click.echo("2. The calendar; a phone that does not ask to subscribe takes the second line:")
    click.echo(f"{drawn_code(subscribe)}  {subscribe}\n  {calendar}\n")
    click.echo(f"This computer is {base} here.")
    there = Reach(base, socket.gethostname())
    if found_by_name(there):
        click.echo(f"It is also found by its name, under a new number too: {there.local_name}")
    click.echo(HELP_SAID)
