"""Values of a file that a person has corrected in the record: both are named, one holds.

An old file that repeats what it said before overwrites no correction. Where file and record were
both changed, only a person can say which is right: `--take file` or `--take record`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any, Literal

from scheduler.record.amended import LABEL, amended, as_noted, flat
from scheduler.record.deed import Deed
from scheduler.record.rows import Value
from scheduler.record.state_tables import STATE_TABLES
from scheduler.words import wording
from scheduler.words.problems import Refused

Take = Literal["file", "record"]

_NAMES = {"in_group": "group"}


@dataclass(frozen=True, slots=True)
class Conflict:
    """One value: what the file says, what the record says, and whether the file changed too."""

    name: str
    column: str
    file: Any
    record: Any
    both_changed: bool

    def said(self) -> str:
        """Return both values, for a person."""
        return (
            f"{self.name}, {self.column}: the file says {_shown(self.file)}, the record"
            f" {_shown(self.record)}"
        )


@dataclass
class Conflicts:
    """The conflicts of one load, and how they are decided."""

    take: Take | None = None
    found: list[Conflict] = field(default_factory=list)

    def settled(self, deed: Deed, table: str, row: dict[str, Value]) -> dict[str, Value]:
        """Return the part of a row that may be written over the record's."""
        key = STATE_TABLES[table]
        had = deed.db.execute(f"SELECT * FROM {table} WHERE {key} = ?", (row[key],)).fetchone()
        if had is None:
            return row
        mine, theirs = flat(row), flat(dict(zip(had.keys(), had, strict=True)))
        differing = {c for c in mine if mine[c] != theirs.get(c)}
        corrected = amended(deed.db, table, row[key]) if differing else {}
        keep = set()
        for column in sorted(differing & corrected.keys()):
            name = _NAMES.get(column, column.removeprefix(LABEL))
            changed = corrected[column].loaded != as_noted(mine[column])
            conflict = Conflict(str(row[key]), name, mine[column], theirs.get(column), changed)
            self.found.append(conflict)
            if self.take != "file":
                keep.add(column)
        return _without(row, keep, theirs)

    def refuse_if_open(self) -> None:
        """Raise Refused where both were changed and nobody has said which is right."""
        still = [c for c in self.found if c.both_changed] if self.take is None else []
        if still:
            lines = [f"  {conflict.said()}" for conflict in still]
            counted = wording.counted(len(still), "value")
            raise Refused(
                f"{counted} changed both in the file and in the record; nothing was loaded.\n"
                + "\n".join(lines)
                + "\nSay which value counts with --take file or --take record"
            )

    def notes(self) -> list[str]:
        """Return what was decided, value by value."""
        holds = "the file's was taken" if self.take == "file" else "the record's value stays"
        more = "" if self.take else " (--take file takes the file's)"
        return [f"{conflict.said()}: {holds}{more}" for conflict in self.found]


def _without(row: dict[str, Value], keep: set[str], theirs: dict[str, Any]) -> dict[str, Value]:
    """Return the row without the columns that stay; in its label the terms that stay are kept."""
    new = {column: value for column, value in row.items() if column not in keep}
    terms = [column for column in keep if column.startswith(LABEL)]
    if terms:
        label = json.loads(str(row["label"]))
        for column in terms:
            term = column.removeprefix(LABEL)
            label.pop(term, None)
            if theirs.get(column) is not None:
                label[term] = theirs[column]
        new["label"] = json.dumps(label, ensure_ascii=False, sort_keys=True)
    return new


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    return f"{value:g}" if isinstance(value, float) else str(value)
