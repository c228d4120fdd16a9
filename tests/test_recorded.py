"""The record read part by part: the same as read whole, whatever is written meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from datetime import timedelta
from pathlib import Path

import pytest
from bench_cases import local, rules, weekend

from scheduler.record.deed import When
from scheduler.record.rows import Value
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.view import view_of
from scheduler.words.records import Board

NOW = local("2027-05-05T18:00")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """The first weekend, with what people recorded since."""
    desk = weekend(tmp_path)
    desk.did("relax", "M-10", "M-11")
    desk.did("test", "M-08", "soft")
    desk.did("test", "M-03", "stiff")
    desk.did("release", "M-03")
    desk.did("drooped", "M-03", "left hindwing")
    desk.did("air", "study", "61", "19")
    desk.did("lost", "M-31", "dropped")
    with Store(desk.store) as opened:
        yield opened


def derived(facts: Snapshot) -> list[object]:
    """All that is asked of the record beside its tables."""
    every = [*facts.specimens]
    return [
        facts.standing(),
        *(facts.standing(board) for board in facts.boards),
        *(facts.stays_of(board) for board in facts.boards),
        *(facts.room_of(board) for board in facts.boards),
        *(facts.tests_of(p.id) for p in facts.placements),
        *(facts.keeping_of(name) for name in every),
        *(facts.chamber_of(name) for name in every),
        *(facts.chamber_since(name) for name in every),
        facts.in_chamber(),
        facts.waiting(),
        facts.sessions_from(NOW + timedelta(days=5)),
        facts.placements_from(NOW - timedelta(days=20)),
        facts.first_mounted(),
        *(facts.air_days_of(room, NOW.date()) for room in facts.rooms),
        *(facts.dials_of(room, NOW - timedelta(days=1)) for room in facts.rooms),
        *(facts.last_air(room) for room in facts.rooms),
    ]


def test_read_as_it_is_asked_it_is_the_whole_record(store: Store) -> None:
    whole = store.snapshot()
    read = store.facts().but()
    for field in fields(whole):
        assert getattr(read, field.name) == getattr(whole, field.name), field.name
    assert derived(store.facts()) == derived(whole)
    assert whole.chamber
    assert whole.droops
    assert whole.dials
    assert whole.gone


def test_order_does_not_matter(store: Store) -> None:
    whole, facts = store.snapshot(), store.facts()
    assert facts.standing("B3") == whole.standing("B3")
    assert facts.standing() == whole.standing()
    assert facts.specimens["M-10"] == whole.specimens["M-10"]
    assert facts.specimens == whole.specimens
    assert [*facts.sessions] == [*whole.sessions]
    assert "m-10" not in facts.specimens
    assert "m-10" not in whole.specimens


def test_what_is_written_afterwards_is_not_seen(store: Store) -> None:
    before, facts = store.snapshot(), store.facts()
    row: dict[str, Value] = {"board": "Z1", "groove_mm": 4.0, "span_mm": 90.0, "length_mm": 300}
    with store.deed(When(NOW, NOW), "board", "a new one") as deed:
        inside = store.facts()
        deed.insert("board", row)
        assert store.facts().boards["Z1"] == Board("Z1", 4.0, 90.0, 300)
    assert facts.boards == before.boards
    assert inside.boards == before.boards
    assert "Z1" in store.facts().boards


def test_a_view_reads_no_history(store: Store) -> None:
    view = view_of(store, rules(), NOW)
    asked: list[str] = []
    view.facts.db.set_trace_callback(asked.append)  # type: ignore[attr-defined]
    for board in view.boards:
        view.answer(board)
    assert view.waiting
    assert view.planned
    reads = [sql for sql in asked if sql.startswith("SELECT * FROM placement")]
    assert reads
    assert all("released_at IS NULL" in sql for sql in reads)
    # Of the journal no more than its latest line.
    assert not [sql for sql in asked if "FROM change" in sql]
    assert not [sql for sql in asked if "FROM journal" in sql and "LIMIT 1" not in sql]
