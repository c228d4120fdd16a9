"""`wingrest serve`: the calendar and the bench page over HTTP."""

from __future__ import annotations

import io
import sys
from functools import partial
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

import click

from scheduler.cli.desk import Desk, certificate_options

OPEN = """\
warning: this is http without encryption, open to the network. Whoever can listen there can
read the addresses. Only in a network you trust"""


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Where to listen.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8033,
    show_default=True,
    help="0 takes any free one.",
)
@certificate_options
@click.option(
    "--new-address", is_flag=True, help="Make new addresses; the old ones no longer work."
)
@click.pass_obj
def command(
    desk: Desk, host: str, port: int, cert: Path | None, key: Path | None, new_address: bool
) -> None:
    """Serve the calendar and the bench page to phones.

    They are served until Ctrl-C. Only this computer can reach them unless --host says otherwise;
    0.0.0.0 lets in the whole network. An address works like a password: whoever has it can read, or
    record. With --cert and --key what goes over the network is encrypted.
    """
    from scheduler.cli.server import found_place, run_server
    from scheduler.page.tokens import ensure_tokens, note_base

    where = found_place(host, port, cert, key)
    with desk.open() as store:
        tokens = ensure_tokens(store, anew=new_address)
        note_base(store, where.base)

    if not is_loopback_host(host) and cert is None:
        click.echo(OPEN, err=True)
    run_server(desk, where, partial(_greet, where.base, tokens.calendar, tokens.bench))
    click.echo("\nStopped.")


def _greet(base: str, calendar: str, bench: str) -> None:
    page = f"{base}/calendar/{calendar}/"
    click.echo("The calendar, to subscribe to:")
    click.echo(f"  {page}all.ics")
    click.echo(f"  {page.replace('http', 'webcal', 1)}all.ics")
    click.echo("How to subscribe, which phones ring, calendars by kind and room:")
    click.echo(f"  {page}")
    click.echo("The bench page, for those who record:")
    click.echo(f"  {base}/bench/{bench}/")
    click.echo("The page on how to subscribe, for a phone's camera:\n")
    click.echo(drawn_code(page))
    if urlsplit(base).hostname in ("127.0.0.1", "::1", "localhost"):
        click.echo("These addresses work only on this computer; --host 0.0.0.0 lets phones in.")
    click.echo("Ctrl-C ends it.")
    sys.stdout.flush()


def drawn_code(address: str) -> str:
    """Return an address as a QR code for a terminal."""
    import segno

    drawn = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(drawn, border=2, compact=True)
    lines = drawn.getvalue().splitlines()
    # White on black, whatever the terminal's colours are; click removes it where none can be shown.
    return "\n".join(click.style(line, fg="bright_white", bg="black") for line in lines) + "\n"


def is_loopback_host(host: str) -> bool:
    """Say whether a host is this machine only."""
    try:
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False
