"""`wingrest plan`: the coming sessions."""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

import click

from scheduler.cli.desk import Desk, F, echo_csv, echo_json, format_option, told_moment, write_file
from scheduler.words import names
from scheduler.words.people import may_work_at, person
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from scheduler.looks.planning import Planning
    from scheduler.planner.best import Effort, SoFar
    from scheduler.planner.problem import PlanProblem, PlanSession, Quality

_CSV = (
    "session specimen board from_mm to_mm relax_from out_by mount_at due clear min_days plan_days"
    " rule_ids basis minutes after reason"
).split(" ")


@dataclass(frozen=True, slots=True)
class _Shown:
    """The part of the plan that is shown."""

    session: str | None = None
    until: date | None = None
    days: int | None = None
    everything: bool = False
    why: str | None = None
    who: str | None = None


def _views(command: F) -> F:
    """Add the options that choose which part of the plan is shown; none of them changes it."""
    for option in (
        click.option(
            "--why", metavar="SPECIMEN", help="Say where one specimen is planned, or why it is not."
        ),
        click.option("--who", metavar="NAME", help="This person's sessions: see session --who."),
        click.option(
            "--all",
            "everything",
            is_flag=True,
            help="Every session's sheet, and for all that has no place the reason.",
        ),
        click.option("--week", is_flag=True, help="The sheets of the next seven days."),
        click.option("--day", is_flag=True, help="Today's sheet."),
        click.option(
            "--until",
            type=click.DateTime(["%Y-%m-%d"]),
            metavar="DATE",
            help="The sheets of the sessions up to that date.",
        ),
    ):
        command = option(command)
    return command


def _makings(command: F) -> F:
    """Add the options that change how the plan is made."""
    for option in (
        click.option(
            "--problem",
            "problem_file",
            type=click.Path(dir_okay=False, path_type=Path),
            metavar="FILE",
            help="Also write what was to be planned, as documented JSON.",
        ),
        click.option(
            "--effort",
            type=click.Choice(["quick", "normal", "thorough"]),
            help="How long to search on from the kept plan.",
        ),
        click.option(
            "--anew",
            is_flag=True,
            help="Forget the kept plan and start over; what somebody decided stays.",
        ),
        click.option(
            "--keep",
            multiple=True,
            metavar="SPECIMEN",
            help="Keep the planned place of this specimen.",
        ),
        click.option("--at", metavar="MOMENT", help="Plan a free evening instead, beginning then."),
        click.option("--minutes", type=click.IntRange(min=1), help="How long the free evening is."),
    ):
        command = option(command)
    return command


@click.command()
@click.argument("session", required=False, metavar="[SESSION]")
@_views
@_makings
@format_option
@click.pass_obj
def command(
    desk: Desk, session: str | None, until: datetime | None, day: bool, week: bool,
    everything: bool, who: str | None, why: str | None, problem_file: Path | None,
    effort: Effort | None, anew: bool, keep: tuple[str, ...], at: str | None,
    minutes: int | None, form: str,
) -> None:  # fmt: skip
    """Plan the coming sessions: who goes where and when, and what into the chamber.

    Shows the next session's sheet and a line for each later one; plan SESSION shows that one. A
    sheet says what goes into the chamber and comes out when, which boards to test and take off
    first, who goes where on which board, and what to write on the strips.

    The plan is kept: it stays while the record is unchanged; after a change it is mended, and you
    are told what moved. Ctrl-C gives the best plan so far.

    With --at and --minutes it plans a free evening instead, with what is soft or limp by then; it
    keeps nothing, and says how to record what you mounted.
    """
    if at is not None or minutes is not None:
        if at is None or minutes is None or until is not None:
            raise BadInput("a free evening needs --at and --minutes, and no --until")
        _free_evening(desk, at, minutes, problem_file, form)
        return
    days = 6 if week else 0 if day else None
    shown = _Shown(session, until.date() if until else None, days, everything, why, who)
    _plan(desk, (effort, anew, keep), problem_file, lambda made: _show(made, form, shown))


def _plan(
    desk: Desk,
    how: tuple[Effort | None, bool, tuple[str, ...]],
    problem_file: Path | None,
    show: Callable[[Planning], None],
) -> None:
    from scheduler.deeds.plan import PlanWish, plan

    rules, wish = desk.rules(), PlanWish(*how)
    with _first_ctrl_c_stops_the_search() as stop:
        wish = replace(wish, stop=stop)
        with desk.open() as store:
            now = desk.now(store.zone)
            made = _with_bar(lambda bar: plan(store, rules, now, replace(wish, progress=bar)))
            _write_problem(made.problem, problem_file)
            show(made)


def _show(made: Planning, form: str, shown: _Shown) -> None:
    from scheduler.faces.planning_json import planning_json
    from scheduler.faces.sheet import plan_lines, session_lines, why_lines
    from scheduler.looks.sheet import session_sheet

    if form == "json":
        echo_json(planning_json(made))
    elif form == "csv":
        echo_csv(_flat(planning_json(made)), _CSV)
    elif shown.why is not None:
        specimen = names.find(shown.why, made.view.specimens, "specimen").specimen
        click.echo("\n".join(why_lines(made, specimen)))
    elif shown.session is not None:
        ahead = {s.session: s for s in made.problem.sessions}
        wanted = names.find(shown.session, ahead, "session ahead")
        click.echo("\n".join(session_lines(session_sheet(made, wanted))))
    else:
        sessions = made.view.sessions
        who = None if shown.who is None else person(shown.who, sessions.values())
        mine = [s for s in made.problem.sessions if may_work_at(sessions[s.session], who)]
        full = _in_full(made, shown, mine)
        click.echo("\n".join(plan_lines(made, full, mine, whole=shown.everything)))


def _in_full(made: Planning, shown: _Shown, sessions: Sequence[PlanSession]) -> set[str]:
    """Return the sessions whose sheets are shown; by default the next one that has any work."""
    if shown.everything:
        return {s.session for s in sessions}
    until = shown.until
    if shown.days is not None:
        until = made.view.now.date() + timedelta(days=shown.days)
    if until is not None:
        return {s.session for s in sessions if s.on <= until}
    busy = {p.session for p in made.plan.placements}
    return {s.session for s in [*(s for s in sessions if s.session in busy), *sessions][:1]}


@contextmanager
def _first_ctrl_c_stops_the_search() -> Iterator[Callable[[], bool]]:
    """Yield a function that tells whether Ctrl-C was pressed; pressed twice, it ends everything."""
    pressed: list[int] = []
    before = signal.getsignal(signal.SIGINT)

    def note(number: int, _: FrameType | None) -> None:
        pressed.append(number)
        # The second Ctrl-C must not wait for a solver that is at work: it ends the process at once,
        # and SQLite takes back what is half written.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        click.echo("Stopping with the best plan so far; Ctrl-C again gives it up.", err=True)

    if not callable(before):  # the program was started so that no Ctrl-C reaches it
        yield lambda: False
        return
    signal.signal(signal.SIGINT, note)
    try:
        yield lambda: bool(pressed)
    finally:
        signal.signal(signal.SIGINT, before)


def _with_bar(work: Callable[[SoFar | None], Planning]) -> Planning:
    """Show on a terminal how far the search is; Ctrl-C gives the best plan so far."""
    if not sys.stderr.isatty():
        return work(None)
    with click.progressbar(length=100, label="planning", file=sys.stderr) as bar:

        def show(part: float, _: Quality, gap: float | None) -> None:
            bar.label = "planning" if gap is None else f"planning, at most {100 * gap:.1f} % off"
            bar.update(max(0, round(100 * part) - bar.pos))

        return work(show)


def _free_evening(desk: Desk, at: str, minutes: int, problem_file: Path | None, form: str) -> None:
    from scheduler.faces.sheet import evening_lines
    from scheduler.looks.evening import evening
    from scheduler.planner.problem_json import plan_to_json

    with desk.view() as view:
        then = told_moment(at, view.zone, "--at")
        made = evening(view, then, minutes)
        _write_problem(made.planning.problem, problem_file)
        facts = plan_to_json(made.planning.problem, made.planning.plan)
        if form == "json":
            echo_json({**facts, "gently": list(made.gently), "record": list(made.commands)})
        elif form == "csv":
            echo_csv(_flat(facts), _CSV)
        else:
            click.echo("\n".join(evening_lines(made)))


def _write_problem(problem: PlanProblem, path: Path | None) -> None:
    from scheduler.planner.problem_json import problem_to_json

    if path is not None:
        text = json.dumps(problem_to_json(problem), ensure_ascii=False, indent=2)
        write_file(path, (text + "\n").encode())


def _flat(facts: dict[str, Any]) -> list[dict[str, object]]:
    rows = [
        {"session": session["session"], **placement}
        for session in facts["sessions"]
        for placement in session["placements"]
    ]
    return [*rows, *facts["unplaced"]]
