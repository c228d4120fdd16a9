"""`wingrest serve`: the calendar and the bench page over HTTP."""

from __future__ import annotations

import io
import logging
import signal
import socket
import sys
from contextlib import suppress
from ipaddress import ip_address
from typing import TYPE_CHECKING, Protocol
from urllib.parse import urlsplit

import click

from scheduler.cli.desk import Desk
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from flask import Flask

THREADS = 4
SWITCH_SECONDS = 0.0005
CONNECTIONS_MOST = 1000
HEADER_MOST = 16 * 1024
REQUEST_MOST = 13 * 1024 * 1024
"""Above the pages' own limit, which says what is wrong; beyond this the server hangs up."""
OPEN = """\
warning: this is http without encryption, open to the network. Whoever can listen there can
read the addresses. Only in a network you trust"""


class Server(Protocol):
    """What is used of the server."""

    effective_port: int

    def run(self) -> None:
        """Answer until interrupted."""

    def close(self) -> None:
        """Let go of the port."""


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Where to listen.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=8033,
    show_default=True,
    help="0 takes any free one.",
)
@click.option("--new-address", is_flag=True, help="Make other addresses; the old ones end.")
@click.pass_obj
def command(desk: Desk, host: str, port: int, new_address: bool) -> None:
    """Serve the calendar and the bench page to phones.

    Until Ctrl-C. This machine alone can reach them unless --host says otherwise; 0.0.0.0 lets
    in the whole network. An address works like a password: whoever has it can read, or
    record.
    """
    from scheduler.page import create_app
    from scheduler.page.tokens import ensure_tokens

    with desk.open() as store:
        zone = store.zone
        tokens = ensure_tokens(store, anew=new_address)
    app = create_app(
        desk.store_path,
        desk.rules(),
        clock=lambda: desk.now(zone),
        who=desk.who,
        asks_clock=desk.now_text is None,
    )
    server = _listen(app, host, port)
    base = f"http://{_shown_host(host)}:{server.effective_port}"
    # Whoever stops it otherwise (a service manager, say) also gets a clean end.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with suppress(KeyboardInterrupt):
        if not _is_loopback(host):
            click.echo(OPEN, err=True)
        _log_requests()
        # A thread that builds a large calendar would hold up every answer for 5 ms, many times.
        sys.setswitchinterval(SWITCH_SECONDS)
        _greet(base, tokens.calendar, tokens.bench if "bench" in app.blueprints else None)
        server.run()
    server.close()
    click.echo("\nStopped.")


def _listen(app: Flask, host: str, port: int) -> Server:
    import waitress  # type: ignore[import-untyped]

    try:
        listening = socket.create_server(
            (host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET, backlog=1024
        )
    except OSError as error:
        raise BadInput(
            f"cannot listen on {host}, port {port} ({error.strerror or error})."
            " Give another --host or --port"
        ) from error
    server: Server = waitress.create_server(
        app,
        sockets=[listening],
        threads=THREADS,
        connection_limit=CONNECTIONS_MOST,
        asyncore_use_poll=True,  # select() ends at 1024 files
        max_request_header_size=HEADER_MOST,
        max_request_body_size=REQUEST_MOST,
        channel_timeout=60,
        expose_tracebacks=False,
        ident="wingrest",
    )
    return server


def _greet(base: str, calendar: str, bench: str | None) -> None:
    page = f"{base}/calendar/{calendar}/"
    click.echo("The calendar, to subscribe to:")
    click.echo(f"  {page}all.ics")
    click.echo(f"  {page.replace('http', 'webcal', 1)}all.ics")
    click.echo("How to subscribe, which phones ring, calendars by kind and room:")
    click.echo(f"  {page}")
    if bench is not None:
        click.echo("The bench page, for those who record:")
        click.echo(f"  {base}/bench/{bench}/")
    click.echo("The page on how to subscribe, for a phone's camera:\n")
    click.echo(_drawn(page))
    if urlsplit(base).hostname in ("127.0.0.1", "::1", "localhost"):
        click.echo("These addresses work on this machine alone; --host 0.0.0.0 lets phones in.")
    click.echo("Ctrl-C ends it.")


def _drawn(address: str) -> str:
    import segno

    drawn = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(drawn, border=2, compact=True)
    lines = drawn.getvalue().splitlines()
    # White on black whatever the terminal's colours; click takes it out where none can be.
    return "\n".join(click.style(line, fg="bright_white", bg="black") for line in lines) + "\n"


def _shown_host(host: str) -> str:
    if host in ("0.0.0.0", "::", ""):
        host = _own_address(host)
    return f"[{host}]" if ":" in host else host


def _own_address(host: str) -> str:
    # Connecting a datagram socket sends nothing; it only asks which way the network lies. The
    # addresses are those set aside for documentation (RFC 5737, RFC 3849).
    six = host == "::"
    with socket.socket(socket.AF_INET6 if six else socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("2001:db8::1" if six else "192.0.2.1", 9))
        except OSError:
            return "::1" if six else "127.0.0.1"
        return str(probe.getsockname()[0])


def _is_loopback(host: str) -> bool:
    try:
        return host == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


def _log_requests() -> None:
    written = logging.StreamHandler(sys.stderr)
    written.setFormatter(logging.Formatter("%(asctime)s %(message)s", "%Y-%m-%d %H:%M:%S"))
    log = logging.getLogger("wingrest")
    log.addHandler(written)
    log.setLevel(logging.INFO)
    log.propagate = False
    logging.getLogger("waitress").setLevel(logging.CRITICAL)
