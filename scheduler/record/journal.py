"""Read the journal, and undo: a new line puts back what an earlier line changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.store import Store
from scheduler.words.problems import Refused


@dataclass(frozen=True, slots=True)
class JournalLine:
    """One line of the journal; `undone_by` is the line that took it back, None where none did."""

    line: int
    recorded_at: datetime
    happened_at: datetime
    who: str | None
    command: str
    text: str
    undoes: int | None
    undone_by: int | None


def read_journal(store: Store, last: int | None = None) -> tuple[JournalLine, ...]:
    """Return the journal, the latest line last; only the `last` lines when given."""
    # An undo is later than what it undoes, so the last lines alone show which of them stand.
    many = -1 if last is None else last
    found = store.db.execute("SELECT * FROM journal ORDER BY line DESC LIMIT ?", (many,)).fetchall()
    return _as_lines(found)


def journal_from(store: Store, line: int) -> tuple[JournalLine, ...]:
    """Return the journal from a line on, the latest last."""
    sql = "SELECT * FROM journal WHERE line >= ? ORDER BY line DESC"
    return _as_lines(store.db.execute(sql, (line,)).fetchall())


def _as_lines(found: Sequence[sqlite3.Row]) -> tuple[JournalLine, ...]:
    undone: dict[int, int] = {}
    # From the latest line back, so that it is known of an undo whether it was itself undone.
    for row in found:
        if row["undoes"] is not None and row["line"] not in undone:
            undone.setdefault(row["undoes"], row["line"])
    return tuple(_line(row, undone.get(row["line"])) for row in reversed(found))


def _line(row: sqlite3.Row, undone_by: int | None) -> JournalLine:
    return JournalLine(
        row["line"],
        rows.moment_of(row["recorded_at"]),
        rows.moment_of(row["happened_at"]),
        row["who"],
        row["command"],
        row["text"],
        row["undoes"],
        undone_by,
    )


def take_back(
    store: Store, line: int | None, when: When, ask: Callable[[JournalLine], None] | None = None
) -> tuple[JournalLine, int | None]:
    """Take back a journal line; return it and the number of the line that took it back.

    `line` None means the latest that stands, of `when.who` if they are named. `ask` sees the line
    before anything is changed, and may raise. Raises Refused when there is no such line, when it
    is taken back already, or when a later line that still stands changed the same things; it
    names that line.
    """
    with store.deed(when, "undo") as deed:
        lines = read_journal(store)
        target = _own_latest(lines, when) if line is None else _named(lines, line)
        _refuse_if_touched(store, lines, target)
        if ask is not None:
            ask(target)
        deed.text = f"took back line {target.line}: {target.text}"
        deed.undoes = target.line
        changes = store.db.execute(
            "SELECT * FROM change WHERE line = ? ORDER BY id DESC", (target.line,)
        ).fetchall()
        for change in changes:
            _apply_backwards(deed, change)
    return target, deed.line


def _own_latest(lines: tuple[JournalLine, ...], when: When) -> JournalLine:
    if when.seen is not None and lines and lines[-1].line > when.seen:
        raise Refused("the latest line is another by now. Say which: `wingrest undo LINE`")
    standing = [e for e in lines if e.undone_by is None and e.undoes is None]
    if not standing:
        raise Refused("there is nothing to take back")
    if when.who is None:
        return standing[-1]
    name = when.who.casefold()
    own = [e for e in standing if (e.who or "").casefold() == name]
    if not own:
        latest = standing[-1]
        raise Refused(
            f"nothing that {when.who} recorded stands. The latest line is {latest.line}"
            f" ({latest.text}). To take that back, name it"
        )
    return own[-1]


def _named(lines: tuple[JournalLine, ...], wanted: int) -> JournalLine:
    for entry in lines:
        if entry.line == wanted:
            if entry.undone_by is not None:
                raise Refused(
                    f"line {wanted} was taken back by line {entry.undone_by}."
                    f" To bring it back: undo {entry.undone_by}"
                )
            return entry
    raise Refused(f"the journal has no line {wanted}. `wingrest journal` lists them")


def _refuse_if_touched(store: Store, lines: tuple[JournalLine, ...], target: JournalLine) -> None:
    # A later line and the line that took it back cancel each other out: neither counts.
    settled = {e.line for e in lines if e.undone_by is not None}
    settled |= {e.line for e in lines if e.undoes in settled}
    later = store.db.execute(
        "SELECT DISTINCT l.line AS line, l.of_table AS of_table, l.key AS key"
        " FROM change AS l JOIN change AS mine"
        "   ON mine.of_table = l.of_table AND mine.key = l.key"
        " WHERE mine.line = ? AND l.line > ? ORDER BY l.line DESC",
        (target.line, target.line),
    ).fetchall()
    for row in later:
        if row["line"] not in settled:
            said = next(e.text for e in lines if e.line == row["line"])
            raise Refused(
                f"line {row['line']} ({said}) changed the same {row['of_table'].replace('_', ' ')}"
                f" since ({row['key']}). Take that back first: undo {row['line']}"
            )


def _apply_backwards(deed: Deed, change: sqlite3.Row) -> None:
    table, key = change["of_table"], change["key"]
    if change["before"] is None:
        deed.delete(table, key)
        return
    before = rows.values_of(change["before"])
    if change["after"] is None:
        deed.insert(table, before)
    else:
        deed.update(table, key, before)
