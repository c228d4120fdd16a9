"""Write all of a record as plain tables, to be read in thirty years, and to be loaded again.

There is one CSV file for each table, the journal as text, and a README that explains them. Only
what works like a password is left out, and what the record can make again.
"""

from __future__ import annotations

import csv
import sqlite3
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from scheduler.record.opening import version_of
from scheduler.record.state_tables import STATE_TABLES
from scheduler.words.problems import BadInput

EXPORT_FORMAT = 1
ABOUT = "record.csv"
LEFT_OUT = frozenset(
    {"secret", "link", "tap", "served", "writing", "name", "meta", "sqlite_sequence"}
)
"""Tables that no export holds: secret addresses, and what the record makes again by itself."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")

TELLS = {
    "setting": "what holds for the whole record, the time zone first",
    "room": "rooms, with the air assumed where nobody measured (%, degrees C)",
    "board": "spreading boards: groove width, widest wingspan and usable groove, in mm",
    "board_stay": "since when a board stands in a room",
    "specimen": "one line an insect; `label` is JSON with Darwin Core terms",
    "session": "stretches of bench time; 0 minutes means cancelled",
    "placement": "what was really done: a specimen in a slot, from mounting to release",
    "chamber_stay": "from when to when a specimen was in the relaxing chamber",
    "dryness_test": "tests by hand, with the air at that moment and how far the time had come",
    "keeping": "where a specimen is kept since when: freezer, fridge, thawed",
    "dial": "air read off a dial",
    "room_day": "a logger's air, packed by day, in hexadecimal, and of which file each run is",
    "reading_file": "the files that loggers' readings came from",
    "sensor_offset": "by how much a logger or dial reads wrong, since when",
    "counting_logger": "which logger counts in a room that has several",
    "away": "days off, the first and the last of them",
    "droop": "wings that sank after their specimen had come off",
    "afterwards": "what was done with a specimen once it had come off: labelled, bagged, given",
    "photo": "pictures of specimens: where their files are",
    "told": "the dates told when something was mounted, and by which `ruling`",
    "ruling": "the rule rows that dates rested on, as JSON; no fact",
    "journal": "every line that was recorded; `undoes` is the line it takes back",
    "change": "every row that a line changed, before and after, as JSON",
    "kept_plan": "the plan last proposed, as JSON; no fact",
    "event": "what phones were last told of each reminder; no fact",
    "sequence": "the last number given in each numbered table",
}


def export(db: sqlite3.Connection, folder: Path, zone: ZoneInfo, at: datetime) -> dict[str, int]:
    """Write a record into a new or empty folder; return how many rows each table has.

    Raises BadInput where the folder is not empty or cannot be written.
    """
    db.execute("BEGIN")  # one moment for all tables
    try:
        tables = {name: (columns(db, name), list(rows_of(db, name))) for name in tables_of(db)}
        namespace = db.execute("SELECT value FROM meta WHERE key = 'namespace'").fetchone()[0]
        sequence = [tuple(r) for r in db.execute("SELECT name, seq FROM sqlite_sequence")]
        version = version_of(db)
    finally:
        db.execute("COMMIT")
    tables["sequence"] = (["name", "seq"], sequence)
    about = [("format", EXPORT_FORMAT), ("version", version), ("namespace", namespace)]
    about += [("exported_at", at.isoformat())]
    write_folder(folder, tables, about, zone)
    return {name: len(found) for name, (_, found) in tables.items()}


def write_folder(
    folder: Path,
    tables: dict[str, tuple[list[str], list[tuple[object, ...]]]],
    about: list[tuple[str, object]],
    zone: ZoneInfo,
) -> None:
    """Write tables, journal and README into a new or empty folder.

    Raises BadInput where the folder is not empty or cannot be written.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise BadInput(f"{folder} is not empty. Name a new folder")
    except OSError as error:
        raise _unwritten(folder, error) from error
    try:
        for name, (head, found) in tables.items():
            _write_table(folder / f"{name}.csv", head, found)
        about = [*about, *((f"rows.{name}", len(found)) for name, (_, found) in tables.items())]
        (folder / "journal.txt").write_text(_journal_text(tables, zone), encoding="utf-8")
        (folder / "README.txt").write_text(_readme(tables), encoding="utf-8")
        # This file comes last: a folder without it was cut off.
        _write_table(folder / ABOUT, ["key", "value"], about)
    except OSError as error:
        for file in folder.iterdir():  # it was empty before, so the command can be repeated
            file.unlink(missing_ok=True)
        raise _unwritten(folder, error) from error


def _unwritten(folder: Path, error: OSError) -> BadInput:
    return BadInput(f"{folder} cannot be written ({error.strerror}). Name another")


def tables_of(db: sqlite3.Connection) -> list[str]:
    """Return the tables that an export holds, facts first."""
    every = [r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    there = [name for name in every if name not in LEFT_OUT]
    return sorted(there, key=lambda name: (name not in STATE_TABLES, there.index(name)))


def columns(db: sqlite3.Connection, table: str) -> list[str]:
    """Return the columns of a table in their order."""
    return [r["name"] for r in db.execute(f"PRAGMA table_info({table})")]


def rows_of(db: sqlite3.Connection, table: str) -> Iterator[tuple[object, ...]]:
    """Return the rows of a table in the order in which they came."""
    for row in db.execute(f"SELECT * FROM {table} ORDER BY rowid"):
        yield tuple(row)


def cell(value: object) -> str:
    """Return a value as a cell that gives it back exactly and starts no formula.

    An empty cell stands for NULL, an apostrophe alone for the empty text. A text that begins
    with an apostrophe, or as a formula does, gets an apostrophe in front.
    """
    if value is None:
        return ""
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, str):
        return f"'{value}" if value == "" or value.startswith(_FORMULA) else value
    return repr(value)


def text_in_cell(cell: str) -> str | None:
    """Return the text that a cell stands for, None for an empty cell."""
    if cell == "":
        return None
    return cell[1:] if cell.startswith("'") else cell


def _write_table(path: Path, head: Iterable[str], found: Iterable[tuple[object, ...]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(head)
        writer.writerows([cell(value) for value in row] for row in found)


def _journal_text(
    tables: dict[str, tuple[list[str], list[tuple[object, ...]]]], zone: ZoneInfo
) -> str:
    head, found = tables.get("journal", ([], []))
    lines = []
    for row in found:
        line = dict(zip(head, row, strict=True))
        when = datetime.fromisoformat(str(line["happened_at"])).astimezone(zone)
        who = f" {line['who']}:" if line["who"] else ""
        lines.append(f"{line['line']:>5}  {when:%Y-%m-%d %H:%M}{who} {line['text']}")
    return f"The journal, times of {zone.key}.\n\n" + "\n".join(lines) + "\n"


def _readme(tables: dict[str, tuple[list[str], list[tuple[object, ...]]]]) -> str:
    lines = [
        "A record of a spreading-board drying scheduler, whole, as plain tables",
        "",
        "Every .csv file is one table: UTF-8, commas, the first line names the columns. Names",
        "carry their unit (_mm, _pct for percent, _c for degrees Celsius, _at for a moment in",
        "UTC, _on for a date). An empty cell means that nothing is known. In a cell of text an",
        "apostrophe in front is no part of it: it keeps a spreadsheet from reckoning, and alone",
        "it is the empty text. journal.txt is the journal to read.",
        "",
        *(f"  {name}.csv".ljust(22) + TELLS.get(name, "") for name in tables),
        f"  {ABOUT}".ljust(22) + "of which form this export is, and how many rows each table has",
        "",
        "`wingrest load` of this folder into an empty record (--store a new file) makes the same",
        "record again. The addresses of calendar and bench page are not in it: they work like",
        "passwords, and new ones are made.",
    ]
    return "\n".join(lines) + "\n"
