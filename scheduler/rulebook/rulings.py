"""The rule rows that dates rest on, written as a text that a record keeps, and read back.

From the text, a date that was once told can be worked out again and explained, whatever the
tables say today.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Any

from scheduler.rulebook.book import Rulebook
from scheduler.rulebook.rows import (
    BoardTimeRow,
    FamilyRow,
    HumidityRow,
    LimitRow,
    RecheckRow,
    Rule,
)
from scheduler.words.records import Source
from scheduler.words.tuples import NamedTuple

_KINDS: dict[str, type[Any]] = {
    "board_time": BoardTimeRow,
    "humidity": HumidityRow,
    "families": FamilyRow,
    "recheck": RecheckRow,
    "limits": LimitRow,
}
_UNITS = {"min_days": "days", "plan_days": "days", "recheck_days": "days", "value": ""}
_UNITS |= {"min_days_at_least": "days", "plan_days_at_least": "days"}


class Ruling(NamedTuple):
    """The rows that dates rest on, as `ruling_text` writes them; same rows, same digest."""

    digest: str
    tables: str


def ruling_of(book: Rulebook) -> Ruling:
    """Return the rows that dates rest on, with their digest."""
    import hashlib  # it loads a C library, and a question compares the texts themselves

    text = ruling_text(book)
    return Ruling(hashlib.sha256(text.encode()).hexdigest()[:32], text)


def ruling_text(book: Rulebook) -> str:
    """Return the rows that dates rest on, as JSON: the columns and rows of each table.

    A row's `rule` is [rule_id, file, line, basis, [[source, locator] ...], note]; an open upper
    bound is Infinity.
    """
    tables = {
        name: {"columns": kind._fields, "rows": getattr(book.tables, name)}
        for name, kind in _KINDS.items()
    }
    return json.dumps(tables, ensure_ascii=False, separators=(",", ":"))


def under_ruling(book: Rulebook, tables: str) -> Rulebook:
    """Return the rules as a kept text has them; what it lacks is taken from `book`.

    The names of genera are always those of `book`.
    """
    read = {name: _rows(kind, one) for name, kind in _KINDS.items() for one in _of(tables, name)}
    limits = read.get("limits", ())
    known = {row.name for row in limits}
    read["limits"] = (*limits, *(row for row in book.tables.limits if row.name not in known))
    return Rulebook(book.tables._replace(**read), book.kinship.names)


def changed_rows(then: Rulebook, now: Rulebook, ids: Iterable[str]) -> tuple[str, ...]:
    """Return, in words, how the rows of some ids changed between two rulebooks; notes do not count.

    Where none of them changed, the changes of all other rows that dates rest on are returned.
    """
    before, after = _by_id(then), _by_id(now)
    found = tuple(_changes(before, after, dict.fromkeys(ids)))
    return found or tuple(_changes(before, after, {**before, **after}))


def rows_said(book: Rulebook, ids: Iterable[str]) -> tuple[str, ...]:
    """Return some board times and floors in words, as `fresh-room-8: 14 and 21 days`."""
    every, said = _by_id(book), []
    for rule_id in ids:
        row = every.get(rule_id)
        if isinstance(row, BoardTimeRow):
            said.append(f"{rule_id}: {row.min_days:g} and {row.plan_days:g} days")
        elif isinstance(row, FamilyRow):
            low, high = row.min_days_at_least, row.plan_days_at_least
            said.append(f"{rule_id}: at least {low:g} and {high:g} days")
    return tuple(said)


def rows_behind(book: Rulebook, ids: Iterable[str]) -> tuple[Rule, ...]:
    """Return what each row of those ids rests on: basis, sources, note."""
    every = _by_id(book)
    return tuple(every[rule_id].rule for rule_id in ids if rule_id in every)


def _of(tables: str, name: str) -> Iterator[dict[str, Any]]:
    found = json.loads(tables).get(name)
    if found is not None:
        yield found


def _rows(kind: type[Any], table: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(
        kind(**{c: _cell(c, v) for c, v in zip(table["columns"], row, strict=True)})
        for row in table["rows"]
    )


def _cell(column: str, value: Any) -> Any:
    if column == "rule":
        *where, sources, note = value
        return Rule._make((*where, tuple(Source(*source) for source in sources), note))
    return tuple(value) if isinstance(value, list) else value


def _by_id(book: Rulebook) -> dict[str, Any]:
    return {row.rule.rule_id: row for name in _KINDS for row in getattr(book.tables, name)}


def _changes(before: dict[str, Any], after: dict[str, Any], ids: Iterable[str]) -> Iterator[str]:
    for rule_id in ids:
        was, now = before.get(rule_id), after.get(rule_id)
        if was is None and now is not None:
            yield f"rule {rule_id} is new"
        elif now is None and was is not None:
            yield f"rule {rule_id} is no more"
        elif was is not None and (said := _difference(was, now)):
            yield f"rule {rule_id} changed: {said}"


def _difference(was: Any, now: Any) -> str:
    """Return the cells that differ; where minimum and plan days both do, the minimum alone."""
    cells = [c for c in was._fields if c != "rule" and getattr(was, c) != getattr(now, c)]
    if "min_days" in cells:
        cells.remove("min_days")
        cells = ["min_days", *(c for c in cells if c != "plan_days")]
    return ", ".join(_cell_said(c, getattr(was, c), getattr(now, c)) for c in cells)


def _cell_said(column: str, was: Any, now: Any) -> str:
    unit = _UNITS.get(column)
    name = f"{column} " if unit is None else ""
    values = " -> ".join(f"{v:g}" if isinstance(v, float | int) else str(v) for v in (was, now))
    return f"{name}{values}{f' {unit}' if unit else ''}"
