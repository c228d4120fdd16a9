"""`wingrest export`: all of the record as plain tables."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.desk import Desk


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.pass_obj
def command(desk: Desk, folder: Path) -> None:
    """Write all of the record as plain tables, to keep or to load again.

    There is one CSV file for each table, the journal also as text, and a README that says what is
    what. `wingrest load` of that folder into an empty record makes the same record again. Photos
    are in a folder of their own. Addresses of calendar and bench page, which work like passwords,
    are left out.
    """
    from scheduler.deeds.photo import EXPORTED, copy_photos
    from scheduler.record.export import export
    from scheduler.record.pictures import photos_folder
    from scheduler.words.wording import counted

    with desk.open() as store:
        rows = export(store.db, folder, store.zone, desk.now(store.zone))
    photos = copy_photos(photos_folder(desk.store_path), folder / EXPORTED)
    tables = sum(1 for many in rows.values() if many)
    lines = counted(rows.get("journal", 0), "journal line")
    click.echo(f"{folder}: {counted(tables, 'table')} with {sum(rows.values())} rows, {lines}")
    if photos:
        click.echo(f"  {counted(photos, 'photo')} in {folder / EXPORTED}")
