"""A record that is brought back while it is served: phones go on with what it says then."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import weekend
from serve_cases import serving

from scheduler.record import restoring
from scheduler.record.journal import read_journal
from scheduler.record.snapshots import copy_checked
from scheduler.record.store import Store

SATURDAY = "2027-05-08T12:00"


def test_phones_go_on_while_the_record_goes_back(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    desk.did("feed", "-o", tmp_path / "told.ics", now=SATURDAY)
    desk.did("backup", tmp_path / "kept.sqlite", now=SATURDAY)
    with serving(desk.store, now=SATURDAY) as running:
        before = running.feed()
        assert before.status == 200
        desk.did("release", "B5", now=SATURDAY)
        changed = running.feed()
        desk.did("restore", tmp_path / "kept.sqlite", "--over", now=SATURDAY)
        back = running.feed()
        assert back.status == 200, "the address is the one that phones know"
        assert changed.body != before.body
        assert b"B12: test K-01" in back.body
        desk.did("release", "B5", now=SATURDAY)
        assert running.feed().status == 200


def test_what_is_recorded_while_a_record_is_put_aside_is_not_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = weekend(tmp_path)
    desk.did("backup", tmp_path / "kept.sqlite", now=SATURDAY)
    desk.did("air", "study", "51", now=SATURDAY)
    really, told = copy_checked, iter(["52", "53"])

    def copy_and_be_overtaken(db, file):  # type: ignore[no-untyped-def]
        """Put the record aside, and record something before another takes its place."""
        really(db, file)
        for humidity in told:
            desk.did("air", "study", humidity, now=f"2027-05-08T12:{humidity}")
            break

    monkeypatch.setattr(restoring, "copy_checked", copy_and_be_overtaken)
    desk.did("restore", tmp_path / "kept.sqlite", "--over", now=SATURDAY)
    (aside,) = desk.store.parent.glob("record-put-aside-*.sqlite")
    with Store(aside) as store:
        said = [line.text for line in read_journal(store)]
    assert [text for text in said if text.startswith("read study")] == [
        f"read study: {humidity} %" for humidity in (51, 52, 53)
    ]
