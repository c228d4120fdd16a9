"""`wingrest backup`: a snapshot now, and where snapshots go."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option, say_problem
from scheduler.record.pictures import beside_copy, copy_pictures, photos_folder
from scheduler.record.snapshots import Snapshots, copy_checked, last_line
from scheduler.words import wording
from scheduler.words.problems import BadInput, Refused, WingrestError

if TYPE_CHECKING:
    from scheduler.record.store import Store


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path), required=False)
@click.option("--over", is_flag=True, help="Write FILE even if it is there already.")
@click.option(
    "--into",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="FOLDER",
    help="From now on snapshots go there: a second disk, a synchronised folder.",
)
@click.option("--beside", is_flag=True, help="From now on snapshots go beside the record again.")
@click.option("--list", "listing", is_flag=True, help="List the snapshots that are there.")
@format_option
@click.pass_obj
def command(
    desk: Desk,
    file: Path | None,
    over: bool,
    into: Path | None,
    beside: bool,
    listing: bool,
    form: str,
) -> None:
    """Take a snapshot of the record now, or say where snapshots go.

    It goes into FILE, or else to the automatic snapshots. Those are taken after something was
    recorded (in a large record at most once an hour) and before every upgrade; the last one of each
    of 14 days, 8 weeks and 24 months is kept. Every snapshot is checked before it gets its name.
    Snapshots hold the addresses of calendar and bench page, which work like passwords, and only
    their owner may read them.

    FILE is compressed if its name ends in .gz. Photos are copied into a folder beside it.
    """
    snapshots = Snapshots(desk.store_path)
    if into is not None or beside:
        _choose(snapshots, None if beside else into)
    if listing:
        _list(snapshots, form)
        return
    with desk.open() as store:
        line, _ = last_line(store.db)
        if not line:
            raise Refused("there is nothing recorded yet, and so nothing to keep")
        if file is None:
            taken = snapshots.take(store.db, desk.now(store.zone))
            click.echo(f"{taken.file}: up to journal line {line}, checked")
            return
        _refuse_there(file, desk.store_path, over)
        _copy(store, file)
    click.echo(f"{file}: up to journal line {line}, checked")


def _copy(store: Store, file: Path) -> None:
    try:
        copy_checked(store.db, file)
        copy_pictures(photos_folder(store.path), beside_copy(file))
    except WingrestError:
        raise
    except Exception as error:
        why = getattr(error, "strerror", None) or "its disk refused it"
        raise BadInput(f"{file} cannot be written ({why}). Name another file") from error


def _choose(snapshots: Snapshots, folder: Path | None) -> None:
    try:
        snapshots.choose(folder)
    except OSError as error:
        raise BadInput(
            f"where snapshots go cannot be noted in {snapshots.home} ({error.strerror})"
        ) from error
    click.echo(f"from now on snapshots go to {snapshots.folder()}")


def _refuse_there(file: Path, record: Path, over: bool) -> None:
    if file.exists():
        if file.resolve() == record.resolve():
            raise BadInput(f"{file} is the record itself. Name another file")
        if not over:
            raise Refused(
                f"{file} is there already and was left alone. Name another, or add --over"
            )


def _list(snapshots: Snapshots, form: str) -> None:
    found = snapshots.listed()
    rows: list[dict[str, object]] = [
        {"taken_at": t.taken_at.isoformat(), "line": t.line, "file": str(t.file)} for t in found
    ]
    if form == "json":
        echo_json({"folder": str(snapshots.folder()), "snapshots": rows})
    elif form == "csv":
        echo_csv(rows, ("taken_at", "line", "file"))
    elif not found:
        say_problem(f"no snapshots yet; they go to {snapshots.folder()}")
    else:
        click.echo(f"in {snapshots.folder()}")
        body = [
            (
                f"{wording.with_year(t.taken_at)}, {t.taken_at:%H:%M} UTC",
                str(t.line),
                t.file.name,
            )
            for t in found
        ]
        click.echo("\n".join(wording.table(("taken", "line", "file"), body, frozenset({1}))))
