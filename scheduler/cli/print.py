"""`wingrest print`: what is needed on paper, as PDF, true to scale."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from scheduler.cli.desk import Desk, at_option, say_outcome, write_file
from scheduler.cli.recording import recording
from scheduler.words import wording
from scheduler.words.problems import BadInput, Problem

if TYPE_CHECKING:
    from scheduler.looks.life import Life
    from scheduler.paper.labels import LabelKind
    from scheduler.paper.pages import Pages, Paper

_PAPER = click.option(
    "--paper",
    type=click.Choice(("a4", "letter")),
    default="a4",
    show_default=True,
    help="The paper's size.",
)


def _output(name: str) -> click.Option:
    return click.Option(
        ("-o", "--output"),
        type=click.Path(dir_okay=False, path_type=Path),
        default=Path(f"{name}.pdf"),
        show_default=True,
        help="The PDF to write.",
    )


@click.group()
def command() -> None:
    """Make PDFs to print: slips, strips, a session's sheet, the pull list, labels.

    Every page is true to scale; print at 100 % and measure the bar at its foot.
    """


@command.command()
@click.argument("names", nargs=-1, metavar="[SPECIMEN|LOT]...")
@click.option(
    "--only",
    type=click.Choice(("data", "name", "number")),
    multiple=True,
    help="Only these labels of each.",
)
@click.option("--label-mm", default="18x8", show_default=True, help="How large a label is.")
@click.option(
    "--incomplete", is_flag=True, help="Print labels without locality, date or collector too."
)
@_PAPER
@at_option
@click.pass_obj
def labels(
    desk: Desk,
    names: tuple[str, ...],
    only: tuple[LabelKind, ...],
    label_mm: str,
    incomplete: bool,
    paper: Paper,
    at: str | None,
    output: Path,
) -> None:
    """Print permanent labels: data, name and determiner, the collection's number.

    Without a name it prints those of all that came off and have none yet; it is recorded that they
    have labels now. What does not fit is made smaller down to 4 points, then shortened by stated
    rules, then reported: nothing is cut.
    """
    from scheduler.deeds.print_labels import print_labels

    printed = _Labels(only, _millimetres(label_mm), paper, output)
    with recording(desk, at) as (store, when):
        outcome = print_labels(
            store, desk.rules(), names, printed.write, when, incomplete=incomplete
        )
    say_outcome(outcome)
    for note in printed.notes:
        click.echo("\n".join(wording.wrapped(note, "", "    ")))


class _Labels:
    """The file of labels, and what to tell of it once it is recorded."""

    def __init__(
        self, only: Sequence[LabelKind], mm: tuple[float, float], paper: Paper, output: Path
    ) -> None:
        self.only, self.mm, self.paper, self.output = only, mm, paper, output
        self.notes: list[str] = []

    def write(self, found: Sequence[Life]) -> None:
        """Write the labels. Raises BadInput, naming all, where some cannot be printed."""
        from scheduler.deeds.print_labels import said_briefly
        from scheduler.paper.labels import LABEL_KINDS, LabelSize, label_pages, lay_labels

        size = LabelSize(*self.mm)
        kinds = [kind for kind in LABEL_KINDS if kind in (self.only or LABEL_KINDS)]
        laid, troubles = lay_labels([life.specimen for life in found], kinds, size)
        if troubles:
            problems = [
                Problem(t.specimen, None, t.kind, None, t.reason, t.remedy) for t in troubles
            ]
            count = wording.counted(len(troubles), "label")
            raise BadInput(f"{count} cannot be printed; nothing was printed", problems)
        pages = label_pages(laid, size, self.paper)
        write_file(self.output, pages.to_bytes())
        said = f"{wording.counted(len(laid), 'label')} on {wording.counted(pages.count, 'page')}"
        self.notes = [f"  {said}: {self.output}"]
        for rule in dict.fromkeys(r for label in laid for r in label.fitted.shortened):
            whose = [label.specimen for label in laid if rule in label.fitted.shortened]
            briefly = said_briefly(list(dict.fromkeys(whose)))
            self.notes.append(f"  shortened to fit: {rule} ({briefly})")


labels.params.append(_output("labels"))


def _millimetres(text: str) -> tuple[float, float]:
    """Return width and height of a label [mm]. Raises BadInput for what is no such size."""
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*[x×]\s*(\d+(?:[.,]\d+)?)\s*", text)
    if found is None:
        raise BadInput(f"--label-mm {text!r} is no size. Write width x height: 18x8")
    wide, high = (float(part.replace(",", ".")) for part in found.groups())
    if not (5 <= wide <= 100 and 3 <= high <= 60):
        raise BadInput(f"--label-mm {text!r}: a label is 5-100 mm wide and 3-60 mm high")
    return wide, high


@command.command()
@click.argument("session", required=False)
@click.option("--standing", is_flag=True, help="Of all that stands on boards, not of a session.")
@_PAPER
@click.pass_obj
def slips(desk: Desk, session: str | None, standing: bool, paper: Paper, output: Path) -> None:
    """Print slips for the board: number, taxon, sex, dates, place, and a code for the camera.

    They are for what is planned for a session, the next one if you name none.
    """
    from scheduler.looks.session_day import session_asked, session_day, standing_slips
    from scheduler.paper.slips import slip_pages

    with desk.view() as view:
        if standing:
            found = standing_slips(view)
        else:
            found = session_day(view, session_asked(view, session)).slips
    if not found:
        raise BadInput("nothing stands on any board. Nothing was printed")
    _written(slip_pages(found, paper), output, wording.counted(len(found), "slip"))


slips.params.append(_output("slips"))


@command.command()
@click.argument("names", nargs=-1, metavar="[SESSION|BOARD...]")
@_PAPER
@click.pass_obj
def strips(desk: Desk, names: tuple[str, ...], paper: Paper, output: Path) -> None:
    """Print one strip a board, its groove 1:1 with the places marked.

    They are for the boards of a session (the next one if you name none), or for the boards that you
    name, with all that is planned for them.
    """
    from scheduler.looks.session_day import board_then, session_asked, session_day, slip_of
    from scheduler.paper.slips import strip_pages
    from scheduler.words import names as known_names

    with desk.view() as view:
        boards = [known_names.lookup(name, view.boards) for name in names]
        if names and all(boards):
            planned = [slip_of(view, p) for p in view.planned]
            found = {b.board: board_then(view, b.board, planned) for b in boards if b}
        else:
            asked = session_asked(view, names[0] if names else None)
            found = dict(session_day(view, asked).boards)
        lengths = {name: view.boards[name].length_mm for name in found}
    _written(strip_pages(found, lengths, paper), output, wording.counted(len(found), "strip"))


strips.params.append(_output("strips"))


@command.command()
@click.argument("session", required=False)
@_PAPER
@click.pass_obj
def sheet(desk: Desk, session: str | None, paper: Paper, output: Path) -> None:
    """Print a session's sheet: chamber, tests, mounting order, boards, pins, strips, cautions.

    Without a name it is the next session for which something is planned.
    """
    from scheduler.looks.session_day import session_asked, session_day
    from scheduler.paper.sheets import session_pages

    with desk.view() as view:
        day = session_day(view, session_asked(view, session))
    _written(session_pages(day, paper), output, f"session {day.session.session}")


sheet.params.append(_output("sheet"))


@command.command()
@click.argument("session", required=False)
@_PAPER
@click.pass_obj
def pull(desk: Desk, session: str | None, paper: Paper, output: Path) -> None:
    """Print the pull list: by freezer box, what to take out for the chamber.

    It is for the next evening on which something goes in, or for a whole session.
    """
    from scheduler.looks.session_day import pull_list, session_asked
    from scheduler.paper.sheets import pull_pages

    with desk.view() as view:
        which = session_asked(view, session).session if session else None
        pulls = pull_list(view, which)
    if not pulls:
        raise BadInput("nothing is planned to go into the chamber. Nothing was printed")
    _written(pull_pages(pulls, paper), output, wording.counted(len(pulls), "specimen"))


pull.params.append(_output("pull"))


def _written(pages: Pages, output: Path, what: str) -> None:
    write_file(output, pages.to_bytes())
    click.echo(f"{what} on {wording.counted(pages.count, 'page')}: {output}")
