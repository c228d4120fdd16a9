"""`wingrest demo`: the whole job on one folder, in a throw-away record."""

from __future__ import annotations

import tempfile
from collections import Counter
from pathlib import Path

import click

from scheduler.cli.desk import Desk, say_outcome
from scheduler.record.snapshot import Snapshot

_SHEETS = 3
"""So many session sheets say enough of a demonstration."""


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    help="Where to put record, sheet and calendar; by default a new temporary folder.",
)
@click.pass_obj
def command(desk: Desk, folder: Path, into: Path | None) -> None:
    """Try the whole job on a folder, in a throw-away record.

    Load, plan, session sheet, the answer for one board, calendar. Nothing of it touches your
    own record. The time it is comes from --now, else from the folder's settings.toml.
    """
    from scheduler.cli.ready import charts, said
    from scheduler.deeds.load import load
    from scheduler.deeds.plan import PlanWish, plan
    from scheduler.faces.sheet import plan_lines, session_lines
    from scheduler.feed.calendars import record_calendar
    from scheduler.intake.batch.settings import demo_now
    from scheduler.looks.ready import evidence, ready
    from scheduler.record.deed import When
    from scheduler.record.store import Store
    from scheduler.view import view_of

    place = into or Path(tempfile.mkdtemp(prefix="wingrest-demo-"))
    rules = desk.rules()
    with Store(place / "record.sqlite") as store:
        now = demo_now(folder) if desk.now_text is None else None
        now = now or desk.now(store.zone)
        outcome = load(store, rules, folder, When(now, now, desk.who))
        _heading("Loaded", "wingrest load FOLDER")
        say_outcome(outcome)
        made = plan(store, rules, now, PlanWish(effort="quick"))
        _heading("The plan", "wingrest plan")
        click.echo("\n".join(plan_lines(made, rules, sheets=_SHEETS)))
        first = made.problem.sessions[0] if made.problem.sessions else None
        sheet = place / "session-sheet.txt"
        if first is not None:
            lines = session_lines(made.problem, made.plan, first, made.snap, rules)
            sheet.write_text("\n".join(lines) + "\n", encoding="utf-8")
        view = view_of(store, rules, now)
        for board in _boards_to_ask(made.snap):
            _heading(f"Can I free board {board} yet", f"wingrest ready {board} --chart")
            found = ready(view, [board])
            click.echo("\n".join(said(found, evidence(view, found))))
            room = made.snap.room_of(board)
            if room is not None and made.snap.air_days.get(room.room):
                click.echo("\n".join(charts(view, found)))
        (place / "wingrest.ics").write_bytes(record_calendar(store, rules))
    _heading("Where everything is", None)
    click.echo(f"record         {place / 'record.sqlite'}")
    if first is not None:
        click.echo(f"session sheet  {sheet}")
    click.echo(f"calendar       {place / 'wingrest.ics'}")


def _heading(text: str, command_line: str | None) -> None:
    said = f"{text}  ({command_line})" if command_line else text
    click.echo(f"\n--- {said} ".ljust(81, "-"))


def _boards_to_ask(snap: Snapshot) -> list[str]:
    """Return the boards whose answers say most: in measured air up to two, else the fullest."""
    counts = Counter(p.board for p in snap.standing())
    fullest = sorted(counts, key=lambda b: (-counts[b], b))
    rooms = {b: room.room for b in fullest if (room := snap.room_of(b)) is not None}
    measured = [b for b in fullest if snap.air_days.get(rooms.get(b, ""))]
    return measured[:2] or fullest[:1]
