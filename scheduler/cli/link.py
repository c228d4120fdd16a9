"""`wingrest link`: a link of its own for each person and each device."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option
from scheduler.words import wording

if TYPE_CHECKING:
    from scheduler.page.links import Link, May

_HEAD = ("name", "may", "made", "bench_used", "calendar_asked", "ended")


@click.command()
@click.argument("name", required=False)
@click.option("--read", "reads", is_flag=True, help="It shows everything and records nothing.")
@click.option("--end", "ends", is_flag=True, help="End the link of that name, and no other.")
@format_option
@click.pass_obj
def command(desk: Desk, name: str | None, reads: bool, ends: bool, form: str) -> None:
    """Give a person or a device a link of its own, list them, end one.

    Without a name it lists all links, and when each was last used. For a name that has a link
    already, it shows that link again. What somebody records through a link is in the journal under
    the link's name. A link works like a password: give it to that person only.
    """
    from scheduler.page.links import end_link, link_for, read_links
    from scheduler.page.tokens import read_base

    with desk.open() as store:
        now = desk.now(store.zone)
        if name is None:
            _list(read_links(store.db), now, form)
        elif ends:
            link = end_link(store, name, now)
            click.echo(f"{link.name}: the link has ended. Others go on")
        else:
            may: May = "read" if reads else "record"
            link = link_for(store, name, may, now)
            _show(link, read_base(store.db))


def _show(link: Link, base: str | None) -> None:
    does = "records" if link.may == "record" else "reads and records nothing"
    click.echo(f"{link.name}: a link that {does}")
    click.echo(f"  bench     {base or ''}/bench/{link.bench}/")
    click.echo(f"  calendar  {base or ''}/calendar/{link.calendar}/all.ics")
    if base is None:
        click.echo("Put the address that `wingrest serve` shows in front of each.")


def _flat(link: Link, zone: tzinfo) -> dict[str, object]:
    moments = {
        name: None if moment is None else moment.astimezone(zone).isoformat()
        for name in ("made", "bench_used", "calendar_asked", "ended")
        for moment in (getattr(link, name),)
    }
    return {"name": link.name, "may": link.may, **moments}


def _list(links: Sequence[Link], now: datetime, form: str) -> None:
    from scheduler.page.links import last_used_said

    assert now.tzinfo is not None
    flat = [_flat(link, now.tzinfo) for link in links]
    if form == "json":
        echo_json({"links": flat})
    elif form == "csv":
        echo_csv(flat, _HEAD)
    elif not links:
        click.echo("No links yet. wingrest link NAME makes one")
    else:
        rows = [(link.name, link.may, last_used_said(link, now)) for link in links]
        click.echo("\n".join(wording.table(("name", "may", "last used"), rows)))
