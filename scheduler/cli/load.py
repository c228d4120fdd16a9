"""`wingrest load`: a folder of tables into the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from scheduler.cli.asking import ask_each, given_answers
from scheduler.cli.desk import Desk, asked_by_a_person, say_outcome
from scheduler.words.problems import BadInput

if TYPE_CHECKING:
    from scheduler.deeds.load import Unsure, Wish


@click.command()
@click.argument("folder", type=click.Path(exists=True, path_type=Path))
@click.option(
    "--skip-bad",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Load the good rows, and write the bad ones with their reasons to FILE.",
)
@click.option(
    "--decimal",
    type=click.Choice(["comma", "point"]),
    help="The decimal sign, where a table does not show it.",
)
@click.option(
    "--dates",
    type=click.Choice(["day-first", "month-first"]),
    help="What 8.5.2027 means, where a table does not show it.",
)
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="TITLE=COLUMN",
    help="What a column of a list means: Dose=box. Dose=note keeps it as a note, Dose=- leaves it "
    "out.",
)
@click.option(
    "--columns",
    "in_order",
    metavar="NAME,NAME,...",
    help="What the columns of a list without titles are, in their order.",
)
@click.option(
    "--answer",
    "answers",
    multiple=True,
    metavar="KEY=WORD",
    help="Answer beforehand what would be asked; FILE:KEY=WORD for one file.",
)
@click.option("--yes", is_flag=True, help="Agree to what was understood, without a question.")
@click.option("--preview", is_flag=True, help="Show what was understood; load nothing.")
@click.option(
    "--take",
    type=click.Choice(["file", "record"]),
    help="Which value counts where both file and record were changed.",
)
@click.pass_obj
def command(desk: Desk, /, folder: Path, **options: Any) -> None:
    """Load a folder of tables into the record.

    The tables are rooms, boards, specimens, sessions and mounted: each a file (specimens.csv,
    specimens.xlsx) or a sheet of that name in one workbook. FOLDER may also be one such file.
    Each table shows by itself whether its cells are separated by commas, semicolons or tabs,
    whether it has decimal commas, and in which order its dates are written; what was found is
    shown.

    A list of your own is read too, with English or German titles, units, and lines above the
    header. What was understood is shown before anything is written: agree at the question, or with
    --yes in a script; without either the exit status is 2. What a list leaves open is asked one by
    one, such as what its columns are where it has no titles; a script answers with --columns or
    --answer. Rows without an id are given one, by their box and a running number. What you agreed
    to is kept in columns.toml beside the list, and not asked again. Tables in the form that the
    README shows, in which every cell says what it means, are loaded without a question.

    All problems of all files are listed at once (exit status 2), and nothing is loaded then.
    Nothing is removed because the folder does not mention it. Loading the folder again changes
    nothing and overwrites no correction made in the record since: both values are named. Where file
    and record were both changed, --take decides.

    With --skip-bad, rows that have a problem, or depend on such a row, are left out, and the exit
    status is 0. If FILE ends in .csv, it takes the rows of one table; any other name becomes a
    folder with one file for each table. Correct the cells there and load that: its columns file,
    row and problems are not read.

    A folder that `wingrest export` wrote is a whole record: it goes into an empty one, with its
    journal, its dates and all that phones were told.
    """
    from scheduler.record.imported import is_export

    if is_export(folder):
        _load_export(desk, folder)
    else:
        _load_tables(desk, folder, options)


def _load_tables(desk: Desk, folder: Path, options: Mapping[str, Any]) -> None:
    from scheduler.deeds.load import Unsure, Wish, load
    from scheduler.intake.batch import Told
    from scheduler.intake.batch.settings import folder_zone
    from scheduler.record.deed import When

    only_look = options["preview"]
    wish = Wish(
        Told(
            options["decimal"],
            options["dates"],
            _titles(options["columns"]),
            _in_order(options["in_order"]),
            given_answers(options["answers"]),
        ),
        options["skip_bad"],
        options["yes"] and not only_look,
        options["take"],
        only_look,
    )
    with desk.open() as store:
        seen = store.latest_line()
        snap = store.snapshot()
        # An empty record has no time zone yet: the batch brings its own.
        now = desk.now(snap.zone if snap.latest else folder_zone(folder))
        when, rules = When(now, now, desk.who, seen), desk.rules()
        outcome = None
        while outcome is None:
            try:
                outcome = load(store, rules, folder, when, wish)
            except Unsure as unsure:
                _show(unsure)
                if only_look:
                    return
                wish = _settled(unsure, wish)
    say_outcome(outcome)


def _show(unsure: Unsure) -> None:
    from scheduler.faces.preview import batch_preview_lines

    click.echo("\n".join(batch_preview_lines(unsure.batch)))


def _settled(unsure: Unsure, wish: Wish) -> Wish:
    """Ask a person what a list leaves open, then whether it is right; a script gets Unsure."""
    questions = unsure.batch.questions
    opened = [question for question in questions if question.open]
    if not asked_by_a_person():
        raise unsure
    if not opened:
        free = [question for question in questions if len(question.options) > 1]
        words = ["yes", "no", "change"] if free else ["yes", "no"]
        answer = click.prompt(
            "Load it like this?", type=click.Choice(words), default="no", err=True
        )
        if answer == "yes":
            return replace(wish, sure=True, shown=True, only_look=False)
        if answer == "no":
            raise BadInput("stopped: nothing was loaded")
        opened = free
    answers = {**wish.told.answers, **ask_each(opened)}
    told = replace(wish.told, answers=answers)
    # The answers are shown once more before they count, unless everything was agreed to already.
    return replace(wish, told=told, shown=True, only_look=not wish.sure)


def _load_export(desk: Desk, folder: Path) -> None:
    from scheduler.deeds.photo import EXPORTED, copy_photos
    from scheduler.record.imported import read_export
    from scheduler.record.pictures import photos_folder
    from scheduler.record.restoring import bring_in, refuse_unless_empty

    refuse_unless_empty(desk.store_path)
    with read_export(folder) as memory:
        made = bring_in(desk.store_path, memory)
    photos = copy_photos(folder / EXPORTED, photos_folder(desk.store_path))
    with_photos = f", and {photos} photos" if photos else ""
    click.echo(f"{folder}: a whole record, up to journal line {made.line}{with_photos}")
    click.echo("  calendar and bench page get new addresses: wingrest serve shows them")


def _in_order(said: str | None) -> tuple[str, ...]:
    return tuple(name.strip() for name in said.split(",")) if said else ()


def _titles(said: tuple[str, ...]) -> dict[str, str]:
    """Return what --column said, by title. Raises BadInput for what is no TITLE=COLUMN."""
    titles = {}
    for text in said:
        title, equals, column = text.rpartition("=")
        if not equals or not title.strip():
            raise BadInput(f"--column {text!r} is not TITLE=COLUMN. Write it as in Dose=box")
        titles[title.strip()] = column.strip()
    return titles
