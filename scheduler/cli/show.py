"""`wingrest show`: one specimen's life."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, echo_json
from scheduler.faces.life import life_json, life_lines
from scheduler.looks.life import lives
from scheduler.record.history import history
from scheduler.view import view_of
from scheduler.words import names


@click.command()
@click.argument("specimen")
@click.option(
    "--format",
    "form",
    type=click.Choice(("table", "json")),
    default="table",
    show_default=True,
    help="Text for people, or documented JSON.",
)
@click.pass_obj
def command(desk: Desk, specimen: str, form: str) -> None:
    """Show a specimen's life: where it is, what is next and why, its label, its history.

    If you do not know its id, `wingrest find` finds it.
    """
    with desk.open() as store:
        view = view_of(store, desk.rules(), desk.now(store.zone))
        name = names.find(specimen, view.specimens, "specimen").specimen
        (life,) = lives(view, [name])
        lines = history(store, name)
        if form == "json":
            echo_json(life_json(life, lines))
        else:
            click.echo("\n".join(life_lines(life, lines)))
