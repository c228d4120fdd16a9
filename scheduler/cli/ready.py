"""`wingrest ready`: the question at the bench, answered quickly."""

from __future__ import annotations

from collections.abc import Iterable

import click

from scheduler import answers, cautions, wording
from scheduler.answers import BoardAnswer, SpecimenAnswer
from scheduler.bench.ready import ready
from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option

_CSV = (
    "board specimen answer progress_pct mounted_on due clear min_days plan_days rule_ids basis air"
    " note"
).split(" ")


@click.command()
@click.argument("names", nargs=-1, metavar="[BOARD|SPECIMEN]...")
@format_option
@click.pass_obj
def command(desk: Desk, names: tuple[str, ...], form: str) -> int:
    """Answer: can I free this board yet?

    Without a name it answers for every board on which something stands. Exit status: 0 test
    it now or take off (an empty board too), 1 not yet or not today, 2 cannot say.
    """
    with desk.open() as store:
        snap = store.snapshot()
    found = ready(snap, desk.rules(), names, desk.now(snap.zone))
    if form == "json":
        echo_json({"boards": [board_json(b) for b in found]})
    elif form == "csv":
        echo_csv([specimen_json(s) | {"board": s.board} for b in found for s in b.specimens], _CSV)
    else:
        click.echo("\n".join(said(found)))
    return max((answers.EXIT_STATUS[b.answer] for b in found), default=0)


def board_json(board: BoardAnswer) -> dict[str, object]:
    """Return a board's answer as documented JSON."""
    return {
        "board": board.board,
        "answer": board.answer,
        "due": board.due and board.due.isoformat(),
        "clear": board.clear and board.clear.isoformat(),
        "test_first": board.test_first,
        "specimens": [specimen_json(s) for s in board.specimens],
    }


def specimen_json(s: SpecimenAnswer) -> dict[str, object]:
    """Return a specimen's answer as documented JSON."""
    return {
        "specimen": s.specimen,
        "answer": s.answer,
        "progress_pct": s.progress_pct,
        "mounted_on": s.mounted_on.isoformat(),
        "due": s.due and s.due.isoformat(),
        "clear": s.clear and s.clear.isoformat(),
        "min_days": s.min_days,
        "plan_days": s.plan_days,
        "rule_ids": list(s.rule_ids),
        "basis": s.basis,
        "air": str(s.air) if s.air else None,
        "note": s.note,
    }


def said(found: Iterable[BoardAnswer]) -> list[str]:
    """Return the answers as a screen for people."""
    lines: list[str] = []
    testing = False
    for board in found:
        lines += [*_board_lines(board), ""]
        testing = testing or board.test_first is not None
    if not lines:
        return ["Nothing stands on any board."]
    if testing:
        lines += wording.wrapped(cautions.HOW_TO_TEST)
    return lines if lines[-1] else lines[:-1]


def _board_lines(board: BoardAnswer) -> list[str]:
    alone = wording.listed(s.specimen for s in board.specimens) if board.others else ""
    head = f"{board.board}{alone and f', {alone} alone'}: {board.answer.upper()}"
    if board.answer == "empty":
        return [f"{board.board}: EMPTY, nothing stands on it."]
    if board.test_first:
        head += f" - {board.test_first} first, the stoutest of those that are due"
    lines = [head]
    rows = [
        (
            s.specimen,
            s.answer,
            percent(s),
            wording.day(s.mounted_on),
            wording.day(s.due) if s.due else "none",
            wording.day(s.clear) if s.clear else "none",
            _days(s),
            f"{s.body_mm:.3g} mm{' (estimated)' if s.estimated else ''}",
        )
        for s in board.specimens
    ]
    head_row = ("", "answer", "dry", "on", "due", "clear", "days", "body")
    lines += ["  " + line for line in wording.table(head_row, rows, frozenset({2}), 2)]
    for rules, whose in _rules(board).items():
        lines += wording.wrapped(f"By {rules}: {wording.listed(whose)}.", "  ", "    ")
    airs = dict.fromkeys(str(s.air) for s in board.specimens if s.air)
    lines += wording.wrapped(f"Air: {wording.listed(airs)}.", "  ", "  ")
    for note, whose in _notes(board).items():
        lines += wording.wrapped(f"{wording.listed(whose)}: {note.rstrip('.')}.", "  ", "    ")
    return lines


def percent(s: SpecimenAnswer) -> str:
    """Return how dry it is, or that nobody can say."""
    return "?" if s.progress_pct is None else f"{s.progress_pct} %"


def _days(s: SpecimenAnswer) -> str:
    if s.min_days is None or s.plan_days is None:
        return "none"
    return f"{s.min_days}-{s.plan_days}" if s.min_days != s.plan_days else str(s.min_days)


def _rules(board: BoardAnswer) -> dict[str, list[str]]:
    """Return the rules that answer, with their basis, and for whom."""
    rules: dict[str, list[str]] = {}
    for s in board.specimens:
        if s.rule_ids:
            rules.setdefault(f"{', '.join(s.rule_ids)} ({s.basis})", []).append(s.specimen)
    return rules


def _notes(board: BoardAnswer) -> dict[str, list[str]]:
    """Return every note once, with those it is about."""
    notes: dict[str, list[str]] = {}
    for s in board.specimens:
        for note in s.notes:
            notes.setdefault(note, []).append(s.specimen)
    return notes
