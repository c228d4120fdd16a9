"""`wingrest photo`: a picture of a specimen, kept beside the record."""

from __future__ import annotations

from pathlib import Path

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.photo import keep_photo
from scheduler.words.problems import BadInput


@click.command()
@click.argument("specimen")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@at_option
@click.pass_obj
def command(desk: Desk, specimen: str, file: Path, at: str | None) -> None:
    """Keep a photo of a specimen: a copy beside the record, shown on its page.

    JPEG, PNG, WebP or HEIC. On a phone, its page takes one with the camera.
    """
    try:
        data = file.read_bytes()
    except OSError as error:
        raise BadInput(f"{file} cannot be read ({error.strerror}). Name another") from error
    with recording(desk, at) as (store, when):
        outcome = keep_photo(store, specimen, data, when)
    say_outcome(outcome)
