"""The record: what it refuses, what it journals, and that undo brings everything back."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.journal import read_journal, take_back
from scheduler.record.migrations import MIGRATIONS
from scheduler.record.state_tables import STATE_TABLES
from scheduler.record.store import Store
from scheduler.words.problems import RecordBusy, Refused
from scheduler.words.records import Board, Placement, Room, Specimen

NOW = datetime(2027, 5, 5, 16, 0, tzinfo=UTC)
AT = When(NOW, NOW)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "record.sqlite") as opened:
        fill(opened)
        yield opened


def fill(store: Store) -> None:
    with store.deed(AT, "test", "two boards, three moths") as deed:
        deed.put("room", rows.room_row(Room("study", "room", 52.3, 20.0)))
        for board in ("B1", "B2"):
            deed.put("board", rows.board_row(Board(board, 6.0, 110.0, 300)))
            stay = {"board": board, "room": "study", "since": "1970-01-01T00:00:00Z"}
            deed.insert("board_stay", stay)
        for name in ("M-1", "M-2", "M-3"):
            specimen = Specimen(name, family="Noctuidae", body_mm=0.1 + 0.2, wingspan_mm=41.0)
            deed.put("specimen", rows.specimen_row(specimen))


def placed(specimen: str, from_mm: int, to_mm: int, board: str = "B1") -> Placement:
    return Placement(0, specimen, board, from_mm, to_mm, NOW, date(2027, 5, 5))


def mount(store: Store, *placements: Placement) -> int:
    with store.deed(AT, "test", f"mounted {placements[0].specimen}") as deed:
        ids = [deed.insert("placement", rows.placement_row(p)) for p in placements]
    return ids[0]


def test_what_was_written_is_read_back_to_the_last_digit(store: Store) -> None:
    snap = store.snapshot()
    assert snap.specimens["M-1"].body_mm == 0.1 + 0.2
    assert snap.rooms["study"] == Room("study", "room", 52.3, 20.0)
    assert [b.board for b in snap.boards.values()] == ["B1", "B2"]
    assert snap.room_of("B1") == snap.rooms["study"]


def test_two_slots_may_touch_but_not_overlap(store: Store) -> None:
    mount(store, placed("M-1", 0, 40))
    mount(store, placed("M-2", 40, 80))
    with pytest.raises(Refused, match="another specimen stands in that slot"):
        mount(store, placed("M-3", 79, 119))


def test_a_slot_can_be_used_again_once_it_is_released(store: Store) -> None:
    first = mount(store, placed("M-1", 0, 40))
    later = NOW + timedelta(days=14)
    with store.deed(AT, "test", "test") as deed:
        deed.update("placement", first, {"released_at": rows.moment_text(later)})
    again = placed("M-2", 0, 40)._replace(mounted_at=later)
    mount(store, again)
    assert [p.specimen for p in store.snapshot().standing("B1")] == ["M-2"]


def test_a_slot_past_the_end_of_the_board_is_refused(store: Store) -> None:
    with pytest.raises(Refused, match="past the end of the board"):
        mount(store, placed("M-1", 261, 301))


def test_a_specimen_stands_once(store: Store) -> None:
    mount(store, placed("M-1", 0, 40))
    with pytest.raises(Refused, match="already stands on a board"):
        mount(store, placed("M-1", 100, 140))


@pytest.mark.parametrize("taken", ["b1", "B1", "m-1", "STUDY"])
def test_ids_of_all_kinds_are_unique_together_whatever_their_case(store: Store, taken: str) -> None:
    with pytest.raises(Refused, match="that id is taken"), store.deed(AT, "test", "test") as deed:
        deed.insert("session", {"session": taken, "start": "2027-05-08T07:00:00Z", "minutes": 9})


def test_a_refused_command_leaves_record_and_journal_as_they_were(store: Store) -> None:
    mount(store, placed("M-1", 0, 40))
    before, lines = store.image(), len(read_journal(store))
    with pytest.raises(Refused):
        mount(store, placed("M-2", 100, 140), placed("M-3", 10, 50))
    assert store.image() == before
    assert len(read_journal(store)) == lines


def test_nothing_is_written_without_a_journal_line(store: Store) -> None:
    with pytest.raises(sqlite3.IntegrityError), store.transaction():
        store.db.execute("INSERT INTO room(room, regime) VALUES ('attic', 'room')")


def test_a_command_that_changes_nothing_leaves_no_line(store: Store) -> None:
    before = read_journal(store)
    with store.deed(AT, "test", "the same again") as deed:
        deed.put("room", rows.room_row(Room("study", "room", 52.3, 20.0)))
    assert read_journal(store) == before


def test_undo_names_the_later_line_that_built_on_it(store: Store) -> None:
    number = mount(store, placed("M-1", 0, 40))
    mounted = read_journal(store)[-1].line
    with store.deed(AT, "test", "took M-1 off") as deed:
        deed.update("placement", number, {"released_at": rows.moment_text(NOW)})
    with pytest.raises(Refused, match=f"took M-1 off.*undo {mounted + 1}"):
        take_back(store, mounted, AT)


def test_undoing_the_later_line_first_makes_the_earlier_one_free(store: Store) -> None:
    image = store.image()
    number = mount(store, placed("M-1", 0, 40))
    mounted = read_journal(store)[-1].line
    with store.deed(AT, "test", "took M-1 off") as deed:
        deed.update("placement", number, {"released_at": rows.moment_text(NOW)})
    take_back(store, None, AT)
    take_back(store, mounted, AT)
    assert store.image() == image


def test_an_undone_line_cannot_be_undone_twice_but_its_undo_can(store: Store) -> None:
    mount(store, placed("M-1", 0, 40))
    image = store.image()
    mounted = read_journal(store)[-1].line
    take_back(store, mounted, AT._replace(who="Wren"))
    with pytest.raises(Refused, match=f"To bring it back: undo {mounted + 1}"):
        take_back(store, mounted, AT)
    take_back(store, mounted + 1, AT)
    assert store.image() == image


def test_undo_of_a_release_is_refused_when_the_slot_was_used_again(store: Store) -> None:
    number = mount(store, placed("M-1", 0, 40))
    with store.deed(AT, "test", "took M-1 off") as deed:
        deed.update("placement", number, {"released_at": rows.moment_text(NOW)})
    released = read_journal(store)[-1].line
    mount(store, placed("M-2", 0, 40))
    with pytest.raises(Refused, match="another specimen stands in that slot"):
        take_back(store, released, AT)


def test_undo_with_nothing_to_take_back(tmp_path: Path) -> None:
    with Store(tmp_path / "empty.sqlite") as empty, pytest.raises(Refused, match="nothing to take"):
        take_back(empty, None, AT)


_change = st.tuples(
    st.sampled_from(["mount", "release", "resize", "air"]),
    st.sampled_from(["M-1", "M-2", "M-3"]),
    st.integers(0, 280),
    st.floats(0.1, 40, allow_nan=False),
)


def _apply(store: Store, what: str, who: str, mm: int, size: float) -> None:
    with store.deed(AT, "test", f"{what} {who}") as deed:
        if what == "mount":
            deed.insert("placement", rows.placement_row(placed(who, mm, mm + 20)))
        elif what == "release":
            for p in store.snapshot().standing():
                if p.specimen == who:
                    deed.update("placement", p.id, {"released_at": rows.moment_text(NOW)})
        elif what == "resize":
            deed.update("specimen", who, {"body_mm": size, "label": '{"sex": "♀"}'})
        else:
            deed.update("room", "study", {"rh_pct": size, "temp_c": None})


@settings(max_examples=40, deadline=None)
@given(changes=st.lists(_change, max_size=8))
def test_undo_restores_every_table_byte_for_byte(
    tmp_path_factory: pytest.TempPathFactory, changes: list[tuple[str, str, int, float]]
) -> None:
    with Store(tmp_path_factory.mktemp("law") / "record.sqlite") as store:
        fill(store)
        images = [store.image()]
        for change in changes:
            lines = len(read_journal(store))
            try:
                _apply(store, *change)
            except Refused:
                assert store.image() == images[-1]
                continue
            if len(read_journal(store)) > lines:
                images.append(store.image())
        for image in reversed(images[:-1]):
            take_back(store, None, AT)
            assert store.image() == image


def test_every_state_table_is_journaled(store: Store) -> None:
    triggers = {r["name"] for r in store.db.execute("SELECT name FROM sqlite_master")}
    for table in STATE_TABLES:
        assert {f"{table}_added", f"{table}_changed", f"{table}_taken"} <= triggers


def test_the_journal_keeps_every_column_of_every_state_table(store: Store) -> None:
    for table in STATE_TABLES:
        sql = store.db.execute(
            "SELECT sql FROM sqlite_master WHERE name = ?", (f"{table}_added",)
        ).fetchone()["sql"]
        for column in store.db.execute(f"PRAGMA table_info({table})"):
            assert f"'{column['name']}'" in sql, (table, column["name"])


def test_a_record_of_a_newer_version_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    with Store(path) as opened:
        opened.settle()
        opened.db.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    with pytest.raises(RecordBusy, match="newer wingrest"):
        Store(path)


def test_a_file_that_is_no_record_is_said_to_be_unreadable(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("hawkmoths on Tuesday\n" * 100, encoding="utf-8")
    with pytest.raises(RecordBusy, match="is no record and was left alone"):
        Store(path)


def test_two_commands_at_once_make_one_record(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    faults: list[Exception] = []

    def write(name: str) -> None:
        try:
            with Store(path) as mine, mine.deed(AT, "test", name) as deed:
                deed.put("room", rows.room_row(Room(name)))
        except Exception as error:
            faults.append(error)

    threads = [threading.Thread(target=write, args=(f"room-{n}",)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not faults
    with Store(path) as store:
        assert len(store.snapshot().rooms) == 8
