"""The `wingrest` command: one small module per command, imported only when it is used."""

from __future__ import annotations

import gc
import importlib
import os
import sys
from collections.abc import Sequence
from pathlib import Path

import click

from scheduler.words.problems import BadInput, WingrestError

COMMANDS: dict[str, tuple[str, str]] = {
    "start": ("start", "Open the page in this computer's browser."),
    "today": ("today", "Say what is to be done today: tests, chamber, session, worries."),
    "plan": (
        "plan",
        "Plan the coming sessions: who goes where and when, and what into the chamber.",
    ),
    "ready": ("ready", "Answer: can I free this board yet?"),
    "boards": ("boards", "List what stands where, and how dry it is."),
    "rooms": (
        "rooms",
        "List the rooms: what stands there, the air, and what your own tests say of the table.",
    ),
    "summary": (
        "summary",
        "Sum up a season: mounted, lost, drooped, use of boards, what one more would save.",
    ),
    "find": ("find", "Find specimens by id, taxon, box, board, number, place or collector."),
    "show": (
        "show",
        "Show a specimen's life: where it is, what is next and why, its label, its history.",
    ),
    "list": (
        "lists",
        "List what waits, stands on boards, came off, has no label yet, or was lost.",
    ),
    "load": ("load", "Load a folder of tables into the record."),
    "add": ("add", "Record specimens at the bench, without a file."),
    "session": ("session", "Record bench time: one session, or one a week; 0 minutes cancels."),
    "away": ("away", "Record days off, first and last included: no session is planned on them."),
    "relax": ("relax", "Record what went into the relaxing chamber."),
    "thaw": ("thaw", "Record what was taken out to lie in ordinary air."),
    "putback": ("putback", "Record what went back into the fridge or the freezer."),
    "mount": ("mount", "Record what was mounted: a session as planned, a board, or one specimen."),
    "test": ("test", "Record a dryness test: stiff or soft."),
    "release": ("release", "Record what was taken off its board."),
    "drooped": ("drooped", "Record that a wing sank after its specimen had come off."),
    "lost": ("lost", "Record that a specimen is lost, and why."),
    "move": ("move", "Record that a board stands in another room."),
    "board": (
        "board",
        "Record a new board, correct a board's measures, or take it out of use and back.",
    ),
    "room": ("room", "Record a new room and the air assumed there, or change what is assumed."),
    "air": ("air", "Record the air of a room, read off a dial."),
    "readings": (
        "readings",
        "Record a humidity logger's file.",
    ),
    "amend": ("amend", "Correct what is recorded: a date, a size, a slot, a start."),
    "lot": ("lot", "Show lots, or record what a whole lot shares: label, host, emergence, box."),
    "bag": ("bag", "Record what was bagged dry and frozen against pests, before the cabinet."),
    "photo": ("photo", "Keep a photo of a specimen: a copy beside the record, shown on its page."),
    "print": (
        "print",
        "Make PDFs to print: slips, strips, a session's sheet, the pull list, labels.",
    ),
    "handover": (
        "handover",
        "Hand released specimens over: a Darwin Core Archive, CSV and XLSX in a new folder.",
    ),
    "feed": ("feed", "Write the release reminders as a calendar file."),
    "serve": ("serve", "Serve the calendar and the bench page to phones."),
    "phone": (
        "phone",
        "Connect a phone: serve the record to this network, and show two codes to photograph.",
    ),
    "link": ("link", "Give a person or a device a link of its own, list them, end one."),
    "publish": ("publish", "Put the reminders into your own calendar on a CalDAV server."),
    "undo": ("undo", "Take back a line of the journal."),
    "journal": ("journal", "List what was recorded, the latest line last."),
    "check": (
        "check",
        "Check that the record, its snapshots and the place where it lies are sound.",
    ),
    "backup": ("backup", "Take a snapshot of the record now, or say where snapshots go."),
    "restore": ("restore", "Bring a record back from a snapshot."),
    "export": ("export", "Write all of the record as plain tables, to keep or to load again."),
    "rules": ("rules", "Show, explain and check the rule tables."),
    "demo": ("demo", "Try the whole job on a folder, in a throw-away record."),
}
"""Each command, its module in this package, and the one line that `--help` shows."""


GARBAGE_AFTER = 50_000
"""Python looks for cycles of garbage only after so many more objects were made than dropped."""


class Commands(click.Group):
    """A group that knows its commands by name and imports a module only to run it."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the commands in the order of a day at the bench."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - click's signature
        """Import and return a command, None when there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"scheduler.cli.{COMMANDS[cmd_name][0]}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002 - click's signature
        """Write the list of commands without importing any of them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that is meant; for a mistyped one, stop and name the nearest."""
        name = args[0] if args else ""
        if name and name not in COMMANDS and not name.startswith("-"):
            import difflib

            near = difflib.get_close_matches(name, COMMANDS, 1)
            hint = f" Did you mean {near[0]}?" if near else ""
            ctx.fail(f"there is no command {name!r}.{hint}")
        return super().resolve_command(ctx, args)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--store",
    type=click.Path(dir_okay=False, path_type=Path),
    envvar="WINGREST_STORE",
    help="The record's file; by default each person has one.",
)
@click.option(
    "--now", metavar="MOMENT", help="Take this as the time it is now, e.g. 2027-05-05T18:00."
)
@click.option(
    "--clock-is-right",
    is_flag=True,
    envvar="WINGREST_CLOCK_IS_RIGHT",
    help="Do not ask whether the clock is right, even if nothing was recorded for days.",
)
@click.option("--who", envvar="WINGREST_WHO", help="Who records this, if several people do.")
@click.option(
    "--rules",
    "own_rules",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    envvar="WINGREST_RULES",
    help="A folder with your own rule rows, which replace the shipped ones.",
)
@click.version_option(package_name="wingrest", message="wingrest %(version)s")
@click.pass_context
def wingrest(
    ctx: click.Context,
    store: Path | None,
    now: str | None,
    clock_is_right: bool,
    who: str | None,
    own_rules: Path | None,
) -> None:
    """Plan spreading boards, remember what stands on them, say when they are free."""
    from scheduler.cli.desk import Desk

    ctx.obj = Desk(store, now, who, own_rules, clock_is_right)


def main(argv: Sequence[str] | None = None) -> None:
    """Run the command line and leave with its documented exit status."""
    # A question lives a tenth of a second, and a fifth of it went into looking for garbage among
    # what imports make, where there is none. When `argv` is given, the process belongs to somebody
    # else.
    ours = argv is None
    if ours:
        gc.set_threshold(GARBAGE_AFTER)
    try:
        status = wingrest.main(
            args=None if argv is None else list(argv),
            prog_name="wingrest",
            standalone_mode=False,
        )
    except click.exceptions.Abort:
        click.echo("Stopped; nothing was changed.", err=True)
        status = 130
    except click.ClickException as error:
        error.show()
        status = error.exit_code
    except WingrestError as error:
        _say_error(error)
        status = error.status
    except Exception as error:
        _say_unexpected(error)
        status = 70
    if ours:
        gc.freeze()  # so that nothing is searched once more at the end
    sys.exit(status if isinstance(status, int) else 0)


def _say_error(error: WingrestError) -> None:
    """Print why a command stopped; before it the problems of files, one line each."""
    from scheduler.cli.desk import say_problem

    for problem in error.problems if isinstance(error, BadInput) else ():
        click.echo(str(problem), err=True)
    say_problem(str(error))


def _say_unexpected(error: Exception) -> None:
    """Print in one line that the program failed; WINGREST_TRACE=1 shows where."""
    if os.environ.get("WINGREST_TRACE"):
        import traceback

        click.echo("".join(traceback.format_exception(error)), err=True, nl=False)
    said = " ".join(f"{type(error).__name__}: {error}".split())
    click.echo(
        f"wingrest failed unexpectedly ({said}). Nothing half done was recorded."
        " Please report it with what WINGREST_TRACE=1 shows",
        err=True,
    )
