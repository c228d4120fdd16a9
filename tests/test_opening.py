"""A file is identified before it is used as a record, and a question never changes it."""

from __future__ import annotations

import hashlib
import os
import pickle
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from bench_cases import Desk, Run, weekend

from scheduler import rulebook
from scheduler.record.migrations import MIGRATIONS
from scheduler.record.opening import upgrade
from scheduler.record.store import Store
from scheduler.words.problems import RecordBusy

SATURDAY = "2027-05-08T12:00"
posix = pytest.mark.skipif(os.name != "posix", reason="rights and limits of POSIX")
NOBODY = 65534


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def said(text: str) -> str:
    return " ".join(text.split())


def seen(folder: Path) -> dict[str, str]:
    """Every file of a folder with the digest of its bytes."""
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def in_a_process(
    store: Path, *words: str, limit: Callable[[], None] | None = None
) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from scheduler.cli import main; main()"]
    return subprocess.run(
        [*command, "--store", str(store), "--now", SATURDAY, *words],
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=limit,
        cwd=Path(__file__).resolve().parents[1],
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    )


@pytest.mark.parametrize("words", [["ready"], ["boards"], ["today"], ["journal"]], ids=" ".join)
def test_a_question_makes_no_record(tmp_path: Path, words: list[str]) -> None:
    assert Desk(tmp_path / "none" / "record.sqlite")(*words).status == 0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", [["ready"], ["boards"], ["today"], ["journal"]], ids=" ".join)
def test_a_question_changes_no_byte(desk: Desk, words: list[str]) -> None:
    before = seen(desk.store.parent)
    desk(*words, now=SATURDAY)
    assert seen(desk.store.parent) == before


@pytest.mark.parametrize("words", [["ready"], ["release", "B5"]], ids=" ".join)
def test_0_bytes_are_no_record_and_do_not_become_one(desk: Desk, words: list[str]) -> None:
    desk.store.write_bytes(b"")
    run = desk(*words, now=SATURDAY)
    assert (run.status, run.out) == (4, "")
    assert "is empty (0 bytes) and no record; it was left alone" in said(run.err)
    assert desk.store.stat().st_size == 0


@pytest.mark.parametrize("words", [["ready"], ["air", "study", "50"]], ids=" ".join)
@pytest.mark.parametrize("version", [0, 3, 99])
def test_a_file_of_another_program_is_left_alone(
    tmp_path: Path, words: list[str], version: int
) -> None:
    path = tmp_path / "birds.sqlite"
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE bird (name TEXT)")
        db.execute(f"PRAGMA user_version = {version}")
    before = seen(tmp_path)
    run = Desk(path)(*words)
    assert run.status == 4
    assert "belongs to another program and was left alone" in said(run.err)
    assert seen(tmp_path) == before


def test_a_record_of_a_newer_program_is_left_alone(desk: Desk) -> None:
    with closing(sqlite3.connect(desk.store)) as db:
        db.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    before = seen(desk.store.parent)
    run = desk("release", "B5", now=SATURDAY)
    assert run.status == 4
    assert "written by a newer wingrest" in said(run.err)
    assert said(run.err).endswith("Update wingrest")
    assert seen(desk.store.parent) == before


def test_a_folder_is_no_record(tmp_path: Path) -> None:
    with pytest.raises(RecordBusy, match="is a folder and no record"):
        Store(tmp_path)


def test_a_record_that_is_gone_is_not_begun_anew_where_there_are_snapshots(desk: Desk) -> None:
    desk.did("air", "study", "52", now=SATURDAY)
    desk.store.unlink()
    run = desk("air", "study", "53", now=SATURDAY)
    assert run.status == 4
    assert "there are snapshots of one" in said(run.err)
    assert "wingrest restore" in run.err
    assert not desk.store.exists()


def test_an_older_record_is_asked_as_it_is_and_upgraded_by_what_is_recorded(
    tmp_path: Path,
) -> None:
    path = tmp_path / "record.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        upgrade(db, 1)
    before = seen(tmp_path)
    assert Desk(path)("boards").status == 0
    assert seen(tmp_path) == before
    Desk(path).did("add", "white", "--wingspan", "43", "--fresh")
    with Store(path) as store:
        assert store.db.execute("PRAGMA user_version").fetchone()[0] == len(MIGRATIONS)


@posix
def test_a_record_is_its_owners_alone(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "wingrest" / "record.sqlite")
    desk.did("add", "white", "--wingspan", "43", "--fresh")
    made = [desk.store.parent, *desk.store.parent.rglob("*")]
    assert len(made) > 3
    assert {p.stat().st_mode & 0o077 for p in made} == {0}


@posix
def test_a_record_that_was_open_to_others_is_shut_when_something_is_recorded(desk: Desk) -> None:
    desk.store.chmod(0o644)
    desk.did("air", "study", "52", now=SATURDAY)
    assert desk.store.stat().st_mode & 0o777 == 0o600


def _no_file_grows() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


@posix
def test_where_nothing_can_be_written_questions_are_answered(desk: Desk) -> None:
    told = desk("ready", now=SATURDAY)
    asked = in_a_process(desk.store, "ready", limit=_no_file_grows)
    assert (asked.returncode, asked.stdout) == (told.status, told.out)
    recorded = in_a_process(desk.store, "air", "study", "52", limit=_no_file_grows)
    assert recorded.returncode == 4
    assert "failed to read or write; nothing was recorded" in said(recorded.stderr)


@posix
def test_where_nothing_can_be_written_what_was_written_last_is_seen_too(desk: Desk) -> None:
    # A command that was cut off leaves what it recorded in the file beside the record.
    with closing(sqlite3.connect(desk.store, isolation_level=None)) as db:
        db.execute("INSERT INTO meta(key, value) VALUES ('x', 'y')")
        cut_off = desk.store.parent / "cut"
        cut_off.mkdir()
        for ending in ("", "-wal"):
            shutil.copy(f"{desk.store}{ending}", f"{cut_off / desk.store.name}{ending}")
    before = seen(cut_off)
    asked = in_a_process(cut_off / desk.store.name, "boards")
    assert asked.returncode == 0
    assert {k: v for k, v in seen(cut_off).items() if not k.endswith("-shm")} == before


def as_somebody_else(desk: Desk, *words: str) -> Run:
    """Run a command as a user who may read the record and not write it."""
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.setuid(NOBODY)
            os.write(theirs, pickle.dumps(desk(*words, now=SATURDAY)))
        finally:
            os._exit(0)
    os.close(theirs)
    with os.fdopen(ours, "rb") as answer:
        told = answer.read()
    os.waitpid(child, 0)
    found = pickle.loads(told)
    assert isinstance(found, Run)
    return found


@pytest.fixture
def shared_folder(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder that others may look into, with rules that they may read.

    Where the program lies may itself be shut to others: a checkout of somebody who shares nothing.
    """
    with tempfile.TemporaryDirectory(prefix="wingrest-shared-") as name:
        folder = Path(name)
        folder.chmod(0o755)
        rules = shutil.copytree(rulebook.rules_dir(), folder / "rules")
        for path in (rules, *rules.iterdir()):
            path.chmod(0o755)
        monkeypatch.setattr(rulebook, "rules_dir", lambda: rules)
        yield folder


@posix
@pytest.mark.skipif(os.name == "posix" and os.geteuid() != 0, reason="needs to be somebody else")
def test_a_record_that_may_be_read_but_not_written_answers(shared_folder: Path) -> None:
    (shared_folder / "other").mkdir()
    desk = weekend(shared_folder)
    desk.store.chmod(0o644)
    other = weekend(shared_folder / "other")
    told = other("ready", now=SATURDAY)
    other.did("air", "study", "52", now=SATURDAY)
    assert as_somebody_else(desk, "ready") == told
    recorded = as_somebody_else(desk, "air", "study", "52")
    assert recorded.status == 4
    assert "may be read but not written" in said(recorded.err)


@posix
@pytest.mark.skipif(os.name == "posix" and os.geteuid() != 0, reason="needs to be somebody else")
def test_a_record_that_may_be_written_again_is_written_again(shared_folder: Path) -> None:
    desk = weekend(shared_folder)
    for path in (shared_folder, *shared_folder.rglob("*")):
        os.chown(path, NOBODY, -1)
    desk.store.chmod(0o400)
    assert as_somebody_else(desk, "ready").status == 1
    desk.store.chmod(0o600)
    assert as_somebody_else(desk, "air", "study", "52").status == 0


def test_a_full_disk_is_said_to_be_full(desk: Desk) -> None:
    with Store(desk.store) as store:
        store.settle()
        pages = store.db.execute("PRAGMA page_count").fetchone()[0]
        store.db.execute(f"PRAGMA max_page_count = {pages}")
        much = [(f"k{number}", "x" * 4000) for number in range(500)]
        with pytest.raises(RecordBusy, match="is full; nothing was recorded"), store.transaction():
            store.db.executemany("INSERT INTO meta VALUES (?, ?)", much)


@posix
@pytest.mark.parametrize("kib", [0, 32, 64, 128, 256])
def test_a_disk_that_fails_while_a_record_is_brought_back_is_named(
    desk: Desk, tmp_path: Path, kib: int
) -> None:
    desk.did("backup", tmp_path / "kept.sqlite", now=SATURDAY)
    desk.did("air", "study", "51", now=SATURDAY)
    before = desk("ready", now=SATURDAY).out

    def files_grow_to_so_much() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (kib * 1024, kib * 1024))

    back = in_a_process(
        desk.store, "restore", str(tmp_path / "kept.sqlite"), "--over", limit=files_grow_to_so_much
    )
    assert back.returncode == 4, back.stderr
    assert "nothing was recorded" in said(back.stderr)
    assert "report" not in back.stderr
    assert desk("ready", now=SATURDAY).out == before
    assert not list(tmp_path.glob("*put-aside*"))
