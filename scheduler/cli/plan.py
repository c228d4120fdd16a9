"""`wingrest plan`: the coming sessions."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option, write_file

_CSV = (
    "session specimen board from_mm to_mm relax_from out_by mount_at due clear min_days plan_days"
    " rule_ids basis minutes after reason"
).split(" ")


@click.command()
@click.option(
    "--until", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="Sessions up to that date."
)
@click.option(
    "--problem",
    "problem_file",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Also write what was to be planned, as documented JSON.",
)
@format_option
@click.pass_obj
def command(desk: Desk, until: datetime | None, problem_file: Path | None, form: str) -> None:
    """Plan the coming sessions: who, where, when, what into the chamber.

    Says per session what goes in and comes out when, which boards to test and take off first,
    who goes on which board and where on it, and what to write on the strips; and why the
    others wait.
    """
    from scheduler.bench.plan import plan
    from scheduler.planner.problem_json import plan_to_json, problem_to_json
    from scheduler.sheet import plan_lines

    rules = desk.rules()
    with desk.open() as store:
        now = desk.now(store.snapshot().zone)
        made = plan(store, rules, now, until and until.date())
    if problem_file is not None:
        text = json.dumps(problem_to_json(made.problem), ensure_ascii=False, indent=2)
        write_file(problem_file, (text + "\n").encode())
    if form == "table":
        click.echo("\n".join(plan_lines(made.problem, made.plan, made.by_hand, made.snap, rules)))
        return
    facts = plan_to_json(made.problem, made.plan, by_hand=made.by_hand)
    if form == "json":
        echo_json(facts)
    else:
        echo_csv(_flat(facts), _CSV)


def _flat(facts: dict[str, Any]) -> list[dict[str, object]]:
    rows = [
        {"session": session["session"], **placement}
        for session in facts["sessions"]
        for placement in session["placements"]
    ]
    return [*rows, *facts["unplaced"]]
