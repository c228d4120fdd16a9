"""`wingrest boards`: what stands where, how dry."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option, table_only_option
from scheduler.drying.answer import SpecimenAnswer
from scheduler.faces.answer_json import specimen_json
from scheduler.looks.boards import BoardState, boards
from scheduler.words import wording

_CSV = (
    "board groove_mm span_mm length_mm room out free_mm specimen from_mm to_mm mounted_on due"
    " clear progress_pct answer"
).split(" ")

_JOIN = "\N{WORD JOINER}"


@click.command()
@table_only_option
@format_option
@click.pass_obj
def command(desk: Desk, table_only: bool, form: str) -> None:
    """List what stands where, and how dry it is.

    Each board is shown with its free groove, and below it its slots, in mm from the left end.
    """
    with desk.view(table_only) as view:
        states = boards(view)
    if form == "json":
        echo_json({"boards": [_json(s) for s in states]})
    elif form == "csv":
        echo_csv([row for s in states for row in _flat(s)], _CSV)
    else:
        click.echo(
            "\n".join(
                _lines(states, view.now.date())
                or ["The record holds no boards yet: `wingrest today` says how to begin."]
            )
        )


def _json(state: BoardState) -> dict[str, object]:
    board = state.board
    return {
        "board": board.board,
        "groove_mm": board.groove_mm,
        "span_mm": board.span_mm,
        "length_mm": board.length_mm,
        "room": state.room,
        "out": board.out,
        "answer": state.answer.answer,
        "due": state.answer.due and state.answer.due.isoformat(),
        "clear": state.answer.clear and state.answer.clear.isoformat(),
        "free": [list(stretch) for stretch in state.free],
        "free_mm": state.free_mm,
        "specimens": [_standing_json(s) for s in state.answer.specimens],
    }


def _standing_json(s: SpecimenAnswer) -> dict[str, object]:
    return specimen_json(s) | {"from_mm": s.from_mm, "to_mm": s.to_mm}


def _flat(state: BoardState) -> list[dict[str, object]]:
    board = {key: value for key, value in _json(state).items() if key in _CSV}
    specimens = [_standing_json(s) for s in state.answer.specimens]
    return [board | s for s in specimens] or [board | {"answer": "empty"}]


def _lines(states: Sequence[BoardState], today: date) -> list[str]:
    body = [
        (
            state.board.board + (" (out)" if state.board.out else ""),
            f"{state.board.groove_mm:g}",
            f"{state.board.span_mm:g}",
            state.room or "?",
            f"{state.free_mm} of {state.board.length_mm}",
            state.answer.answer,
            wording.day(state.answer.due, today) if state.answer.due else "",
        )
        for state in states
    ]
    if not body:
        return []
    head = ("board", "groove", "span", "room", "free mm", "answer", "due")
    first, *rest = wording.table(head, body, frozenset({1, 2, 4}))
    lines = [first]
    for row, state in zip(rest, states, strict=True):
        lines += [row, *_slot_lines(state)]
    return lines


def _slot_lines(state: BoardState) -> list[str]:
    """Return what stands on a board from left to right: its slot in mm, and how dry it is."""
    here = sorted(state.answer.specimens, key=lambda s: s.from_mm)
    said = [
        f"{s.specimen} {s.from_mm}-{s.to_mm} mm {wording.how_dry(s.progress_pct)}" for s in here
    ]
    # The word joiner lets a line break between specimens only.
    lines = wording.wrapped(", ".join(one.replace(" ", _JOIN) for one in said), "    ")
    return [line.replace(_JOIN, " ") for line in lines]
