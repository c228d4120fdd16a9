"""What every command needs from its surroundings: record, rules, clock, formats."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from scheduler.words import wording
from scheduler.words.problems import BadInput
from scheduler.words.tuples import NamedTuple

if TYPE_CHECKING:
    from scheduler.deeds.outcome import Outcome
    from scheduler.record.store import Store
    from scheduler.rulebook import Rulebook
    from scheduler.view import View

F = TypeVar("F", bound=Callable[..., Any])

FORMATS = ("table", "csv", "json")


class Desk(NamedTuple):
    """The options that stand before every command."""

    store: Path | None
    now_text: str | None
    who: str | None
    own_rules: Path | None
    clock_is_right: bool = False

    @property
    def store_path(self) -> Path:
        """Return where the record is: as told, or the person's own."""
        return self.store or Path(click.get_app_dir("wingrest")) / "record.sqlite"

    def open(self) -> Store:
        """Open the record."""
        from scheduler.record.store import Store

        store = Store(self.store_path)
        store.asks_clock = self.now_text is None
        store.confirm_clock = self.confirm_clock
        return store

    def confirm_clock(self, question: str) -> bool:
        """Ask whether the clock is right. Raises BadInput where nobody can be asked."""
        if self.clock_is_right:
            return True
        if not asked_by_a_person():
            raise BadInput(
                f"{question} Nobody is there to be asked, and nothing was recorded. A script"
                " that knows says: wingrest --clock-is-right, or what time it is with --now"
            )
        return click.confirm(question[0].upper() + question[1:], err=True)

    @contextmanager
    def view(self, table_only: bool = False) -> Iterator[View]:
        """Open the record and look at it: as it stands, under the rules, now.

        table_only: nothing is learned from its own tests.
        """
        from scheduler.record.clock import clock_doubt
        from scheduler.view import view_of

        with self.open() as store:
            view = view_of(store, self.rules(), self.now(store.zone), table_only)
            wrong = clock_doubt(view.facts.latest, view.now) if self.now_text is None else None
            if wrong:
                warn([wrong])
            yield view

    def rules(self) -> Rulebook:
        """Read the rule tables, a person's own rows over the shipped ones.

        A warning says every time which dates the own rows make sooner.
        """
        from scheduler.rulebook import load_rulebook, sooner_rows

        book = load_rulebook(self.own_rules)
        if self.own_rules is not None:
            warn(sooner_rows(book, self.own_rules))
        return book

    def now(self, zone: tzinfo) -> datetime:
        """Return the present time to the second: the clock enters the program only here."""
        if self.now_text is None:
            return datetime.now(UTC).replace(microsecond=0).astimezone(zone)
        return told_moment(self.now_text, zone, "--now")

    def at(self, text: str | None, now: datetime, zone: tzinfo) -> datetime:
        """Return when something happened: as told, or now. Raises BadInput if it is after now."""
        if text is None:
            return now
        told = told_moment(text, zone, "--at")
        if told > now:
            raise BadInput(f"--at {text!r} has not happened yet. Give a moment up to now")
        return told


def asked_by_a_person() -> bool:
    """Say whether somebody sits at a terminal and can be asked."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def told_moment(text: str, zone: tzinfo, option: str) -> datetime:
    """Return the moment that a text names; without an offset it is local to the record.

    Raises BadInput for a text that is no moment.
    """
    try:
        read = datetime.fromisoformat(text)
    except ValueError:
        raise BadInput(f"{option} {text!r} is not a moment. Write it as 2027-05-05T18:00") from None
    return read.astimezone(zone) if read.tzinfo else read.replace(tzinfo=zone)


class _Finite(click.FloatRange):
    """A range of numbers that refuses "nan", for which no comparison holds."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        number = float(super().convert(value, param, ctx))
        if not math.isfinite(number):
            self.fail(f"{value!r} is not a number", param, ctx)
        return number


def finite(least: float, most: float) -> click.FloatRange:
    """Return the type of an option that takes a number from `least` to `most`, both included."""
    return _Finite(least, most)


def format_option(command: F) -> F:
    """Add `--format table|csv|json` to a listing."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(FORMATS),
        default="table",
        show_default=True,
        help="Text for people, flat rows, or documented JSON.",
    )(command)


def table_only_option(command: F) -> F:
    """Add `--table-only` to a question about dates."""
    return click.option(
        "--table-only",
        is_flag=True,
        help="Go by the table and the air only, not by your own tests.",
    )(command)


def at_option(command: F) -> F:
    """Add `--at MOMENT` to a command that records something."""
    return click.option(
        "--at", metavar="MOMENT", help="When it happened, if not now: 2027-05-04T19:30."
    )(command)


def certificate_options(command: F) -> F:
    """Add `--cert FILE` and `--key FILE` to a command that serves."""
    file = click.Path(exists=True, dir_okay=False, path_type=Path)
    key = click.option("--key", type=file, help="The key of --cert (PEM).")
    cert = click.option("--cert", type=file, help="A certificate (PEM): then it is https.")
    return cert(key(command))


def write_file(path: Path, data: bytes) -> None:
    """Write a file that was asked for. Raises BadInput when it cannot be written."""
    try:
        path.write_bytes(data)
    except OSError as error:
        raise BadInput(f"{path} cannot be written ({error.strerror}). Name another file") from error


def say_outcome(outcome: Outcome) -> None:
    """Print what was recorded, and the warnings before it."""
    warn(outcome.warnings)
    for line in outcome.done:
        click.echo(_hanging(line))


def echo_json(value: object) -> None:
    """Print JSON with stable keys."""
    import json  # here, as csv below: only one format is needed

    click.echo(json.dumps(value, ensure_ascii=False, indent=2))


def echo_csv(rows: Sequence[Mapping[str, object]], head: Sequence[str]) -> None:
    """Print flat rows; lists are joined with spaces, None is empty, no text is a formula."""
    import csv
    import io

    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([_cell(row.get(name)) for name in head])
    click.echo(out.getvalue(), nl=False)


def _cell(value: object) -> object:
    from scheduler.faces.tables import no_formula

    if isinstance(value, (list, tuple)):
        value = " ".join(str(v) for v in value)
    return "" if value is None else no_formula(value)


def say_problem(text: str) -> None:
    """Print what is wrong to the error stream, no line wider than a terminal."""
    for line in text.splitlines():
        click.echo(_hanging(line), err=True)


def _hanging(line: str) -> str:
    """Return a line broken to a terminal; its further lines are indented by two more columns."""
    deeper = " " * (len(line) - len(line.lstrip()) + 2)
    return "\n".join(wording.wrapped(line, "", deeper))


def warn(lines: Sequence[str]) -> None:
    """Print warnings to the error stream, so that a pipe stays clean."""
    for line in lines:
        say_problem(f"warning: {line}")
