"""A record outlives its disk: snapshots, restoring them, an export and reading it back."""

from __future__ import annotations

import csv
import errno
import gzip
import os
import shutil
import sqlite3
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from bench_cases import Desk, weekend
from hypothesis import given
from hypothesis import strategies as st
from story_blocks import STORIES, played

from scheduler.record import export as exporting
from scheduler.record import snapshots as keeping
from scheduler.record.export import cell, text_in_cell
from scheduler.record.snapshots import Snapshots, Taken, kept
from scheduler.record.store import Store

SATURDAY = "2027-05-08T12:00"
QUESTIONS = (
    ["today"],
    ["today", "--format", "json"],
    ["ready", "--format", "json"],
    ["boards"],
    ["journal", "--format", "csv"],
)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def said(text: str) -> str:
    return " ".join(text.split())


def answers(desk: Desk, now: str = SATURDAY) -> list[tuple[int, str]]:
    """What the record answers, without what is said of its snapshots."""
    runs = [desk(*words, now=now) for words in QUESTIONS]
    return [(run.status, run.out) for run in runs]


def snapshots(desk: Desk) -> list[Taken]:
    return Snapshots(desk.store).listed()


def test_the_last_thing_recorded_of_an_evening_is_in_a_snapshot(desk: Desk) -> None:
    desk.did("air", "study", "52", now="2027-05-08T12:00")
    desk.did("air", "study", "53", now="2027-05-08T12:40")
    assert [t.line for t in snapshots(desk)] == [3], "the day keeps its last"


def test_a_record_that_takes_long_to_copy_is_in_a_snapshot_by_the_hour(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeping, "WAIT_FOR_A_SECOND", timedelta(days=9999))
    desk.did("air", "study", "52", now="2027-05-08T12:00")
    desk.did("air", "study", "53", now="2027-05-08T12:40")
    assert [t.line for t in snapshots(desk)] == [2]
    desk.did("air", "study", "54", now="2027-05-08T13:10")
    assert [t.line for t in snapshots(desk)] == [4], "the day keeps its last"
    desk.did("air", "study", "55", now="2027-05-09T09:00")
    assert [t.line for t in snapshots(desk)] == [4, 5]


def test_a_snapshot_is_a_whole_record_that_holds_together(desk: Desk, tmp_path: Path) -> None:
    desk.did("air", "study", "52", now=SATURDAY)
    copy = tmp_path / "copy.sqlite"
    copy.write_bytes(gzip.decompress(snapshots(desk)[0].file.read_bytes()))
    assert answers(Desk(copy)) == answers(desk)
    assert [p.name for p in snapshots(desk)[0].file.parent.iterdir() if "line" not in p.name] == [
        "LAST.json"
    ]


@given(st.lists(st.integers(0, 1500 * 24), min_size=1, max_size=400, unique=True))
def test_the_last_of_14_days_8_weeks_and_24_months_stay(hours: list[int]) -> None:
    first = datetime(2027, 1, 1, tzinfo=UTC)
    every = [Taken(Path(str(n)), first + timedelta(hours=h), n) for n, h in enumerate(hours)]
    stay = kept(every)
    latest = max(every, key=lambda t: t.taken_at)
    assert latest in stay
    assert kept(stay) == stay
    days = {t.taken_at.date() for t in every}
    assert {t.taken_at.date() for t in stay} >= set(sorted(days)[-14:])
    months = {t.taken_at.strftime("%Y-%m") for t in every}
    assert {t.taken_at.strftime("%Y-%m") for t in stay} >= set(sorted(months)[-24:])
    assert len(stay) <= 14 + 8 + 24


def test_snapshots_go_to_the_folder_of_choice(desk: Desk, tmp_path: Path) -> None:
    other = tmp_path / "second disk"
    other.mkdir()
    desk.did("backup", "--into", other, now=SATURDAY)
    desk.did("air", "study", "52", now="2027-05-09T12:00")
    assert {t.file.parent for t in snapshots(desk)} == {other}
    assert len(snapshots(desk)) == 2


def test_a_disk_that_is_not_plugged_in_fails_no_deed_and_today_says_so(
    desk: Desk, tmp_path: Path
) -> None:
    other = tmp_path / "second disk"
    other.mkdir()
    desk.did("backup", "--into", other, now=SATURDAY)
    shutil.rmtree(other)
    assert "study" in desk.did("air", "study", "52", now="2027-05-09T12:00")
    assert not other.exists()
    run = desk("backup", now="2027-05-09T13:00")
    assert run.status == 4
    assert "is not there. Plug in its disk" in said(run.err)
    assert "no snapshot yet: the folder" in said(desk.did("today", now="2027-05-09T13:00"))


def test_a_disk_that_is_too_slow_is_not_waited_for_by_everything_recorded(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = []

    def slow(*_: object) -> None:
        tries.append(1)
        time.sleep(0.01)
        raise TimeoutError

    monkeypatch.setattr(keeping, "copy_checked", slow)
    monkeypatch.setattr(keeping, "WAIT_FOR_A_SECOND", timedelta(days=9999))
    for minute in range(10, 50, 10):
        desk.did("air", "study", "52", now=f"2027-05-08T12:{minute}")
    assert len(tries) == 1
    desk.did("air", "study", "52", now="2027-05-08T13:11")
    assert len(tries) == 2
    assert "it took longer than" in said(desk.did("today", now="2027-05-08T13:12"))


def test_today_says_when_a_week_of_work_is_in_no_snapshot(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeping, "WAIT_FOR_A_SECOND", timedelta(days=9999))
    desk.did("air", "study", "52", now=SATURDAY)
    desk.did("air", "study", "53", now="2027-05-08T12:20")
    assert "wingrest backup" not in desk.did("today", now="2027-05-14T12:00")
    assert "wingrest backup" in desk.did("today", now="2027-05-16T12:00")
    desk.did("backup", now="2027-05-16T12:00")
    assert "wingrest backup" not in desk.did("today", now="2027-06-16T12:00")


def test_a_record_comes_back_from_a_file(desk: Desk, tmp_path: Path) -> None:
    desk.did("air", "study", "52", now=SATURDAY)
    before = answers(desk)
    desk.did("backup", tmp_path / "kept.sqlite.gz", now=SATURDAY)
    shutil.rmtree(tmp_path / "record-snapshots")
    desk.store.unlink()
    assert "is back, up to journal line 2" in said(
        desk.did("restore", tmp_path / "kept.sqlite.gz", now=SATURDAY)
    )
    assert answers(desk) == before
    if os.name == "posix":
        assert desk.store.stat().st_mode & 0o077 == 0


def test_a_copy_of_the_file_alone_holds_what_was_recorded_while_phones_are_served(
    desk: Desk, tmp_path: Path
) -> None:
    with closing(sqlite3.connect(desk.store)) as phone:
        phone.execute("SELECT count(*) FROM journal").fetchone()
        for n, humidity in enumerate(("52", "53", "54")):
            desk.did("air", "study", humidity, now=f"2027-05-08T12:0{n}")
        shutil.copyfile(desk.store, tmp_path / "copy.sqlite")
    copied = Desk(tmp_path / "copy.sqlite").did("journal", now=SATURDAY)
    assert copied == desk.did("journal", now=SATURDAY)
    assert "read study: 54 %" in copied


def test_a_copy_of_the_file_alone_holds_what_was_brought_back_while_phones_are_served(
    desk: Desk, tmp_path: Path
) -> None:
    desk.did("backup", tmp_path / "kept.sqlite", now=SATURDAY)
    desk.did("air", "study", "52", now="2027-05-08T12:10")
    with closing(sqlite3.connect(desk.store)) as phone:
        phone.execute("SELECT count(*) FROM journal").fetchone()
        desk.did("restore", tmp_path / "kept.sqlite", "--over", now="2027-05-08T12:20")
        shutil.copyfile(desk.store, tmp_path / "copy.sqlite")
    copied = Desk(tmp_path / "copy.sqlite").did("journal", now="2027-05-08T12:30")
    assert "read study" not in copied


def test_it_never_goes_back_behind_a_newer_record_unasked(desk: Desk, tmp_path: Path) -> None:
    desk.did("backup", tmp_path / "kept.sqlite", now=SATURDAY)
    before = answers(desk)
    desk.did("air", "study", "52", now=SATURDAY)
    newer = answers(desk)
    run = desk("restore", tmp_path / "kept.sqlite", now=SATURDAY)
    assert run.status == 3
    assert "the record there is newer: it holds a journal line that" in said(run.err)
    assert answers(desk) == newer
    desk.did("restore", tmp_path / "kept.sqlite", "--over", now=SATURDAY)
    assert answers(desk) == before
    aside = tmp_path / "record-put-aside-1.sqlite"
    assert answers(Desk(aside)) == newer, "put aside, not lost"


@pytest.mark.parametrize("way", ["restored", "unpacked by hand", "built from its export"])
def test_a_record_that_came_back_is_planned_at_once(desk: Desk, tmp_path: Path, way: str) -> None:
    desk.did("backup", tmp_path / "kept.sqlite.gz", now=SATURDAY)
    desk.did("export", tmp_path / "all", now=SATURDAY)
    new = Desk(tmp_path / "new disk" / "record.sqlite")
    if way == "restored":
        new.did("restore", tmp_path / "kept.sqlite.gz", now=SATURDAY)
    elif way == "unpacked by hand":
        new.store.parent.mkdir()
        new.store.write_bytes(gzip.decompress((tmp_path / "kept.sqlite.gz").read_bytes()))
    else:
        new.did("load", tmp_path / "all", now=SATURDAY)
    assert "SUN-09" in new.did("plan", now=SATURDAY)


def test_a_damaged_record_comes_back_and_is_put_aside(desk: Desk) -> None:
    desk.did("air", "study", "52", now=SATURDAY)
    before, snapshot = answers(desk), snapshots(desk)[0].file
    data = desk.store.read_bytes()
    desk.store.unlink()
    desk.store.write_bytes(data[:4096] + b"\xff" * (len(data) - 4096))
    run = desk("ready", now=SATURDAY)
    assert run.status == 4
    assert f"wingrest restore {snapshot}" in said(run.err).replace("- ", "-")
    desk.did("restore", snapshot, now=SATURDAY)
    assert answers(desk) == before
    assert desk.store.with_name("record-put-aside-1.sqlite").exists()


def test_phones_go_on_after_a_record_comes_back(desk: Desk, tmp_path: Path) -> None:
    from scheduler.page.tokens import ensure_tokens, read_tokens

    desk.did("backup", tmp_path / "kept.sqlite", now=SATURDAY)
    with Store(desk.store) as store:
        tokens = ensure_tokens(store)
    desk.did("feed", "-o", tmp_path / "a.ics", now=SATURDAY)
    with Store(desk.store) as store:
        told = {r["uid"]: r["sequence"] for r in store.db.execute("SELECT * FROM event")}
    desk.did("restore", tmp_path / "kept.sqlite", "--over", now=SATURDAY)
    with Store(desk.store) as store:
        assert read_tokens(store.db) == tokens
        kept = {r["uid"]: r["sequence"] for r in store.db.execute("SELECT * FROM event")}
    assert told
    assert kept == told


@pytest.mark.parametrize("data", [b"", b"hawkmoths", b"\x1f\x8b broken"])
def test_what_is_no_snapshot_is_not_restored(desk: Desk, tmp_path: Path, data: bytes) -> None:
    for name in ("bad.sqlite", "bad.sqlite.gz"):
        (tmp_path / name).write_bytes(data)
        before = desk.store.read_bytes()
        run = desk("restore", tmp_path / name, "--over", now=SATURDAY)
        assert run.status in (2, 4)
        assert desk.store.read_bytes() == before


@pytest.mark.parametrize("table", ["specimens(id)", None])
def test_what_another_program_keeps_is_no_snapshot(
    desk: Desk, tmp_path: Path, table: str | None
) -> None:
    foreign = tmp_path / "foreign.sqlite"
    with closing(sqlite3.connect(foreign)) as db:
        db.execute("PRAGMA user_version = 3")
        if table:
            db.execute(f"CREATE TABLE {table}")
        db.commit()
    run = desk("restore", foreign, now=SATURDAY)
    assert run.status == 2
    assert "belongs to another program and is no snapshot" in said(run.err)
    assert "--store" not in run.err, "it is not named as the record"


def test_an_export_is_plain_and_holds_no_address(desk: Desk, tmp_path: Path) -> None:
    from scheduler.page.tokens import ensure_tokens

    with Store(desk.store) as store:
        tokens = ensure_tokens(store)
    desk.did("export", tmp_path / "out", now=SATURDAY)
    every = "".join(p.read_text(encoding="utf-8") for p in (tmp_path / "out").iterdir())
    assert tokens.calendar not in every
    assert tokens.bench not in every
    readme = (tmp_path / "out" / "README.txt").read_text(encoding="utf-8")
    for path in (tmp_path / "out").glob("*.csv"):
        line = next(r for r in readme.splitlines() if r.strip().startswith(path.name))
        assert len(line.split(maxsplit=1)[1]) > 10, f"{path.name} is not described"


@given(st.text())
def test_a_cell_starts_no_formula_and_gives_its_text_back(text: str) -> None:
    assert text_in_cell(cell(text)) == text
    assert not cell(text).startswith(("=", "+", "-", "@", "\t", "\r"))


def everything(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with closing(sqlite3.connect(path)) as db:
        tables = [r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {
            t: sorted(db.execute(f"SELECT * FROM {t}").fetchall(), key=repr)
            for t in tables
            if t not in ("secret", "link", "tap", "served")
        }


def same_again(desk: Desk, folder: Path) -> Desk:
    desk.did("export", folder / "out", now=SATURDAY)
    again = Desk(folder / "again.sqlite")
    again.did("load", folder / "out", now=SATURDAY)
    return again


def test_an_export_makes_the_same_record_again(desk: Desk, tmp_path: Path) -> None:
    desk.did("air", "study", "52", now=SATURDAY)
    desk.did("undo", now=SATURDAY)
    desk.did("feed", "-o", tmp_path / "a.ics", now=SATURDAY)
    again = same_again(desk, tmp_path)
    assert everything(again.store) == everything(desk.store)
    assert answers(again) == answers(desk)
    desk.did("feed", "-o", tmp_path / "b.ics", now=SATURDAY)
    again.did("feed", "-o", tmp_path / "c.ics", now=SATURDAY)
    assert (tmp_path / "c.ics").read_bytes() == (tmp_path / "b.ics").read_bytes()


@pytest.mark.slow
@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.stem)
def test_a_story_exported_and_loaded_goes_on_the_same(story: Path, tmp_path: Path) -> None:
    (tmp_path / "story").mkdir()
    played(story, tmp_path / "story")
    desk = Desk(tmp_path / "story" / "bench.sqlite")
    if not desk.store.exists():
        pytest.skip("it is told with a record that it throws away")
    again = same_again(desk, tmp_path)
    assert everything(again.store) == everything(desk.store)
    with Store(desk.store) as store:
        latest = store.facts().latest
    assert latest is not None
    for one in (desk, again):  # what is said of their snapshots is each one's own
        one.did("backup", now=latest.isoformat())
    for days in (1, 8, 30):
        now = (latest + timedelta(days=days)).isoformat()
        assert answers(again, now) == answers(desk, now)


def test_an_export_that_was_cut_off_leaves_room_for_the_next(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> str:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as once:
        once.setattr(exporting, "_journal_text", full)
        run = desk("export", tmp_path / "all", now=SATURDAY)
    assert run.status == 2
    assert "No space left" in said(run.err)
    desk.did("export", tmp_path / "all", now=SATURDAY)


def test_an_export_goes_into_an_empty_record_only(desk: Desk, tmp_path: Path) -> None:
    desk.did("export", tmp_path / "out", now=SATURDAY)
    run = desk("load", tmp_path / "out", now=SATURDAY)
    assert run.status == 3
    assert "is not empty" in said(run.err)


def test_an_export_that_is_not_whole_is_not_loaded(desk: Desk, tmp_path: Path) -> None:
    desk.did("export", tmp_path / "out", now=SATURDAY)
    specimens = tmp_path / "out" / "specimen.csv"
    lines = specimens.read_text(encoding="utf-8").splitlines(keepends=True)
    specimens.write_text("".join(lines[:-1]), encoding="utf-8")
    run = Desk(tmp_path / "again.sqlite")("load", tmp_path / "out")
    assert run.status == 2
    assert "it is not whole" in said(run.err)
    assert not (tmp_path / "again.sqlite").exists()


def test_an_export_whose_tables_contradict_each_other_is_not_loaded(
    desk: Desk, tmp_path: Path
) -> None:
    desk.did("export", tmp_path / "out", now=SATURDAY)
    path = tmp_path / "out" / "board_stay.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    rows[1][rows[0].index("board")] = "B99"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    run = Desk(tmp_path / "again.sqlite")("load", tmp_path / "out")
    assert run.status == 2
    assert "names something of board.csv that is not there" in said(run.err)
    assert not (tmp_path / "again.sqlite").exists()
