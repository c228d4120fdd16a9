"""`wingrest start`: the page in this computer's browser, on this person's record."""

from __future__ import annotations

import os
import sys
import webbrowser
from functools import partial

import click

from scheduler.cli.desk import Desk

PORT = 8033


@click.command()
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=PORT,
    show_default=True,
    help="0 takes any free one.",
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
@click.pass_obj
def command(desk: Desk, port: int, no_browser: bool) -> None:
    """Open the page in this computer's browser.

    Everything can be done there: bring in a list or enter by hand what you have, plan, record,
    print. An empty record leads you through its first hour, and there is an invented weekend to
    look at. It runs until Ctrl-C, and only this computer can reach it. For phones: wingrest serve.
    """
    from scheduler.cli.server import found_place, run_server
    from scheduler.page.tokens import ensure_tokens
    from scheduler.words.problems import BadInput

    try:
        where = found_place("127.0.0.1", port, None, None)
    except BadInput:
        # Another page of this person may be open on that port already: then any free port is taken.
        where = found_place("127.0.0.1", 0, None, None)
    with desk.open() as store:
        bench = ensure_tokens(store).bench
    run_server(desk, where, partial(_open, f"{where.base}/bench/{bench}/", no_browser), True)
    click.echo("\nStopped.")


def _has_screen() -> bool:
    """Say whether a browser has a screen to show on: one in the terminal would take it over."""
    named = ("BROWSER", "DISPLAY", "WAYLAND_DISPLAY")
    return not sys.platform.startswith("linux") or any(map(os.environ.get, named))


def _open(address: str, no_browser: bool) -> None:
    """Open the page once it answers; print its address where there is no browser."""
    opened = not no_browser and _has_screen() and webbrowser.open(address)
    click.echo("The page is open in your browser:" if opened else "Open this in a browser:")
    click.echo(f"  {address}")
    click.echo("Ctrl-C ends it.")
