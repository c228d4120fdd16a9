"""`python tests/old_records.py` keeps a small record of this schema version, for ever.

Every version that was released has one in `tests/records/`; `tests/test_old_records.py` opens
each, brings it up to date and asks it. An existing one is never written again. Everything in them
is invented.
"""

from __future__ import annotations

import gzip
import json
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from scheduler.record.migrations import MIGRATIONS
from scheduler.record.opening import upgrade

FOLDER = Path(__file__).resolve().parent / "records"
LABEL = json.dumps({"country": "Nowhere", "locality": "=invented"})

ROWS: list[tuple[int, str, dict[str, object]]] = [
    (1, "setting", {"key": "timezone", "value": "Europe/Berlin"}),
    (1, "room", {"room": "study", "regime": "room", "rh_pct": 52.3, "temp_c": 20.0}),
    (1, "board", {"board": "B1", "groove_mm": 6.0, "span_mm": 110.0, "length_mm": 300}),
    (1, "board_stay", {"board": "B1", "room": "study", "since": "1970-01-01T00:00:00Z"}),
    *(
        (
            1,
            "specimen",
            {
                "specimen": name,
                "family": "Noctuidae",
                "body_mm": 0.1 + 0.2 + size,
                "wingspan_mm": 41.0,
                "state": "frozen",
                "label": LABEL,
            },
        )
        for size, name in enumerate(("M-1", "M-2", "M-3"), 4)
    ),
    (1, "session", {"session": "SAT-08", "start": "2027-05-08T07:00:00Z", "minutes": 120}),
    *(
        (
            1,
            "placement",
            {
                "specimen": name,
                "board": "B1",
                "from_mm": at,
                "to_mm": at + 45,
                "mounted_at": "2027-04-20T17:00:00Z",
                "mounted_on": "2027-04-20",
                "rule_ids": "fresh-room-4.5",
            },
        )
        for at, name in ((0, "M-1"), (50, "M-2"))
    ),
    (1, "chamber_stay", {"specimen": "M-3", "since": "2027-05-01T18:00:00Z"}),
    (
        1,
        "dryness_test",
        {"placement": 1, "tested_at": "2027-05-02T09:00:00Z", "verdict": "soft"},
    ),
    (2, "keeping", {"specimen": "M-3", "place": "freezer", "since": "2027-03-01T18:00:00Z"}),
    (12, "ruling", {"digest": "invented", "tables": "{}"}),
    (12, "told", {"placement": 1, "due": "2027-05-04", "ruling": "invented"}),
    (2, "dial", {"room": "study", "read_at": "2027-05-01T18:00:00Z", "rh_pct": 55.5}),
]
"""What each record holds, from which version on it could."""


def fill(db: sqlite3.Connection, version: int) -> None:
    """Write the rows that a version knows, one journal line each, as its triggers note them."""
    for line, (since, table, row) in enumerate(ROWS, 1):
        if since > version:
            continue
        db.execute("BEGIN")
        db.execute(
            "INSERT INTO journal(line, recorded_at, happened_at, command, text)"
            " VALUES (?, '2027-05-02T10:00:00Z', '2027-05-02T10:00:00Z', 'load', ?)",
            (line, f"{table} of version {version}"),
        )
        db.execute("INSERT INTO writing(one, line) VALUES (1, ?)", (line,))
        names, marks = ", ".join(row), ", ".join("?" * len(row))
        db.execute(f"INSERT INTO {table}({names}) VALUES ({marks})", tuple(row.values()))
        db.execute("DELETE FROM writing")
        db.execute("COMMIT")
    tokens = [("calendar_token", "c" * 24), ("bench_token", "b" * 24)]
    keys = "secret" if _has(db, "secret") else "meta"
    db.executemany(f"INSERT INTO {keys}(key, value) VALUES (?, ?)", tokens)
    db.execute(
        "INSERT INTO event(uid, sequence, changed, digest)"
        " VALUES ('invented', 3, '2027-05-02T10:00:00Z', 'x')"
    )


def _has(db: sqlite3.Connection, table: str) -> bool:
    return bool(db.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (table,)).fetchone())


def make(version: int) -> None:
    """Make the record of a version, unless there is one."""
    target = FOLDER / f"version-{version}.sqlite.gz"
    if target.exists():
        return
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "record.sqlite"
        with closing(sqlite3.connect(path, isolation_level=None)) as db:
            db.execute("PRAGMA foreign_keys = ON")
            upgrade(db, version)
            fill(db, version)
            db.execute("UPDATE meta SET value = '11111111-2222-4333-8444-555555555555'"
                       " WHERE key = 'namespace'")  # fmt: skip
            db.execute("VACUUM")
        target.write_bytes(gzip.compress(path.read_bytes(), 9, mtime=0))


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for version in range(1, len(MIGRATIONS) + 1):
        make(version)
