"""A record of every version that was released opens, keeps what it said, and goes on."""

from __future__ import annotations

import gzip
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from bench_cases import Desk
from old_records import FOLDER, ROWS

from scheduler.page.tokens import read_tokens
from scheduler.record.migrations import MIGRATIONS
from scheduler.record.opening import upgrade, version_of
from scheduler.record.soundness import journal_faults, page_faults, reference_faults
from scheduler.record.state_tables import SCHEMA_VERSION, STATE_TABLES
from scheduler.record.store import Store

NOW = "2027-05-08T12:00"
VERSIONS = range(1, len(MIGRATIONS) + 1)


@pytest.fixture(params=VERSIONS)
def old(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[int, Desk]:
    path = tmp_path / "record.sqlite"
    kept = FOLDER / f"version-{request.param}.sqlite.gz"
    assert kept.exists(), "a new version: python tests/old_records.py keeps a record of it"
    path.write_bytes(gzip.decompress(kept.read_bytes()))
    return request.param, Desk(path)


def test_it_answers_without_being_changed(old: tuple[int, Desk]) -> None:
    _, desk = old
    before = desk.store.read_bytes()
    found = json.loads(desk("boards", "--format", "json", now=NOW).out)
    standing = {s["specimen"] for b in found["boards"] for s in b["specimens"]}
    assert standing == {"M-1", "M-2"}
    assert desk("today", now=NOW).status == 0
    assert desk.store.read_bytes() == before
    assert [p.name for p in desk.store.parent.iterdir()] == ["record.sqlite"]


def test_what_is_recorded_next_brings_it_up_to_date_after_a_snapshot(
    old: tuple[int, Desk],
) -> None:
    version, desk = old
    answers = desk("boards", "--format", "csv", now=NOW).out
    desk.did("air", "study", "54", now=NOW)
    desk.did("undo", now=NOW)
    assert desk("boards", "--format", "csv", now=NOW).out == answers
    with Store(desk.store) as store:
        assert version_of(store.db) == len(MIGRATIONS)
        faults = [*page_faults(store.db), *reference_faults(store.db), *journal_faults(store.db)]
        assert faults == []
        tokens = read_tokens(store.db)
        assert tokens is not None
        assert (tokens.calendar, tokens.bench) == ("c" * 24, "b" * 24)
        for since, table, row in ROWS:
            if since <= version:
                where = " AND ".join(f"{name} = ?" for name in row)
                values = tuple(row.values())
                found = store.db.execute(f"SELECT 1 FROM {table} WHERE {where}", values)
                assert found.fetchone(), (table, row)
    snapshots = list(desk.store.with_name("record-snapshots").glob(f"*before-v{len(MIGRATIONS)}*"))
    assert len(snapshots) == (version < len(MIGRATIONS))


def test_it_goes_back_and_makes_an_export(old: tuple[int, Desk], tmp_path: Path) -> None:
    _, desk = old
    older = tmp_path / "older.sqlite"
    older.write_bytes(desk.store.read_bytes())
    new = Desk(tmp_path / "new.sqlite")
    new.did("restore", older, now=NOW)
    desk.did("export", tmp_path / "out", now=NOW)
    again = Desk(tmp_path / "again.sqlite")
    again.did("load", tmp_path / "out", now=NOW)
    answers = {d("boards", "--format", "csv", now=NOW).out for d in (desk, new, again)}
    assert len(answers) == 1


def test_the_number_of_versions_is_told_without_them() -> None:
    assert len(MIGRATIONS) == SCHEMA_VERSION


SHORTER = 18
"""Since this version the journal's triggers are written in fewer words."""

AWKWARD: dict[str, list[object]] = {
    "REAL": [0.1 + 0.2, 5e-324, -1e300, 7.0, None],
    "INTEGER": [0, -(2**63), 2**53 + 1, 7, None],
    "TEXT": ['it\'s "so"', "", "ä\n\u2028\U0001f98b", "7", None],
    "BLOB": [b"\x00\xff", b"", b"{}", b"7", None],
}


def noted_by(version: int) -> list[tuple[object, ...]]:
    """Return what the triggers of a version note of awkward rows put in, changed and taken out."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
        upgrade(db, version)
        db.execute("PRAGMA foreign_keys = OFF")
        db.execute("PRAGMA ignore_check_constraints = ON")
        db.execute("INSERT INTO writing(one, line) VALUES (1, 1)")
        for table, key in STATE_TABLES.items():
            columns = db.execute(f"PRAGMA table_info({table})").fetchall()
            for at, after in ((at, (at + 1) % 5) for at in range(5)):
                rows = [
                    [_awkward(of, must or name == key, n) for _, name, of, must, *_ in columns]
                    for n in (at, after)
                ]
                marks = ", ".join("?" * len(columns))
                db.execute(f"INSERT INTO {table} VALUES ({marks})", rows[0])
                sets = ", ".join(f"{column[1]} = ?" for column in columns)
                db.execute(f"UPDATE {table} SET {sets}", rows[1])
                db.execute(f"DELETE FROM {table}")
        return db.execute("SELECT * FROM change ORDER BY id").fetchall()


def _awkward(of: str, must: bool, n: int) -> object:
    value = AWKWARD[of][n]
    return AWKWARD[of][n - 1] if value is None and must else value


def test_the_shorter_triggers_note_the_same_to_the_letter() -> None:
    noted = noted_by(SHORTER)
    assert len(noted) == 3 * 5 * len(STATE_TABLES)
    assert noted == noted_by(SHORTER - 1)
