"""Ids for a list that has none: by a rule that a person agrees to, and the same next week.

A row is recognised by what it says (except its box, which may change), so that rows may be added
and removed anywhere. Where one row is new and another is gone, it may be the same specimen,
corrected: that is asked.
"""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from scheduler.intake.asking import Option
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.rows import Row

BY_BOX, BY_LIST = "box", "list"
CORRECTED, FURTHER = "corrected", "further"
_LONGEST_LEAD = 24


class GivenIds(NamedTuple):
    """Ids in the order of the rows; `kept` says what each row says, "" for rows that are gone.

    `rule` is how the ids were made.
    """

    ids: tuple[str, ...]
    kept: Mapping[str, str]
    rule: str


class Before(NamedTuple):
    """What is known when ids are given: by which rule and to which rows they were given before.

    `kept` has the ids of before with what their rows said; `answers` are those for this list.
    `taken` are all names in the record, `specimens` those of specimens.
    """

    rule: str | None
    kept: Mapping[str, str]
    answers: Mapping[str, str]
    taken: frozenset[str] = frozenset()
    specimens: frozenset[str] = frozenset()


def given_ids(
    rows: Sequence[Row], stem: str, file: str, before: Before, findings: Findings
) -> GivenIds:
    """Give every row an id; ask whether the rule is right, and about rows that are not sure."""
    boxes = any("box" in row.values for row in rows)
    rule, said = _rule(boxes, before)
    leads = [lead_of(row.values.get("box") if rule == BY_BOX else None, stem) for row in rows]
    ids = _known_again(rows, before.kept)
    gone = _gone(leads, ids, before)
    new = [at for at, name in enumerate(ids) if name is None]
    doubtful = {lead: [at for at in new if leads[at] == lead] for lead in gone}
    dropped: list[str] = []
    if any(doubtful.values()):
        answer = before.answers.get("rows")
        if answer == CORRECTED:
            for lead, places in doubtful.items():
                for at, name in zip(places, gone[lead], strict=False):
                    ids[at] = name
        elif answer == FURTHER:
            dropped = [name for lead, places in doubtful.items() if places for name in gone[lead]]
        else:
            _ask_rows(rows, doubtful, gone, before.kept, file, findings)
    number = _numbers(before)
    whole = [name or number(lead) for name, lead in zip(ids, leads, strict=True)]
    if said:
        fresh = [f"row {rows[at].number} is {whole[at]}" for at in new if ids[at] is None]
        if fresh:
            more = f" and {len(fresh) - 3} more" if len(fresh) > 3 else ""
            findings.note(f"ids given: {', '.join(fresh[:3])}{more}", file)
    elif rows:
        _ask_rule(rows, whole, rule, boxes, file, findings)
    kept = {name: row_text(row) for name, row in zip(whole, rows, strict=True)}
    return GivenIds(tuple(whole), {**dict.fromkeys(dropped, ""), **kept}, rule)


def lead_of(box: str | None, stem: str) -> str:
    """Return what an id begins with: the box, else the list, without spaces and odd signs."""
    for text in (box or "", stem):
        plain = re.sub(r"[^\w./-]+", "", unicodedata.normalize("NFC", text)).strip("._/-")
        if plain:
            return plain[:_LONGEST_LEAD].rstrip("._/-")
    return "list"


def row_text(row: Row) -> str:
    """Return what a row says, without its id and its box."""
    return " | ".join(text for name, text in row.plain.items() if name not in ("specimen", "box"))


def _rule(boxes: bool, before: Before) -> tuple[str, bool]:
    """Return the rule by which ids are made, and whether somebody chose it."""
    allowed = (BY_BOX, BY_LIST) if boxes else (BY_LIST,)
    for rule in allowed:
        if rule == (before.answers.get("ids") or before.rule):
            return rule, True
    return allowed[0], False


def _known_again(rows: Sequence[Row], kept: Mapping[str, str]) -> list[str | None]:
    waiting: dict[str, list[str]] = defaultdict(list)
    for name, text in kept.items():
        waiting[text].append(name)
    ids: list[str | None] = []
    for row in rows:
        same = waiting.get(row_text(row))
        ids.append(same.pop(0) if same else None)
    return ids


def _gone(leads: Sequence[str], ids: Sequence[str | None], before: Before) -> dict[str, list[str]]:
    """Return, by lead, the ids of this list or of the record that no row has."""
    there = {name.casefold() for name in ids if name}
    names = [name for name, text in before.kept.items() if text]
    kept = {name.casefold() for name in before.kept}
    names += sorted(name for name in before.specimens if name.casefold() not in kept)
    gone: dict[str, list[str]] = {lead: [] for lead in leads}
    for name in names:
        lead, dash, number = name.rpartition("-")
        if dash and number.isdecimal() and lead in gone and name.casefold() not in there:
            gone[lead].append(name)
    return {lead: sorted(of, key=_number) for lead, of in gone.items() if of}


def _number(name: str) -> int:
    return int(name.rpartition("-")[2])


def _numbers(before: Before) -> Callable[[str], str]:
    """Return a function that gives the next id of a lead, after its highest number so far."""
    last: dict[str, int] = {}
    for name in (*before.kept, *before.taken):
        lead, dash, number = name.casefold().rpartition("-")
        if dash and number.isdecimal() and len(number) < 10:
            last[lead] = max(last.get(lead, 0), int(number))

    def after(lead: str) -> str:
        last[lead.casefold()] = last.get(lead.casefold(), 0) + 1
        return f"{lead}-{last[lead.casefold()]}"

    return after


def _ask_rule(
    rows: Sequence[Row],
    ids: Sequence[str],
    rule: str,
    boxes: bool,
    file: str,
    findings: Findings,
) -> None:
    shown = ", ".join(
        f"row {row.number} is {name}" for row, name in list(zip(rows, ids, strict=True))[:3]
    )
    options = [Option(BY_LIST, "the list's name and a running number")]
    if boxes:
        options.insert(0, Option(BY_BOX, "the box and a running number"))
    how = next(option.means for option in options if option.answer == rule)
    findings.ask(
        file, "ids", f"no column holds ids; they are made from {how}: {shown}", options, rule
    )


def _ask_rows(
    rows: Sequence[Row],
    doubtful: Mapping[str, Sequence[int]],
    gone: Mapping[str, Sequence[str]],
    kept: Mapping[str, str],
    file: str,
    findings: Findings,
) -> None:
    lead, places = next((lead, places) for lead, places in doubtful.items() if places)
    count = sum(map(len, doubtful.values()))
    others = f" and {count - 1} more" if count > 1 else ""
    name, row = gone[lead][0], rows[places[0]]
    was = f" ({kept[name]})" if kept.get(name) else ""
    text = (
        f"row {row.number} ({row_text(row)}){others} stood in no list before, and {name}{was}"
        " stands in none now: is it that specimen, corrected, or a further one?"
    )
    options = [
        Option(CORRECTED, "the same specimens, corrected, one after the other"),
        Option(FURTHER, "further specimens; the others left the list"),
    ]
    findings.ask(file, "rows", text, options, likely=None)
