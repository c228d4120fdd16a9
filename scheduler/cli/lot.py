"""`wingrest lot`: what the specimens of one rearing have in common."""

from __future__ import annotations

from collections import Counter

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.lot import amend_lot, lots_of
from scheduler.looks.life import lives
from scheduler.view import View
from scheduler.words import names, wording
from scheduler.words.label import data_label


@click.command()
@click.argument("lot", required=False)
@click.argument("corrections", nargs=-1, metavar="[COLUMN=VALUE]...")
@at_option
@click.pass_obj
def command(desk: Desk, lot: str | None, corrections: tuple[str, ...], at: str | None) -> None:
    """Show lots, or record what a whole lot shares: label, host, emergence, box.

    \b
    wingrest add hawkmoth --count 14 --wingspan 90 --lot R-27 --as R-27
    wingrest lot R-27 emerged_on=2027-07-18/22 lifeStage=larva host_seen=fed

    What was reared carries two dates: eventDate, when the immature stage was found (lifeStage says
    which stage), and emerged_on, when the adult emerged. host_seen says how the host is known: fed
    (seen feeding), bred, or found. If you mount by the lot's name, the next of its numbers is
    taken.
    """
    if lot is not None and corrections:
        with recording(desk, at) as (store, when):
            outcome = amend_lot(store, lot, corrections, when)
        say_outcome(outcome)
        return
    with desk.view() as view:
        known = lots_of(view.facts)
        wanted = known if lot is None else [k for k in known if k.casefold() == lot.casefold()]
        if lot is not None and not wanted:
            names.find(lot, known, "lot")
        lines = [line for name in wanted for line in _lines(view, name)]
    click.echo("\n".join(lines) or "The record holds no lot yet.")


_SAID = {"waits": "waiting"}


def _lines(view: View, lot: str) -> list[str]:
    members = lots_of(view.facts)[lot]
    ids = [s.specimen for s in members]
    stages = Counter(life.stage for life in lives(view, ids))
    what = members[0].taxon or members[0].group or members[0].family or ""
    span = ids[0] if len(ids) == 1 else f"{ids[0]} to {ids[-1]}"
    said = ", ".join(f"{count} {_SAID.get(stage, stage)}" for stage, count in stages.items())
    labels = dict.fromkeys(data_label(s).text for s in members)
    lines = [f"{lot}: {what}, {wording.counted(len(ids), 'specimen')} ({span}): {said}"]
    return [*lines, *(line for text in labels for line in wording.wrapped(text, "  ", "    "))]
