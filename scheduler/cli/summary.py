"""`wingrest summary`: what came of a season."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option, write_file
from scheduler.faces.summary import BOARDS_HEAD, boards_used, summary_head, summary_said
from scheduler.intake.batch import cells
from scheduler.intake.typed import Words
from scheduler.looks.summary import SeasonSummary, summary, the_season
from scheduler.record.history import known_since, lost_at
from scheduler.view import View, view_of
from scheduler.words import wording

_CSV = ("board", "groove_mm", "used_pct", "empty_days")


@click.command()
@click.argument("first", metavar="FROM", required=False)
@click.argument("last", metavar="TO", required=False)
@click.option(
    "--pdf",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Print it: write this PDF, true to scale.",
)
@format_option
@click.pass_obj
def command(desk: Desk, first: str | None, last: str | None, pdf: Path | None, form: str) -> None:
    """Sum up a season: mounted, lost, drooped, use of boards, what one more would save.

    For example: summary 2027-04-01 2027-09-30. Both days count. Without them it covers the last
    year, but nothing before your first mounting; without TO it goes up to today.
    """
    with desk.open() as store:
        view = view_of(store, desk.rules(), desk.now(store.zone))
        begin, end = _asked(first, last, view)
        found = summary(view, begin, end, lost_at(store), known_since(store))
    if pdf is not None:
        from scheduler.paper.summary import summary_pages

        write_file(pdf, summary_pages(found).to_bytes())
        click.echo(f"{pdf} written: {summary_head(found)}")
    elif form == "json":
        echo_json(_json(found))
    elif form == "csv":
        echo_csv([b._asdict() for b in found.boards], _CSV)
    else:
        click.echo("\n".join(_lines(found)))


def _asked(first: str | None, last: str | None, view: View) -> tuple[date, date]:
    words = Words("summary")
    end = words.read("TO", last, cells.calendar_day) or view.now.date()
    begin = words.read("FROM", first, cells.calendar_day) or the_season(view, end)[0]
    if end < begin:
        words.fault("TO", last, f"is before {begin}", "Give the first day, then the last")
    words.raise_if_any()
    return begin, end


def _lines(found: SeasonSummary) -> list[str]:
    lines = [summary_head(found)]
    for text in summary_said(found):
        lines += wording.wrapped(text, "  ", "    ")
    if found.boards:
        lines += ["", *wording.table(BOARDS_HEAD, boards_used(found), frozenset({1, 2, 3}))]
    return lines


def _json(found: SeasonSummary) -> dict[str, object]:
    return found._asdict() | {
        "first": found.first.isoformat(),
        "last": found.last.isoformat(),
        "boards": [b._asdict() for b in found.boards],
        "further": [f._asdict() for f in found.further],
    }
