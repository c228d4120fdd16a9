"""Read an export back: it gives the same record again, with its journal."""

from __future__ import annotations

import csv
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from scheduler.record import connecting, opening
from scheduler.record.export import ABOUT, EXPORT_FORMAT, columns, tables_of, text_in_cell
from scheduler.record.migrations import MIGRATIONS
from scheduler.record.state_tables import STATE_TABLES
from scheduler.words.problems import BadInput, Problem

_Row = dict[str, object]


def is_export(folder: Path) -> bool:
    """Return whether a folder is an export of a record and not a batch."""
    return (folder / ABOUT).is_file() and (folder / "journal.csv").is_file()


@contextmanager
def read_export(folder: Path) -> Iterator[sqlite3.Connection]:
    """Build the record of an export in memory, with the tables of this version.

    Raises BadInput where a newer wingrest wrote it, and where the tables are not whole or do not
    fit together.
    """
    about = {str(r["key"]): str(r["value"]) for r in _read(folder / ABOUT, {})}
    version = _version(folder, about)
    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        connecting.set_up(memory, looking=False)
        opening.upgrade(memory, version)
        memory.execute("PRAGMA foreign_keys = OFF")
        try:
            _fill(memory, folder, about)
        except sqlite3.Error as error:
            raise BadInput(
                f"the tables of {folder} do not fit together ({error}). Nothing was loaded; export"
                " anew"
            ) from error
        _refuse_loose_ends(memory, folder)
        memory.execute("PRAGMA foreign_keys = ON")
        if version < len(MIGRATIONS):
            opening.upgrade(memory)
        yield memory
    finally:
        memory.close()


def _version(folder: Path, about: dict[str, str]) -> int:
    try:
        form, version = int(about["format"]), int(about["version"])
    except (KeyError, ValueError):
        raise BadInput(f"{folder / ABOUT} does not say of which form it is. Export anew") from None
    if form > EXPORT_FORMAT or version > len(MIGRATIONS):
        raise BadInput(f"{folder} was exported by a newer wingrest. Update wingrest")
    return version


def _fill(memory: sqlite3.Connection, folder: Path, about: dict[str, str]) -> None:
    memory.execute("BEGIN")
    memory.execute("UPDATE meta SET value = ? WHERE key = 'namespace'", (about["namespace"],))
    tables = tables_of(memory)
    found = {name: _rows(memory, folder, name, about) for name in tables}
    _insert(memory, "journal", found["journal"])
    # The triggers need a line to write to; the exported changes then replace what they wrote.
    memory.execute("INSERT INTO writing(one, line) VALUES (1, 0)")
    for name in STATE_TABLES:
        if name in found:
            _insert(memory, name, found[name])
    memory.execute("DELETE FROM writing")
    memory.execute("DELETE FROM change")
    for name in tables:
        if name not in STATE_TABLES and name != "journal":
            _insert(memory, name, found[name])
    kinds = {"name": "TEXT", "seq": "INTEGER"}
    memory.execute("DELETE FROM sqlite_sequence")
    _insert(memory, "sqlite_sequence", _counted(folder, "sequence", about, kinds))
    memory.execute("COMMIT")


def _rows(
    memory: sqlite3.Connection, folder: Path, table: str, about: dict[str, str]
) -> list[_Row]:
    kinds = {r["name"]: r["type"] for r in memory.execute(f"PRAGMA table_info({table})")}
    found = _counted(folder, table, about, kinds)
    missing = [c for c in columns(memory, table) if found and c not in found[0]]
    if missing:
        raise BadInput(f"{table}.csv has no column {missing[0]}. Export anew")
    return found


def _counted(folder: Path, table: str, about: dict[str, str], kinds: dict[str, str]) -> list[_Row]:
    found = _read(folder / f"{table}.csv", kinds)
    wanted = about.get(f"rows.{table}")
    if wanted is not None and int(wanted) != len(found):
        raise BadInput(
            f"{table}.csv has {len(found)} rows and should have {wanted}: it is not whole. Export"
            " anew"
        )
    return found


def _read(path: Path, kinds: dict[str, str]) -> list[_Row]:
    csv.field_size_limit(min(sys.maxsize, 2**31 - 1))  # a kept plan is one cell
    found: list[_Row] = []
    try:
        with path.open(encoding="utf-8", newline="") as file:
            for number, row in enumerate(csv.DictReader(file), 2):
                try:
                    found.append({c: _value(v, kinds.get(c, "TEXT")) for c, v in row.items()})
                except (ValueError, AttributeError) as error:
                    raise _bad_cell(path, number, error) from error
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BadInput(f"{path} cannot be read. Export anew") from error
    return found


def _bad_cell(path: Path, number: int, error: Exception) -> BadInput:
    bad = Problem(path.name, number, None, None, f"a cell is no value ({error})", "Export anew")
    return BadInput("nothing was loaded", [bad])


def _value(cell: str, kind: str) -> object:
    if kind == "TEXT":
        return text_in_cell(cell)
    if cell == "":
        return None
    if kind == "INTEGER":
        return int(cell)
    return float(cell) if kind == "REAL" else bytes.fromhex(cell)


def _insert(memory: sqlite3.Connection, table: str, found: list[_Row]) -> None:
    if found:
        head = list(found[0])
        marks = ", ".join("?" * len(head))
        memory.executemany(
            f"INSERT INTO {table}({', '.join(head)}) VALUES ({marks})",
            [tuple(row[c] for c in head) for row in found],
        )


def _refuse_loose_ends(memory: sqlite3.Connection, folder: Path) -> None:
    loose = memory.execute("PRAGMA foreign_key_check").fetchall()
    if loose:
        problems = [
            Problem(
                f"{r['table']}.csv",
                None,
                None,
                None,
                f"row {r['rowid']} names something of {r['parent']}.csv that is not there",
                "Add it, or take the row out",
            )
            for r in loose[:20]
        ]
        raise BadInput(f"the tables of {folder} do not fit together; nothing was loaded", problems)
