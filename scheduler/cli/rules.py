"""`wingrest rules`: the rule tables, one answer explained, and the check of a folder of tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, finite, format_option, warn
from scheduler.looks.days import AIRS_PCT, BODIES_SHOWN_MM, board_time_of, days_in_short, kin_asked
from scheduler.rulebook import BoardTime, Rulebook
from scheduler.words import wording
from scheduler.words.problems import BadInput
from scheduler.words.records import REGIMES, STATES, Regime, State

state_option = click.option(
    "--state",
    type=click.Choice(STATES),
    default="fresh",
    show_default=True,
    help="The state in which it came.",
)
regime_option = click.option(
    "--regime", type=click.Choice(REGIMES), default="room", show_default=True, help="Where."
)


@click.group(invoke_without_command=True)
@click.option("--family", help="A family, a group or a genus; without it, any.")
@state_option
@regime_option
@format_option
@click.pass_context
def command(
    ctx: click.Context, family: str | None, state: State, regime: Regime, form: str
) -> None:
    """Show, explain and check the rule tables.

    By itself it shows the days by body thickness and humidity: test from / count on the slot.
    Without --family it answers for any insect, and lists the families that have a row of their own.
    """
    if ctx.invoked_subcommand is not None:
        return
    rules = ctx.obj.rules()
    cells = [
        (body, rh, board_time_of(rules, family, body, rh, state, regime))
        for body in BODIES_SHOWN_MM
        for rh in (AIRS_PCT if regime == "room" else (None,))
    ]
    if form == "table":
        click.echo("\n".join(_table_lines(rules, family, state, regime, cells)))
        return
    rows: list[dict[str, object]] = [
        {"body_mm": body, "rh_pct": rh, "min_days": t.min_days, "plan_days": t.plan_days}
        for body, rh, t in cells
    ]
    if form == "json":
        kin = kin_asked(rules, family)
        echo_json(
            {
                "family": kin.row.family,
                "found": kin.how,
                "state": state,
                "regime": regime,
                "days": rows,
            }
        )
    else:
        echo_csv(rows, ("body_mm", "rh_pct", "min_days", "plan_days"))


@command.command()
@click.option("--family", help="A family, a group or a genus; without it, any.")
@click.option("--body-mm", type=finite(0.1, 60), required=True, help="Thorax width.")
@click.option("--rh-pct", type=finite(0, 100), help="Humidity of the air.")
@click.option("--temp-c", type=finite(-30, 60), help="Its temperature; the usual one if not said.")
@state_option
@regime_option
@format_option
@click.pass_obj
def explain(
    desk: Desk,
    family: str | None,
    body_mm: float,
    rh_pct: float | None,
    temp_c: float | None,
    state: State,
    regime: Regime,
    form: str,
) -> None:
    """Explain one answer: days, the rules behind it, their basis and sources.

    In JSON the days are null where such air cannot dry such a body.
    """
    if regime == "room" and rh_pct is None:
        raise BadInput("in ordinary air the days depend on the humidity. Give --rh-pct")
    rules = desk.rules()
    time = board_time_of(rules, family, body_mm, rh_pct, state, regime, temp_c)
    if form == "json":
        echo_json(_explained(rules, family, time))
    elif form == "csv":
        sources = [f"{s.source_id} {s.locator}".strip() for s in time.sources]
        row = _explained(rules, family, time) | {"sources": "; ".join(sources)}
        echo_csv(
            [row],
            ("family", "found", "min_days", "plan_days", "rule_ids", "basis", "sources", "note"),
        )
    else:
        click.echo("\n".join(_explain_lines(rules, family, time)))


@command.command()
@click.argument(
    "folder",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    required=False,
    metavar="[DIR]",
)
@click.pass_obj
def check(desk: Desk, folder: Path | None) -> None:
    """Check a folder of rule tables, the shipped ones when none is named.

    Reads every row and proves on a fine grid that neither a thicker body nor damper air ever gives
    a sooner date. A folder of your own rows (named here or with --rules) is checked together with
    the shipped rows that it does not replace; what it adds or makes sooner is said. Exit status 2
    with every fault and its rows.
    """
    from scheduler.rulebook import (
        RULE_FILES,
        added_rows,
        check_rules,
        load_rulebook,
        rules_dir,
        sooner_rows,
    )

    named = folder or desk.own_rules
    whole = named is None or all((named / file).is_file() for file in RULE_FILES)
    place, own = (named or rules_dir(), None) if whole else (rules_dir(), named)
    problems = check_rules(place, own)
    if problems:
        raise BadInput(f"{wording.counted(len(problems), 'fault')} in {own or place}", problems)
    if own is not None:
        book = load_rulebook(own)
        warn([*added_rows(book, own), *sooner_rows(book, own)])
    click.echo(f"{own or place}: no faults" + (", with the shipped tables" if own else ""))


def _explained(rules: Rulebook, family: str | None, time: BoardTime) -> dict[str, object]:
    kin = kin_asked(rules, family)
    return {
        "family": kin.row.family,
        "found": kin.how,
        "min_days": time.min_days,
        "plan_days": time.plan_days,
        "rule_ids": list(time.rule_ids),
        "basis": time.basis,
        "sources": [{"source_id": s.source_id, "locator": s.locator} for s in time.sources],
        "note": time.note,
    }


def _explain_lines(rules: Rulebook, family: str | None, time: BoardTime) -> list[str]:
    kin = kin_asked(rules, family)
    lines = wording.wrapped(f"For {kin.said}. {kin.note}".rstrip())
    if time.min_days is None:
        lines += ["This air gives no time."]
    else:
        lines += [f"Test from day {time.min_days}; count on the slot from day {time.plan_days}."]
    lines.append(f"Basis: {time.basis} (the weakest of the rows used)")
    lines += wording.wrapped(f"Rules: {', '.join(time.rule_ids)}", "", "  ")
    for source in time.sources:
        row = rules.sources[source.source_id]
        said = f"  {source.source_id}: {row.title}, {source.locator}".rstrip(", ")
        lines += wording.wrapped(said, "", "    ")
    if time.note:
        lines += wording.wrapped(time.note)
    return lines


def _table_lines(
    rules: Rulebook,
    family: str | None,
    state: State,
    regime: Regime,
    cells: Sequence[tuple[float, float | None, BoardTime]],
) -> list[str]:
    name = kin_asked(rules, family).said if family else "any family"
    where = {"room": "ordinary air", "desiccant": "desiccant box", "warm": "warm cabinet"}[regime]
    lines = wording.wrapped(
        f"{name}, {state}, {where}: days on the board, test from / count on the slot"
    )
    airs = list(dict.fromkeys(rh for _, rh, _ in cells))
    body = []
    for mm in dict.fromkeys(b for b, _, _ in cells):
        times = [t for b, _, t in cells if b == mm]
        body.append((f"{mm:g} mm", *(days_in_short(t) for t in times)))
    head = ("body", *(f"{rh:g} %" if rh is not None else "days" for rh in airs))
    lines += wording.table(head, body, frozenset(range(1, len(head))))
    lines += ["- : such air cannot be relied on to dry such a body.", ""]
    lines += wording.wrapped(
        "These have a row of their own: "
        + ", ".join(f"{f.family} ({f.groups[0]})" for f in rules.families if f.family != "any")
    )
    return lines
