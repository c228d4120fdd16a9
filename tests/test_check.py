"""`wingrest check` names what is wrong and what to do; what is damaged is never believed."""

from __future__ import annotations

import json
import os
import random
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from bench_cases import Desk, weekend

from scheduler.record.ground import ground_of
from scheduler.record.store import Store

SATURDAY = "2027-05-08T12:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    desk = weekend(tmp_path)
    desk.did("air", "study", "52", now=SATURDAY)
    return desk


def checked(desk: Desk, now: str = SATURDAY) -> tuple[int, dict[str, tuple[str, str]]]:
    run = desk("check", "--format", "json", now=now)
    found = json.loads(run.out)["checks"]
    assert all(bool(one["remedy"]) == (one["state"] != "fine") for one in found)
    return run.status, {one["what"]: (one["state"], one["text"]) for one in found}


def forged(desk: Desk, sql: str) -> None:
    """Change a record behind its own back, as another program would."""
    with closing(sqlite3.connect(desk.store, isolation_level=None)) as db:
        triggers = db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in triggers:
            db.execute(f"DROP TRIGGER {name}")
        db.execute(sql)


def test_a_sound_record_is_fine(desk: Desk) -> None:
    status, found = checked(desk)
    assert {state for state, _ in found.values()} == {"fine"}
    assert status == 0
    assert {"pages", "references", "journal", "clock", "time zone", "rules", "plan"} <= set(found)
    assert {"rights", "folder", "disk", "last snapshot"} <= set(found)


def test_check_changes_no_byte(desk: Desk) -> None:
    before = {p: p.read_bytes() for p in desk.store.parent.rglob("*") if p.is_file()}
    desk("check", now=SATURDAY)
    assert {p: p.read_bytes() for p in desk.store.parent.rglob("*") if p.is_file()} == before


@pytest.mark.parametrize(
    ("sql", "what"),
    [
        ("UPDATE placement SET released_at = '2027-06-01T00:00:00Z' WHERE id = 1", "journal"),
        ("DELETE FROM dial", "journal"),
        ("UPDATE specimen SET body_mm = 99.5 WHERE specimen = 'M-14'", "journal"),
        ("INSERT INTO room(room, regime) VALUES ('attic', 'room')", "journal"),
        ("UPDATE change SET after = NULL WHERE id = 5", "journal"),
        ("PRAGMA foreign_keys = OFF", None),
        ("DELETE FROM specimen WHERE specimen IN (SELECT specimen FROM placement)", "references"),
    ],
)
def test_what_another_program_changed_is_told_from_the_journal(
    desk: Desk, sql: str, what: str | None
) -> None:
    forged(desk, sql)
    status, found = checked(desk)
    damaged = {name for name, (state, _) in found.items() if state == "damaged"}
    assert (what in damaged) if what else not damaged
    assert status == (4 if what else 0)


def planned(desk: Desk) -> dict[str, Any]:
    with Store(desk.store) as store:
        (text,) = store.db.execute("SELECT plan FROM kept_plan").fetchone()
    found: dict[str, Any] = json.loads(text)
    return found


def test_the_kept_plan_is_judged_by_the_referee(desk: Desk) -> None:
    desk.did("plan", now=SATURDAY)
    state, text = checked(desk, now="2027-05-08T12:30")[1]["plan"]
    assert state == "fine"
    assert text.endswith("; the referee finds no fault in it")
    plan = planned(desk)
    plan["planned"][0][3] += 1  # a slot that begins a millimetre further right
    with Store(desk.store) as store, store.transaction():
        store.db.execute("UPDATE kept_plan SET plan = ?", (json.dumps(plan),))
    status, found = checked(desk)
    assert (status, found["plan"][0]) == (1, "see to")
    name = plan["planned"][0][0]
    assert name in found["plan"][1]
    assert "mm, it needs" in found["plan"][1]


def test_a_plan_that_is_older_than_the_record_is_said_to_be(desk: Desk) -> None:
    desk.did("plan", now=SATURDAY)
    desk.did("amend", "M-14", "body_mm=7.7", now=SATURDAY)
    state, text = checked(desk)[1]["plan"]
    assert state == "fine"
    assert "not checked again: record or rules have changed since it was made, 2027-05-0" in text


def test_a_time_zone_that_is_none_is_named(desk: Desk) -> None:
    forged(desk, "UPDATE setting SET value = 'Mars/Olympus' WHERE key = 'timezone'")
    run = desk("check", now=SATURDAY)
    assert run.status == 4
    assert "'Mars/Olympus' is not known here" in " ".join(run.out.split())
    for words in (["ready"], ["boards"], ["release", "B5"]):
        assert desk(*words, now=SATURDAY).status == 4


def test_a_clock_before_the_last_line_is_named(desk: Desk) -> None:
    status, found = checked(desk, now="2027-05-08T11:00")
    assert status == 1
    assert found["clock"][0] == "see to"


@pytest.mark.skipif(os.name != "posix", reason="rights of POSIX")
def test_a_record_that_others_may_read_is_named(desk: Desk) -> None:
    desk.store.chmod(0o644)
    status, found = checked(desk)
    assert (status, found["rights"][0]) == (1, "see to")


def test_a_snapshot_that_cannot_be_read_back_is_named(desk: Desk) -> None:
    for file in (desk.store.parent / "record-snapshots").glob("*.gz"):
        file.write_bytes(file.read_bytes()[:-100])
    status, found = checked(desk)
    assert (status, found["last snapshot"][0]) == (1, "see to")


MOUNTS = """\
21 1 8:1 / / rw - ext4 /dev/sda1 rw
40 21 0:35 / /home/wren/museum\\040share rw - cifs //server/share rw
41 40 8:2 / /home/wren/museum\\040share/here rw - ext4 /dev/sdb rw
"""


@pytest.mark.parametrize(
    ("folder", "network"),
    [
        ("/home/wren", None),
        ("/home/wren/museum share", "cifs"),
        ("/home/wren/museum share/moths", "cifs"),
        ("/home/wren/museum share/here/moths", None),
    ],
)
def test_a_network_disk_is_known_by_its_mount(folder: str, network: str | None) -> None:
    # The form of /proc/self/mountinfo: proc_pid_mountinfo(5), Linux man-pages.
    assert ground_of(Path(folder), MOUNTS).network == network


def test_a_synchronised_folder_is_known_by_what_its_program_leaves(tmp_path: Path) -> None:
    assert ground_of(tmp_path, MOUNTS).synced is None
    (tmp_path / "moths" / "2027").mkdir(parents=True)
    (tmp_path / ".stfolder").mkdir()
    assert ground_of(tmp_path / "moths" / "2027", MOUNTS).synced == tmp_path.resolve()


def damaged_copies(desk: Desk, many: int) -> list[Desk]:
    """The record with a few bytes, a page or its end lost, seed by seed."""
    data, copies = desk.store.read_bytes(), []
    for seed in range(many):
        chance, bad = random.Random(seed), bytearray(data)
        at = chance.randrange(100, len(data))
        if seed % 3 == 0:
            bad[at : at + 4] = chance.randbytes(4)
        elif seed % 3 == 1:
            page = at // 4096 * 4096
            bad[page : page + 4096] = chance.choice([bytes(4096), chance.randbytes(4096)])
        else:
            del bad[at:]
        path = desk.store.parent / f"damaged-{seed}.sqlite"
        path.write_bytes(bad)
        copies.append(Desk(path))
    return copies


def test_a_damaged_record_is_refused_or_gives_the_right_answer(desk: Desk) -> None:
    questions = (["boards", "--format", "csv"], ["journal", "--format", "csv"])
    right = {tuple(words): desk(*words, now=SATURDAY).out for words in questions}
    refused = 0
    for copy in damaged_copies(desk, 60):
        sound = checked(copy)[0] == 0
        for words in questions:
            run = copy(*words, now=SATURDAY)
            assert run.status in (0, 4), (copy.store.name, run.err)
            assert "Traceback" not in run.err
            refused += run.status == 4
            if sound:
                assert run.out == right[tuple(words)]
    assert refused > 60


@pytest.mark.parametrize("bad", ["CAST(x'fffe' AS TEXT)", "replace(tables, ':', ';')"])
def test_kept_rule_rows_that_cannot_be_read_are_no_fault_of_the_program(
    desk: Desk, bad: str
) -> None:
    forged(desk, f"UPDATE ruling SET tables = {bad}")
    run = desk("today", now=SATURDAY)
    assert run.status == 4
    assert "is damaged" in " ".join(run.err.split())
    assert "wingrest restore" in run.err
    assert desk("check", now=SATURDAY).status == 4


@pytest.mark.parametrize("version", [None, 99], ids=["another program's", "a newer one"])
def test_what_cannot_be_used_is_not_called_damaged_nor_told_what_to_do_with_it(
    tmp_path: Path, version: int | None
) -> None:
    desk = weekend(tmp_path)
    if version is None:
        desk = Desk(tmp_path / "foreign.sqlite")
        forged(desk, "CREATE TABLE specimens(id)")
    else:
        forged(desk, f"PRAGMA user_version = {version}")
    desk.store.chmod(0o644)
    run = desk("check", now=SATURDAY)
    assert run.status == 4
    assert "record: NOT USABLE:" in run.out
    assert "chmod" not in run.out


def test_an_empty_file_is_not_said_to_hold_anything(tmp_path: Path) -> None:
    (tmp_path / "empty.sqlite").touch()
    run = Desk(tmp_path / "empty.sqlite")("today", now=SATURDAY)
    assert run.status == 4
    assert "There is no snapshot of it." in run.err
    assert "--salvage" not in run.err


def test_what_can_still_be_read_makes_a_record_again(desk: Desk, tmp_path: Path) -> None:
    with closing(sqlite3.connect(desk.store)) as db:
        (page,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'dial'").fetchone()
    whole = desk("boards", now=SATURDAY).out
    data = bytearray(desk.store.read_bytes())
    data[(page - 1) * 4096 : page * 4096] = b"\xff" * 4096
    lost = Desk(tmp_path / "lost.sqlite")
    lost.store.write_bytes(data)
    assert lost("boards", now=SATURDAY).status == 4
    run = lost("check", "--salvage", tmp_path / "saved", now=SATURDAY)
    assert run.status == 0
    assert "dial: not whole; 0 rows read, 1 more from the journal" in " ".join(run.err.split())
    again = Desk(tmp_path / "again.sqlite")
    again.did("load", tmp_path / "saved", now=SATURDAY)
    assert again("boards", now=SATURDAY).out == whole
    with Store(again.store) as ours, Store(desk.store) as theirs:
        assert ours.image() == theirs.image()


def test_a_journal_that_is_lost_leaves_what_its_lines_changed(desk: Desk, tmp_path: Path) -> None:
    with closing(sqlite3.connect(desk.store)) as db:
        ask = "SELECT rootpage FROM sqlite_master WHERE name = 'journal'"
        (page,) = db.execute(ask).fetchone()
    whole = desk("boards", now=SATURDAY).out
    data = bytearray(desk.store.read_bytes())
    data[(page - 1) * 4096 : page * 4096] = b"\xff" * 4096
    lost = Desk(tmp_path / "lost.sqlite")
    lost.store.write_bytes(data)
    lost.did("check", "--salvage", tmp_path / "saved", now=SATURDAY)
    again = Desk(tmp_path / "again.sqlite")
    again.did("load", tmp_path / "saved", now=SATURDAY)
    assert again("boards", now=SATURDAY).out == whole
    assert "could not be read any more" in " ".join(again("journal", now=SATURDAY).out.split())
    state, _ = checked(again)[1]["journal"]
    assert state == "fine"


def test_of_a_record_that_was_cut_off_the_rest_is_read(desk: Desk, tmp_path: Path) -> None:
    lost = Desk(tmp_path / "lost.sqlite")
    whole = desk.store.read_bytes()
    lost.store.write_bytes(whole[: len(whole) * 3 // 4])
    run = lost("check", "--salvage", tmp_path / "saved", now=SATURDAY)
    assert run.status == 0
    assert "specimen.csv" in {file.name for file in (tmp_path / "saved").iterdir()}
    rows = (tmp_path / "saved" / "specimen.csv").read_text(encoding="utf-8")
    assert "invented" in rows, "what was left of them"


def test_today_says_so_of_a_record_that_two_computers_can_spoil(tmp_path: Path) -> None:
    (tmp_path / ".stfolder").mkdir()
    desk = weekend(tmp_path)
    said = " ".join(desk.did("today").split())
    assert f"the record lies in {tmp_path.resolve()}, which is kept in step with other" in said
    (tmp_path / ".stfolder").rmdir()
    assert "the record lies in" not in " ".join(desk.did("today").split())
