"""`wingrest journal`: what was recorded, by whom and when."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option
from scheduler.record.journal import read_journal
from scheduler.words import wording

_HEAD = ("line", "recorded_at", "happened_at", "who", "command", "text", "undoes", "undone_by")


@click.command()
@click.option("--last", type=click.IntRange(min=1), help="Show only this many of the latest lines.")
@format_option
@click.pass_obj
def command(desk: Desk, last: int | None, form: str) -> None:
    """List what was recorded, the latest line last."""
    with desk.open() as store:
        zone = store.zone
        today = desk.now(zone).date()
        lines = read_journal(store, last)
    rows: list[dict[str, object]] = [
        {name: getattr(line, name) for name in _HEAD}
        | {
            "recorded_at": line.recorded_at.astimezone(zone).isoformat(),
            "happened_at": line.happened_at.astimezone(zone).isoformat(),
        }
        for line in lines
    ]
    if form == "json":
        echo_json({"journal": rows})
    elif form == "csv":
        echo_csv(rows, _HEAD)
    else:
        body = [
            (
                str(line.line),
                wording.moment(line.happened_at.astimezone(zone), today),
                line.who or "",
                line.text + (f" (taken back by line {line.undone_by})" if line.undone_by else ""),
            )
            for line in lines
        ]
        head = ("line", "when", "who", "what")
        click.echo("\n".join(wording.table(head, body, frozenset({0}))))
