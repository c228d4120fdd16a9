"""A list without a row of titles: its cells suggest what each column is, and a person is asked."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from scheduler.intake.asking import Option, Question
from scheduler.intake.batch.columns import SPECIMENS, Table, title_key
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.mapping import column_said
from scheduler.intake.batch.titles import NOT_READ, NOTE, Meaning

ROWS_LOOKED_AT = 200
LEAST_SPAN_MM = 16.0
"""Numbers with this median or more [mm] are taken for wingspans, smaller ones for bodies."""

_NUMBER = re.compile(r"[~+-]?\s*\d+([.,]\d+)?\s*(mm|cm)?", re.IGNORECASE)
_DATE = re.compile(r"\d{4}-\d{1,2}-\d{1,2}.*|\d{1,2}[./-] ?(\d{1,2}|[ivx]+)[./-] ?\d{2,4}", re.I)
_TAXON = re.compile(r"[A-Z][a-z]{2,} [a-z-]{3,}.*")
_FAMILY = re.compile(r"[A-Z][a-z]+(idae|inae)", re.IGNORECASE)
_SEX = re.compile(r"[mf♂♀]|male|female", re.IGNORECASE)
_ID = re.compile(r"[^\W_][\w./-]*")

_WORDS: Mapping[str, str] = {
    "specimen": "its id",
    "taxon": "the species",
    "family": "the family",
    "group": "moth, beetle and the like",
    "sex": "the sex",
    "body_mm": "the thorax's width",
    "wingspan_mm": "the wingspan",
    "forewing_mm": "a forewing's length",
    "size": "slender, medium, stout",
    "state": "fresh, frozen, dried",
    "frozen_on": "the day it was frozen",
    "box": "where it lies",
    "lot": "its brood or series",
    "count": "how many",
    "priority": "10 is mounted first",
    "wanted_by": "the day it is needed",
    "minutes": "minutes of work",
    "eventDate": "the day it was collected",
    "locality": "where it was collected",
    "recordedBy": "who collected it",
    NOTE: "kept as a note",
    NOT_READ: "not read",
}
COLUMN_OPTIONS = tuple(Option(name, words) for name, words in _WORDS.items())


def first_untitled(lines: Sequence[Sequence[str]], table: Table) -> int | None:
    """Return the first line of a list without titles: it holds a number or a date, else None."""
    if table is not SPECIMENS:
        return None
    at = next((n for n, line in enumerate(lines) if sum(map(bool, line)) > 1), None)
    if at is None or not any(_NUMBER.fullmatch(c) or _DATE.fullmatch(c) for c in lines[at]):
        return None
    return at


def untitled_columns(
    lines: Sequence[Sequence[str]],
    told: Mapping[str, str],
    in_order: Sequence[str],
    findings: Findings,
) -> tuple[Meaning, ...]:
    """Return what each column of such a list is; ask about the columns that nobody named.

    `told` is what was said before, by the key of a title; `in_order` is what is said now.
    """
    longest = max(map(len, lines))
    width = max(n for line in lines for n, cell in enumerate(line, 1) if cell)
    titles = [f"column {n} of {width}" for n in range(1, width + 1)]
    said = _said(in_order, width, findings)
    kept = [told.get(title_key(title)) for title in titles]
    guesses = _guesses(lines, width, {name for name in (*said, *kept) if name})
    columns = []
    for place, title in enumerate(titles):
        name = said[place] or kept[place]
        if name is None:
            _ask(place, title, _cells(lines, place), guesses[place], findings)
            columns.append(Meaning(title, guesses[place], "asked"))
        else:
            column = None if name == NOT_READ else name
            columns.append(Meaning(title, column, "said" if said[place] else "told"))
    return (*columns, *[Meaning("", None, "ours")] * (longest - width))


def _said(in_order: Sequence[str], width: int, findings: Findings) -> list[str | None]:
    if not in_order:
        return [None] * width
    if len(in_order) != width:
        reason = f"names {len(in_order)} columns, and the list has {width}"
        remedy = f"Name every column, {NOTE} for a note and {NOT_READ} for what is not read"
        findings.problem("--columns", None, None, ",".join(in_order), reason, remedy)
        return [None] * width
    said = [column_said(text, SPECIMENS) for text in in_order]
    for text, column in zip(in_order, said, strict=True):
        if column is None:
            reason, remedy = "is not a column of specimens", f"Name one, or {NOTE}, or {NOT_READ}"
            findings.problem("--columns", None, None, text, reason, remedy)
    return said


def _ask(place: int, title: str, cells: Sequence[str], guess: str, findings: Findings) -> None:
    shown = ", ".join(f'"{cell[:30]}"' for cell in dict.fromkeys(cells))
    text = f"there are no titles: what is column {place + 1} ({_first(shown)})?"
    name = findings.name(SPECIMENS.file)
    asked = Question(title, text, COLUMN_OPTIONS, None, name, guess, must_say=True)
    findings.questions.append(asked)


def _first(shown: str) -> str:
    return shown if len(shown) <= 70 else shown[:69] + "…"


def _cells(lines: Iterable[Sequence[str]], place: int) -> list[str]:
    return [line[place] for line in lines if len(line) > place and line[place]]


def _guesses(lines: Sequence[Sequence[str]], width: int, taken: set[str]) -> list[str]:
    """Return what each column may be by its cells; no column of ours is given twice."""
    found = []
    for place in range(width):
        guess = _guess(_cells(lines[:ROWS_LOOKED_AT], place))
        if guess in taken and guess != NOTE:
            guess = NOTE
        taken.add(guess)
        found.append(guess)
    return found


def _guess(cells: Sequence[str]) -> str:
    if not cells:
        return NOT_READ
    for pattern, name in ((_DATE, "frozen_on"), (_FAMILY, "family"), (_SEX, "sex")):
        if all(pattern.fullmatch(cell) for cell in cells):
            return name
    if 2 * sum(bool(_TAXON.fullmatch(cell)) for cell in cells) >= len(cells):
        return "taxon"
    alone = len(set(cells)) == len(cells) > 1
    if all(_NUMBER.fullmatch(cell) for cell in cells):
        numbers = [float(re.sub(r"[^\d.]", "", cell.replace(",", "."))) for cell in cells]
        if numbers == [numbers[0] + n for n in range(len(numbers))] and len(numbers) > 2:
            return "specimen"
        middle = sorted(numbers)[len(numbers) // 2]
        return "wingspan_mm" if middle >= LEAST_SPAN_MM else "body_mm"
    if alone and all(_ID.fullmatch(cell) for cell in cells):
        return "specimen"
    return NOTE if alone else "box"
