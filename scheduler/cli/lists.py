"""`wingrest list`: what waits, what stands, what came off, what was lost."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option, write_file
from scheduler.faces.life import table_lines
from scheduler.faces.tables import csv_text
from scheduler.looks.lists import LISTS, listing
from scheduler.record.history import lost_at
from scheduler.view import view_of
from scheduler.words import wording
from scheduler.words.problems import BadInput


@click.command()
@click.argument("kind", type=click.Choice(tuple(LISTS)))
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write it to a file: .csv, .xlsx or .json.",
)
@format_option
@click.pass_obj
def command(desk: Desk, kind: str, output: Path | None, form: str) -> None:
    """List what waits, stands on boards, came off, has no label yet, or was lost.

    What waits is listed with its box, its days in the freezer and why it is not planned. In the
    table, specimens of a lot that are alike share a line.
    """
    with desk.open() as store:
        view = view_of(store, desk.rules(), desk.now(store.zone))
        rows = listing(view, kind, lost_at(store))
        today = view.now.date()
    columns = LISTS[kind].columns
    if output is not None:
        write_file(output, _as_file(output, kind, columns, rows))
        click.echo(f"{wording.counted(len(rows), 'row')} in {output}")
    elif form == "json":
        echo_json({kind: [{n: row.get(n) for n in columns} for row in rows]})
    elif form == "csv":
        echo_csv(rows, columns)
    elif rows:
        click.echo("\n".join(table_lines(columns, rows, today)))
    else:
        click.echo("None.")


def _as_file(
    output: Path, kind: str, columns: Sequence[str], rows: Sequence[dict[str, object]]
) -> bytes:
    ending = output.suffix.casefold()
    if ending == ".csv":
        return csv_text(columns, rows).encode()
    if ending == ".json":
        listed = {kind: [{n: row.get(n) for n in columns} for row in rows]}
        return json.dumps(listed, ensure_ascii=False, indent=2).encode() + b"\n"
    if ending == ".xlsx":
        from scheduler.faces.tables import xlsx_bytes

        return xlsx_bytes(kind, columns, rows)
    raise BadInput(f"{output.name} is none of .csv, .xlsx and .json. Name it so")
