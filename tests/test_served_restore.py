"""A record that is brought back while it is served: phones go on with what it says then."""

from __future__ import annotations

from pathlib import Path

from bench_cases import weekend
from serve_cases import serving

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
