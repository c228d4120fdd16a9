"""`wingrest check`: is the record sound, and the place where it lies."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option, say_problem
from scheduler.words import wording
from scheduler.words.problems import RecordBusy

if TYPE_CHECKING:
    from scheduler.record.kept import Kept

_HEAD = ("what", "state", "text", "remedy")
_STATUS = {"fine": 0, "see to": 1, "not usable": 4, "damaged": 4}
_SHOWN = {"fine": "", "see to": "NEEDS ATTENTION: "}


@click.command()
@click.option(
    "--salvage",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="Write what can still be read of a damaged record into a new folder.",
)
@format_option
@click.pass_obj
def command(desk: Desk, salvage: Path | None, form: str) -> None:
    """Check that the record, its snapshots and the place where it lies are sound.

    It looks at the file's pages and references, replays the journal against the tables, lets the
    referee check the plan, and looks at the rules, the clock, the time zone, who may read the
    record, the disk it lies on, its free space, and whether the last snapshot can be read back.
    Nothing is changed.

    The exit status is 0 where all is fine, 1 where something needs your attention, 4 where the
    record is damaged or cannot be used.
    """
    if salvage is not None:
        _salvage(desk, salvage)
        return
    from scheduler.looks.check import ToAsk, check_record

    asked = ToAsk(desk.rules, lambda: _kept(desk), desk.view)
    found = check_record(desk.store_path, asked, _now(desk))
    rows: list[dict[str, object]] = [f._asdict() for f in found]
    if form == "json":
        echo_json({"record": str(desk.store_path), "checks": rows})
    elif form == "csv":
        echo_csv(rows, _HEAD)
    else:
        for one in found:
            text = f"{one.what}: {_SHOWN.get(one.state, one.state.upper() + ': ')}"
            click.echo("\n".join(wording.wrapped(text + one.text, "", "    ")))
            for line in one.remedy.splitlines():
                click.echo("\n".join(wording.wrapped(line.strip(), "    ", "      ")))
    click.get_current_context().exit(max(_STATUS[f.state] for f in found))


def _kept(desk: Desk) -> Kept | None:
    from scheduler.record.kept import kept_plan

    with desk.open() as store:
        return kept_plan(store)


def _now(desk: Desk) -> datetime:
    from datetime import UTC

    try:
        with desk.open() as store:
            return desk.now(store.zone)
    except (RecordBusy, KeyError, ValueError):
        return desk.now(UTC)


def _salvage(desk: Desk, folder: Path) -> None:
    from scheduler.record.salvage import salvage

    found = salvage(desk.store_path, folder)
    for one in found:
        if not one.whole:
            more = f", {one.from_journal} more from the journal" if one.from_journal else ""
            say_problem(f"{one.table}: not whole; {one.read} rows read{more}")
    lost = sum(not one.whole for one in found)
    many = sum(one.read + one.from_journal for one in found)
    click.echo(f"{folder}: {many} rows; {lost} of {len(found)} tables are not whole")
    click.echo("  into a new record: wingrest --store NEW.sqlite load FOLDER")
