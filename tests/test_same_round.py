"""One round along the boards: whom a soft one beside them moves, and what stays as it was."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from bench_cases import Desk, local, rules

from scheduler.record.store import Store
from scheduler.record.tested import standing_tested_since
from scheduler.view import view_of

NAMES = [f"M-{n:02d}" for n in range(1, 9)]


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Eight alike on one board, due on 4 May; on 6 May four of them were still soft."""
    batch = tmp_path / "batch"
    batch.mkdir()
    slots = [f"{name},B1,{60 * n},{60 * n + 50},2027-04-20T10:00" for n, name in enumerate(NAMES)]
    for file, lines in {
        "rooms": ["room,rh_pct,temp_c", "study,50,20"],
        "boards": ["board,groove_mm,span_mm,length_mm,room", "B1,6,90,900,study"],
        "specimens": [
            "specimen,family,body_mm,wingspan_mm",
            *(f"{name},Noctuidae,5,40" for name in NAMES),
        ],
        "mounted": ["specimen,board,from_mm,to_mm,mounted", *slots],
    }.items():
        (batch / f"{file}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (batch / "settings.toml").write_text('timezone = "Europe/Berlin"\n', encoding="utf-8")
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", batch, "--yes", now="2027-04-20T12:00")
    for day in ("2027-05-06", "2027-05-07", "2027-05-08"):
        desk.did("air", "study", "50", "20", now=f"{day}T17:00")
    desk.did("test", *NAMES[:4], "soft", now="2027-05-06T18:00")
    return desk


def due(desk: Desk, name: str, day: str) -> date | None:
    """When one on the board is due, as the record stands on an evening."""
    with Store(desk.store) as store:
        one = view_of(store, rules(), local(f"{day}T18:05")).on_board(name)
        assert one is not None
        return one.dates.due


def test_what_was_due_when_the_round_began_comes_off_though_another_was_soft(desk: Desk) -> None:
    assert due(desk, "M-06", "2027-05-07") == date(2027, 5, 4)
    desk.did("test", "M-05", "soft", now="2027-05-07T18:00")
    moved = due(desk, "M-06", "2027-05-07")
    assert moved is not None
    assert moved > date(2027, 5, 8)
    felt = desk("test", "M-06", "stiff", now="2027-05-07T18:02")
    assert felt.status == 0
    assert "too early" not in felt.out + felt.err
    assert "it stays" not in felt.out + felt.err
    assert desk("ready", "M-06", now="2027-05-07T18:03").status == 0
    assert desk.did("release", "M-06", now="2027-05-07T18:04").startswith("took M-06")


def test_on_the_next_day_the_later_date_holds(desk: Desk) -> None:
    desk.did("test", "M-05", "soft", now="2027-05-07T18:00")
    felt = desk("test", "M-06", "stiff", now="2027-05-08T18:00")
    assert "it stays. Stiff again on" in " ".join((felt.out + felt.err).split())
    assert desk("ready", "M-06", now="2027-05-08T18:01").status == 1


def test_whom_a_round_is_asked_about_is_the_same_read_as_asked_or_read_whole(desk: Desk) -> None:
    desk.did("test", "M-05", "soft", now="2027-05-07T18:00")
    desk.did("test", "M-06", "stiff", now="2027-05-07T18:02")
    desk.did("release", "M-06", now="2027-05-07T18:04")
    with Store(desk.store) as store:
        asked = view_of(store, rules(), local("2027-05-07T18:05")).facts
        for since, names in {
            "2027-05-06T00:00": {*NAMES[:5]},
            "2027-05-07T00:00": {"M-05"},
            "2027-05-07T18:00": {"M-05"},
            "2027-05-07T18:01": set(),
        }.items():
            found = standing_tested_since(asked, local(since))
            assert {p.specimen for p in found} == names
            assert standing_tested_since(asked.but(), local(since)) == found
