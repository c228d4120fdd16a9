"""`wingrest demo`: the whole job on one folder, in a throw-away record."""

from __future__ import annotations

import tempfile
from collections import Counter
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import Desk, say_outcome

if TYPE_CHECKING:
    from scheduler.record.store import Store
    from scheduler.rulebook import Rulebook
    from scheduler.view import View

_SHEET = "session-sheet.txt"
_SHEETS = 3
"""So many session sheets are enough for a demonstration."""


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

    It loads the folder, plans, writes a session's sheet, answers for one board and writes a
    calendar. Nothing of this touches your own record. The time it takes as now is --now, or else
    the one in the folder's settings.toml.
    """
    from scheduler.intake.batch.settings import demo_now
    from scheduler.record.store import Store

    place = into or Path(tempfile.mkdtemp(prefix="wingrest-demo-"))
    with Store(place / "record.sqlite") as store:
        now = demo_now(folder) if desk.now_text is None else None
        planned = _load_and_plan(desk, store, folder, now or desk.now(store.zone), place)
        _ask_and_publish(store, desk.rules(), now or desk.now(store.zone), place)
    _heading("Where everything is", None)
    click.echo(f"record         {place / 'record.sqlite'}")
    if planned:
        click.echo(f"session sheet  {place / _SHEET}")
    click.echo(f"calendar       {place / 'wingrest.ics'}")


def _load_and_plan(desk: Desk, store: Store, folder: Path, now: datetime, place: Path) -> bool:
    """Load and plan, and write the first session's sheet; return whether there is one."""
    from scheduler.deeds.load import load
    from scheduler.deeds.plan import PlanWish, plan
    from scheduler.faces.sheet import plan_lines, session_lines
    from scheduler.looks.sheet import session_sheet
    from scheduler.record.deed import When

    outcome = load(store, desk.rules(), folder, When(now, now, desk.who))
    _heading("Loaded", "wingrest load FOLDER")
    say_outcome(outcome)
    made = plan(store, desk.rules(), now, PlanWish(effort="quick"))
    _heading("The plan", "wingrest plan")
    full = {s.session for s in made.problem.sessions[:_SHEETS]}
    click.echo("\n".join(plan_lines(made, full, whole=True)))
    for session in made.problem.sessions[:1]:
        lines = session_lines(session_sheet(made, session))
        (place / _SHEET).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return bool(made.problem.sessions)


def _ask_and_publish(store: Store, rules: Rulebook, now: datetime, place: Path) -> None:
    from scheduler.cli.ready import charts, said
    from scheduler.feed.calendars import record_calendar
    from scheduler.looks.ready import evidence, ready
    from scheduler.view import view_of

    view = view_of(store, rules, now)
    for board in _boards_to_ask(view):
        _heading(f"Can I free board {board} yet", f"wingrest ready {board} --chart")
        found = ready(view, [board])
        click.echo("\n".join(said(found, evidence(view, found), view.now.date())))
        if _is_logged(view, board):
            click.echo("\n".join(charts(view, found)))
    (place / "wingrest.ics").write_bytes(record_calendar(store, rules, now))


def _heading(text: str, command_line: str | None) -> None:
    said = f"{text}  ({command_line})" if command_line else text
    click.echo(f"\n--- {said} ".ljust(81, "-"))


def _boards_to_ask(view: View) -> list[str]:
    """Return the boards whose answers say most: up to two in logged air, else the fullest."""
    counts = Counter(one.board.board for one in view.standing())
    fullest = sorted(counts, key=lambda b: (-counts[b], b))
    return [b for b in fullest if _is_logged(view, b)][:2] or fullest[:1]


def _is_logged(view: View, board: str) -> bool:
    room = view.room_of(board)
    return room is not None and bool(view.facts.air_days_of(room.room))
