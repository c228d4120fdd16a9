"""Write what can still be read of a damaged record, as an export.

Rows are read from both ends of each table. Rows that cannot be read there come from the journal,
which holds every row a second time, as far as the journal can be read.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from scheduler.record import connecting
from scheduler.record.export import EXPORT_FORMAT, columns, tables_of, write_folder
from scheduler.record.opening import version_of
from scheduler.record.soundness import Image, replay
from scheduler.record.state_tables import STATE_TABLES
from scheduler.words.problems import BadInput
from scheduler.words.tuples import NamedTuple

_Values = tuple[object, ...]
_Readable = tuple[list[str], list[_Values]]


class Salvaged(NamedTuple):
    """How many rows of a table were read, how many came from the journal, and if it was whole."""

    table: str
    read: int
    from_journal: int
    whole: bool


def salvage(path: Path, folder: Path) -> list[Salvaged]:
    """Write what can be read of a record into a new folder; return what came of each table.

    Raises BadInput where nothing can be read, or the folder cannot be written.
    """
    try:
        db = _opened(path)
    except (sqlite3.Error, OSError) as error:
        raise _nothing(path) from error
    with connecting.closing(db):
        db.text_factory = lambda data: data.decode("utf-8", "replace")
        try:
            names = tables_of(db)
            version = version_of(db)
        except sqlite3.DatabaseError as error:
            raise _nothing(path) from error
        if "journal" not in names:
            raise _nothing(path)
        return _written(db, names, version, folder)


def _opened(path: Path) -> sqlite3.Connection:
    with path.open("rb") as file:
        head = file.read(100)
    page = int.from_bytes(head[16:18]) if head[16:18] != b"\x00\x01" else 65536
    whole = page * int.from_bytes(head[28:32])
    missing = whole - path.stat().st_size
    if len(head) < 100 or not 0 < missing < _MOST_BYTES:
        return connecting.connect(path, "ro", looking=True)
    # SQLite does not open a file that was cut off, as a copy to a full disk often is.
    memory = sqlite3.connect(":memory:", isolation_level=None)
    try:
        data = bytearray(path.read_bytes() + bytes(missing))
        data[18:20] = b"\x01\x01"  # so that SQLite expects no journal beside it
        memory.deserialize(bytes(data))
        return connecting.set_up(memory, looking=True)
    except BaseException:
        memory.close()
        raise


_MOST_BYTES = 2**31
"""More bytes than any record has: a larger figure in the file's head is damaged itself."""


def _written(
    db: sqlite3.Connection, names: list[str], version: int, folder: Path
) -> list[Salvaged]:
    try:
        told, _ = replay(db)
    except (sqlite3.DatabaseError, ValueError, TypeError, AttributeError):
        told = {}
    tables: dict[str, _Readable] = {}
    said = []
    for name in names:
        head, found, whole = _readable(db, name)
        more = [] if whole else _from_journal(name, head, found, told)
        tables[name] = (head, [*found, *more])
        said.append(Salvaged(name, len(found), len(more), whole))
    tables["journal"] = _with_lost_lines(*tables["journal"], tables.get("change", ([], [])))
    tables["sequence"] = (["name", "seq"], _sequence(db))
    about: list[tuple[str, object]] = [("format", EXPORT_FORMAT), ("version", version)]
    about += [("namespace", _one(db, "SELECT value FROM meta WHERE key = 'namespace'") or "")]
    write_folder(folder, tables, about, _zone(db))
    return said


def _readable(db: sqlite3.Connection, table: str) -> tuple[list[str], list[_Values], bool]:
    got: dict[int, _Values] = {}
    whole = True
    try:
        head = columns(db, table)
    except sqlite3.DatabaseError:
        return [], [], False
    for order in ("ASC", "DESC"):
        try:
            for row in db.execute(f"SELECT rowid, * FROM {table} ORDER BY rowid {order}"):
                got[row[0]] = tuple(row)[1:]
            break
        except sqlite3.DatabaseError:
            whole = False
    return head, [got[rowid] for rowid in sorted(got)], whole


def _with_lost_lines(
    head: list[str], found: list[_Values], change: _Readable
) -> tuple[list[str], list[_Values]]:
    """Return the journal, with a new line for each that is named elsewhere but cannot be read.

    What such a line changed can still be read, and must belong to a line.
    """
    if not head:
        return head, found
    lines = {row[head.index("line")]: row for row in found}
    named = {row[head.index("undoes")] for row in found}
    named |= {row[change[0].index("line")] for row in change[1]}
    named.discard(None)
    for line in sorted(named - set(lines), key=lambda n: int(str(n))):
        near = min(lines, key=lambda n: abs(int(str(n)) - int(str(line))), default=None)
        at = lines[near][head.index("recorded_at")] if near is not None else _NOBODY_KNOWS
        told = {"line": line, "recorded_at": at, "happened_at": at, "command": "salvage"}
        lines[line] = tuple((told | {"text": _LOST}).get(c) for c in head)
    return head, [lines[line] for line in sorted(lines, key=lambda n: int(str(n)))]


_LOST = "what this line said could not be read any more"
_NOBODY_KNOWS = "1970-01-01T00:00:00Z"


def _from_journal(
    table: str,
    head: list[str],
    found: list[_Values],
    told: dict[str, dict[str, Image]],
) -> list[_Values]:
    if table not in STATE_TABLES or not head:
        return []
    at = head.index(STATE_TABLES[table])
    known = {str(row[at]).casefold() for row in found}
    images = told.get(table, {})
    return [tuple(i.get(c) for c in head) for key, i in images.items() if key not in known]


def _sequence(db: sqlite3.Connection) -> list[_Values]:
    try:
        return [tuple(r) for r in db.execute("SELECT name, seq FROM sqlite_sequence")]
    except sqlite3.DatabaseError:
        return []


def _one(db: sqlite3.Connection, sql: str) -> str | None:
    try:
        row = db.execute(sql).fetchone()
    except sqlite3.DatabaseError:
        return None
    return None if row is None else str(row[0])


def _zone(db: sqlite3.Connection) -> ZoneInfo:
    try:
        return ZoneInfo(_one(db, "SELECT value FROM setting WHERE key = 'timezone'") or "UTC")
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


def _nothing(path: Path) -> BadInput:
    return BadInput(
        f"nothing can be read of {path}: the page that says where its tables are is lost. Look for"
        " a snapshot: wingrest backup --list"
    )
