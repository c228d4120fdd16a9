"""`wingrest add`: specimens at the bench, without a file."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.add import OPTIONS, Typed, add
from scheduler.words.records import State

_COLUMNS = {option[2:].replace("-", "_"): column for column, option in OPTIONS.items()}


@click.command()
@click.argument("group", metavar="GROUP")
@click.option(
    "--count", default="1", metavar="N", help="How many there are that are alike; 1 if not said."
)
@click.option("--fresh", is_flag=True, help="Just killed; it waits from today on, or from --at.")
@click.option(
    "--frozen", is_flag=False, flag_value="", metavar="[DATE]", help="From the freezer, since DATE."
)
@click.option("--dried", is_flag=True, help="Papered or pinned dry.")
@click.option("--wingspan", metavar="MM", help="Tip to tip when spread.")
@click.option("--body", metavar="MM", help="Width of the thorax.")
@click.option("--forewing", metavar="MM", help="Length of one forewing.")
@click.option("--size", metavar="WORD", help="slender, medium, stout or very stout.")
@click.option("--groove", metavar="MM", help="The groove you would use.")
@click.option("--taxon", metavar="NAME", help="Its genus or species.")
@click.option("--family", metavar="NAME", help="Its family, if the group does not tell.")
@click.option("--priority", metavar="1-10", help="10 is the most urgent.")
@click.option("--wanted-by", metavar="DATE", help="The date by which it must be off the board.")
@click.option("--spoils-by", metavar="DATE", help="The date by which it must be mounted.")
@click.option("--box", metavar="NAME", help="The box, tray or bag they lie in.")
@click.option("--lot", metavar="NAME", help="They share one label, as a brood does.")
@click.option("--as", "prefix", metavar="PREFIX", help="Begin the ids with this: S makes S-01.")
@click.option(
    "--label",
    "labels",
    multiple=True,
    metavar="TERM=VALUE",
    help="One piece of data for the label.",
)
@at_option
@click.pass_obj
def command(
    desk: Desk,
    /,
    group: str,
    count: str,
    fresh: bool,
    frozen: str | None,
    dried: bool,
    prefix: str | None,
    labels: tuple[str, ...],
    at: str | None,
    **sizes_and_dates: str | None,
) -> None:
    """Record specimens at the bench, without a file.

    For example: add owlet --count 12 --wingspan 38 --fresh, for twelve that are alike. GROUP is a
    family or an everyday word. Each is given an id, which is shown. Protected species and permits:
    local law comes first.
    """
    came: dict[State, bool] = {"fresh": fresh, "frozen": frozen is not None, "dried": dried}
    typed = Typed(
        group=group,
        count=count,
        states=tuple(state for state, given in came.items() if given),
        frozen_on=frozen or "",
        prefix=prefix,
        texts={_COLUMNS[name]: text for name, text in sizes_and_dates.items() if text is not None},
        labels=labels,
    )
    with recording(desk, at) as (store, when):
        outcome = add(store, desk.rules(), typed, when)
    say_outcome(outcome)
