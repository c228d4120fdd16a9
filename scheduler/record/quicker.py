"""Refuse a deed about things that others changed since the person looked: they were quicker."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from typing import Any

from scheduler.record.deed import Deed
from scheduler.words.problems import BadInput, Refused
from scheduler.words.tuples import NamedTuple

LINES_TOLD = 5

Thing = tuple[str, str, str]
"""A table, a key in it, and one of its cells; the cell "bench" means where a specimen is."""


class Overtaken(Refused):
    """Somebody else recorded something about the same things since the person looked."""


def lines_after(db: sqlite3.Connection, line: int) -> list[sqlite3.Row]:
    """Return the journal lines after one, the latest first."""
    return db.execute(
        "SELECT line, text FROM journal WHERE line > ? ORDER BY line DESC", (line,)
    ).fetchall()


def last_line_of(db: sqlite3.Connection, table: str, key: str) -> int:
    """Return the journal line that last changed a row; 0 when none did."""
    sql = "SELECT coalesce(max(line), 0) FROM change WHERE of_table = ? AND key = ?"
    found: int = db.execute(sql, (table, key)).fetchone()[0]
    return found


def refuse_overtaken(deed: Deed) -> None:
    """Raise Overtaken when others have changed what a deed changes or rests on, since `seen`."""
    others = _others(deed)
    if deed.line is None or not others:
        return
    changes = deed.db.execute(
        "SELECT line, of_table, key, before, after FROM change WHERE line > ?", (deed.when.seen,)
    ).fetchall()
    touched = [(c["line"], _touched(c)) for c in changes]
    mine = {thing for line, t in touched if line == deed.line for thing in t.changed | t.rests_on}
    quicker = {
        line
        for line, t in touched
        if line != deed.line
        and line not in deed.when.own
        and not mine.isdisjoint(t.changed | t.summed_up)
    }
    if quicker:
        met = [e for e in others if e["line"] in quicker]
        raise Overtaken(f"somebody was quicker.\n{_told(met)}")


def with_others(error: Refused | BadInput, deed: Deed) -> Refused | BadInput:
    """Return a refusal that adds what others recorded since the person looked, if they did.

    What is refused now may have been right when they looked. Faults of files stay as they are.
    """
    of_files = isinstance(error, BadInput) and error.problems
    if of_files or type(error) not in (Refused, BadInput):
        return error
    others = _others(deed)
    return Overtaken(f"{error}\n{_told(others)}") if others else error


def _others(deed: Deed) -> list[sqlite3.Row]:
    """Return the lines that others recorded since the person looked, the latest first."""
    if deed.when.seen is None:
        return []
    own = {deed.line, *deed.when.own}
    return [e for e in lines_after(deed.db, deed.when.seen) if e["line"] not in own]


class _Touched(NamedTuple):
    changed: frozenset[Thing]
    rests_on: frozenset[Thing] = frozenset()
    summed_up: frozenset[Thing] = frozenset()


def _touched(change: sqlite3.Row) -> _Touched:
    """Return what a changed row changes, what it rests on, and what it changes for others.

    Two corrections of one row conflict only if they are of one cell (in a label, of one term).
    What happens to a specimen at the bench rests on all that is recorded of it except its label;
    a mounting also rests on its board being in use.
    """
    before, after = (json.loads(change[side] or "{}") for side in ("before", "after"))
    table, key, image = change["of_table"], str(change["key"]).casefold(), after or before
    changed = {(table, key, cell) for cell in _differing(before, after)}
    if table == "specimen":
        facts = any(not cell.startswith(_TERM) for _, _, cell in changed)
        if (table, key, "gone") in changed:
            changed.add((table, key, "bench"))
        return _Touched(
            frozenset(changed), summed_up=frozenset({(table, key, "facts")} if facts else ())
        )
    if table == "dryness_test":
        changed.add(("placement", str(image["placement"]), "bench"))
    elif table == "board_stay":
        changed.add(("board", str(image["board"]).casefold(), "room"))
    elif table in ("placement", "chamber_stay", "keeping"):
        who = str(image["specimen"]).casefold()
        changed |= {(table, key, "bench"), ("specimen", who, "bench")}
        rests_on = {("specimen", who, "facts")}
        if table == "placement" and not before:
            rests_on.add(("board", str(image["board"]).casefold(), "out"))
        return _Touched(frozenset(changed), frozenset(rests_on))
    return _Touched(frozenset(changed))


_TERM = "label "


def _differing(before: dict[str, Any], after: dict[str, Any]) -> set[str]:
    """Return the cells in which two images of a row differ; each term of a label is one."""
    had, has = _cells(before), _cells(after)
    return {cell for cell in had.keys() | has.keys() if had.get(cell) != has.get(cell)}


def _cells(image: dict[str, Any]) -> dict[str, Any]:
    label = json.loads(image["label"]) if "label" in image else {}
    terms = {f"{_TERM}{term}": value for term, value in label.items()}
    return {cell: value for cell, value in image.items() if cell != "label"} | terms


def _told(lines: Iterable[sqlite3.Row]) -> str:
    every = list(lines)
    said = [f"Line {e['line']} was recorded meanwhile: {e['text']}." for e in every[:LINES_TOLD]]
    if len(every) > LINES_TOLD:
        said.append(f"And {len(every) - LINES_TOLD} more.")
    return "\n".join([*said, "Yours was not recorded. Look again, then decide."])
