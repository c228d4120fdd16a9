"""`wingrest test`: record a dryness test."""

from __future__ import annotations

from typing import Literal

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.testing import record_test
from scheduler.words import cautions
from scheduler.words.problems import BadInput


@click.command(epilog=cautions.HOW_TO_TEST)
@click.argument("words", nargs=-1, required=True, metavar="(BOARD|SPECIMEN)... stiff|soft")
@click.option("--except", "excepted", multiple=True, metavar="SPECIMEN", help="Leave this one out.")
@at_option
@click.pass_obj
def command(desk: Desk, words: tuple[str, ...], excepted: tuple[str, ...], at: str | None) -> None:
    """Record a dryness test: stiff or soft.

    \b
    wingrest test B3 stiff --except M-21
    wingrest test M-21 soft

    A board's name means those on it that are due. After a soft test its dates due and clear move,
    those likely to be as soft are named, and the kept plan is mended: you are told only what
    changed.
    """
    *asked, last = words
    verdict = _verdict(last)
    if verdict is None or not asked:
        raise BadInput("which, and how? Write the ids, then stiff or soft: test B3 stiff")
    with recording(desk, at) as (store, when):
        outcome = record_test(store, desk.rules(), asked, verdict, excepted, when)
    say_outcome(outcome)


def _verdict(word: str) -> Literal["stiff", "soft"] | None:
    folded = word.casefold()
    if folded == "stiff":
        return "stiff"
    return "soft" if folded == "soft" else None
