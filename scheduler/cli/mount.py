"""`wingrest mount`: record what was mounted."""

from __future__ import annotations

import click

from scheduler.cli.desk import Desk, at_option, say_outcome
from scheduler.cli.recording import recording
from scheduler.deeds.mount import mount_one, mount_session
from scheduler.deeds.mount_list import mount_after, mount_list, read_list
from scheduler.deeds.outcome import Outcome
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.words.problems import BadInput


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="SESSION|SPECIMEN|BOARD: SPECIMEN...")
@click.option("--except", "excepted", multiple=True, metavar="SPECIMEN", help="Leave this one out.")
@click.option("--board", help="The board of one specimen mounted by hand.")
@click.option("--after", metavar="SPECIMEN", help="Its slot begins where this one's ends.")
@click.option("--from-mm", type=click.IntRange(min=0), help="Where its slot begins.")
@click.option("--to-mm", type=click.IntRange(min=1), help="Where its slot ends.")
@at_option
@click.pass_obj
def command(
    desk: Desk,
    words: tuple[str, ...],
    excepted: tuple[str, ...],
    board: str | None,
    after: str | None,
    from_mm: int | None,
    to_mm: int | None,
    at: str | None,
) -> None:
    """Record what was mounted: a session as planned, a board, or one specimen.

    \b
    wingrest mount SAT-08 --except M-21     as planned, but for M-21
    wingrest mount B3: M-14 M-09 M-21       from left to right
    wingrest mount B3: M-14=0-40 M-09=120   with what you measured, in mm
    wingrest mount M-14 --board B3 --after M-09

    You are told what to write on the strip beside each. Blades and pins are sharp; scales are dust:
    wear a mask and keep the air moving.
    """
    _refuse_mixtures(words, excepted, board, after, (from_mm, to_mm))
    with recording(desk, at) as (store, when):
        rules = desk.rules()
        if board is None:
            outcome = _as_named(store, rules, words, excepted, when)
        elif after is not None:
            outcome = mount_after(store, rules, words[0], board, after, when)
        else:
            outcome = mount_one(store, rules, words[0], board, (from_mm, to_mm), when)
    say_outcome(outcome)


def _as_named(
    store: Store,
    rules: Rulebook,
    words: tuple[str, ...],
    excepted: tuple[str, ...],
    when: When,
) -> Outcome:
    if _is_list(words):
        name, items = read_list(words)
        return mount_list(store, rules, name, items, when)
    return mount_session(store, rules, words[0], excepted, when)


def _is_list(words: tuple[str, ...]) -> bool:
    return any(":" in word for word in words)


def _refuse_mixtures(
    words: tuple[str, ...],
    excepted: tuple[str, ...],
    board: str | None,
    after: str | None,
    slot: tuple[int | None, int | None],
) -> None:
    """Raise BadInput for options and words that do not go together."""
    placed = slot != (None, None)
    if _is_list(words) and (excepted or board is not None or after is not None or placed):
        raise BadInput(
            "a board with its list takes no options; write a position as M-14=120 or M-14=120-168"
        )
    if not _is_list(words) and len(words) > 1:
        raise BadInput(
            f"{' '.join(words)}: on which board? Write `mount BOARD: {' '.join(words)}`,"
            " from left to right"
        )
    if board is None and placed:
        raise BadInput("a slot without a board. Give --board too")
    if board is None and after is not None:
        raise BadInput("--after without a board. Give --board too")
    if after is not None and placed:
        raise BadInput("--after and a position. Give one of them")
    if board is not None and excepted:
        raise BadInput("--except goes with a session, --board with one specimen. Give one of them")
