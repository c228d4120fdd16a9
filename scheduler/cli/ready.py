"""`wingrest ready`: the question at the bench, answered quickly."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from datetime import date

import click

from scheduler.cli.desk import Desk, echo_csv, echo_json, format_option, table_only_option
from scheduler.drying import answer as answers
from scheduler.drying.answer import BoardAnswer, SpecimenAnswer
from scheduler.drying.evidence import Evidence
from scheduler.faces.answer_json import board_json, specimen_json
from scheduler.faces.evidence import evidence_said, learned_said
from scheduler.looks.ready import evidence, ready
from scheduler.view import View
from scheduler.words import cautions, wording

_CSV = (
    "board specimen answer progress_pct mounted_on due due_earliest due_latest clear clear_earliest"
    " clear_latest min_days plan_days rule_ids basis air note"
).split(" ")


@click.command()
@click.argument("names", nargs=-1, metavar="[BOARD|SPECIMEN]...")
@click.option(
    "--chart/--no-chart",
    "with_chart",
    default=None,
    help="Draw the air and how it dries (for a board, its slowest specimen). With one name it is "
    "drawn unasked.",
)
@table_only_option
@format_option
@click.pass_obj
def command(
    desk: Desk, names: tuple[str, ...], with_chart: bool | None, table_only: bool, form: str
) -> int:
    """Answer: can I free this board yet?

    Without a name it answers for every board on which something stands. Exit status: 0 test
    it now or take off (an empty board too), 1 not yet or not today, 2 cannot say.
    """
    with desk.view(table_only) as view:
        found = ready(view, names)
        if form == "json":
            proof = evidence(view, found)
            echo_json({"boards": [board_json(b, proof) for b in found]})
        elif form == "csv":
            rows = [specimen_json(s) | {"board": s.board} for b in found for s in b.specimens]
            echo_csv(rows, _CSV)
        else:
            lines = said(found, evidence(view, found), view.now.date())
            if with_chart or (with_chart is None and len(names) == 1 and sys.stdout.isatty()):
                lines += charts(view, found)
            click.echo("\n".join(lines))
    return max((answers.EXIT_STATUS[b.answer] for b in found), default=0)


def charts(view: View, found: Iterable[BoardAnswer]) -> list[str]:
    """Return a chart for each board, of its slowest specimen."""
    from scheduler.faces.chart import PLAIN, chart

    lines: list[str] = []
    for board in found:
        if board.specimens:
            slowest = max(board.specimens, key=lambda s: s.due or date.max)
            one = view.on_board(slowest.specimen)
            drawn = chart(one, view.now) if one else []
            lines += ["", *drawn] if drawn else []
    try:
        "\n".join(lines).encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return [line.translate(PLAIN) for line in lines]
    return lines


def said(found: Iterable[BoardAnswer], proof: Mapping[str, Evidence], today: date) -> list[str]:
    """Return the answers as a screen for people, with what was measured as evidence."""
    lines: list[str] = []
    testing = False
    for board in found:
        lines += [*_board_lines(board, proof, today), ""]
        testing = testing or board.test_first is not None
    if not lines:
        return ["Nothing stands on any board."]
    if testing:
        lines += wording.wrapped(cautions.HOW_TO_TEST)
    return lines if lines[-1] else lines[:-1]


def _board_lines(board: BoardAnswer, proof: Mapping[str, Evidence], today: date) -> list[str]:
    alone = wording.listed(s.specimen for s in board.specimens) if board.others else ""
    head = f"{board.board}{alone and f', {alone} alone'}: {board.answer.upper()}"
    if board.answer == "empty":
        return [f"{board.board}: EMPTY, nothing stands on it."]
    if board.test_first:
        head += f" - {board.test_first} first, the stoutest of those that are due"
    lines = wording.wrapped(head, "", "  ")
    rows = [
        (
            s.specimen,
            s.answer,
            wording.how_dry(s.progress_pct),
            wording.day(s.mounted_on, today),
            wording.day(s.due, today) if s.due else "none",
            wording.day(s.clear, today) if s.clear else "none",
            _days(s),
            f"{s.body_mm:.3g} mm{' (estimated)' if s.estimated else ''}",
        )
        for s in board.specimens
    ]
    head_row = ("", "answer", "dry", "on", "due", "clear", "days", "body")
    lines += ["  " + line for line in wording.table(head_row, rows, frozenset({2}), 2)]
    for span, whose in _spans(board, today).items():
        lines += wording.wrapped(f"{wording.listed(whose)}: {span}.", "  ", "    ")
    for rules, whose in _rules(board).items():
        lines += wording.wrapped(f"By {rules}: {wording.listed(whose)}.", "  ", "    ")
    airs = dict.fromkeys(str(s.air) for s in board.specimens if s.air)
    lines += wording.wrapped(f"Air: {wording.listed(airs)}.", "  ", "  ")
    lines += _evidence_lines(board, proof, today)
    lines += _learned_lines(board, proof, today)
    for note, whose in _notes(board).items():
        lines += wording.wrapped(f"{wording.listed(whose)}: {note.rstrip('.')}.", "  ", "    ")
    return lines


def _spans(board: BoardAnswer, today: date) -> dict[str, list[str]]:
    """Return from when to test what is not due yet, and between which dates, with the names."""
    spans: dict[str, list[str]] = {}
    for s in board.specimens:
        if s.answer == "not yet" and (between := wording.between(*s.due_span, today)):
            start = "perhaps" if s.due_span.latest is None else "test"
            if s.due:
                text = f"{start} from {wording.day(s.due, today)}, {between}"
            else:
                text = f"no date yet; due {between}" if s.due_span.earliest else "no date in sight"
            spans.setdefault(text, []).append(s.specimen)
    return spans


def _evidence_lines(board: BoardAnswer, proof: Mapping[str, Evidence], today: date) -> list[str]:
    """Return the evidence where anything was measured; specimens that are alike share an entry."""
    alike: dict[str, list[str]] = {}
    for s in board.specimens:
        e = proof[s.specimen]
        if e.known.logger_pct or e.known.dial_pct:
            alike.setdefault(evidence_said(s, e, today), []).append(s.specimen)
    return [
        line
        for text, whose in alike.items()
        for line in wording.wrapped(f"{wording.listed(whose)}: {text}.", "  ", "    ")
    ]


def _learned_lines(board: BoardAnswer, proof: Mapping[str, Evidence], today: date) -> list[str]:
    """Return what the room's own tests say; specimens that are alike share an entry."""
    alike: dict[str, list[str]] = {}
    for s in board.specimens:
        if s.answer != "take off" and (text := learned_said(s, proof[s.specimen], today)):
            alike.setdefault(text, []).append(s.specimen)
    return [
        line
        for text, whose in alike.items()
        for line in wording.wrapped(f"{wording.listed(whose)}: {text}.", "  ", "    ")
    ]


def _days(s: SpecimenAnswer) -> str:
    if s.min_days is None or s.plan_days is None:
        return "none"
    return f"{s.min_days}-{s.plan_days}" if s.min_days != s.plan_days else str(s.min_days)


def _rules(board: BoardAnswer) -> dict[str, list[str]]:
    """Return the rules that answer, with their basis, and the specimens for which they do."""
    rules: dict[str, list[str]] = {}
    for s in board.specimens:
        if s.rule_ids:
            rules.setdefault(f"{', '.join(s.rule_ids)} ({s.basis})", []).append(s.specimen)
    return rules


def _notes(board: BoardAnswer) -> dict[str, list[str]]:
    """Return every note once, with the specimens that it is about."""
    notes: dict[str, list[str]] = {}
    for s in board.specimens:
        for note in s.notes:
            notes.setdefault(note, []).append(s.specimen)
    return notes
