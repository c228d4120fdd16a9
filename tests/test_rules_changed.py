"""Rules that changed since a mounting: what stands is judged anew, what was told stays explained.

The rules of now are a person's own rows beside the shipped ones; the figures in them are
invented, to see what a change does.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench_cases import Desk
from test_own_rules import own
from verb_cases import image, recorded

from scheduler.record.store import Store
from scheduler.rulebook import load_rulebook
from scheduler.rulebook.rulings import rows_said, ruling_of, under_ruling

NOW = "2027-05-09T09:00"
ROW = "fresh-room-8"

TABLES = {
    "settings.toml": 'timezone = "Europe/Berlin"\n',
    "rooms.csv": "room,regime,rh_pct,temp_c\nstudy,room,50,20\n",
    "boards.csv": "board,groove_mm,span_mm,length_mm,room\nB1,9,120,300,study\n",
    "specimens.csv": (
        "specimen,group,body_mm,wingspan_mm,state\n"
        "M-01,moth,8,60,fresh\nM-02,moth,8,60,fresh\nM-03,moth,4.5,36,fresh\n"
    ),
}


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Two of 8 mm and a slender one, mounted on 8 May by the shipped rules."""
    batch = tmp_path / "batch"
    batch.mkdir()
    for table, text in TABLES.items():
        (batch / table).write_text(text, encoding="utf-8")
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", batch, now="2027-05-08T09:00")
    desk.did("mount", "B1:", "M-01", "M-02", "M-03", now="2027-05-08T10:00")
    return desk


def moved(desk: Desk, *words: str | Path, now: str = NOW) -> list[dict[str, object]]:
    day = json.loads(desk.did(*words, "today", "--format", "json", now=now))
    return [w for w in day["worries"] if w["kind"] == "rules changed"]


def told(desk: Desk) -> list[tuple[object, ...]]:
    with Store(desk.store) as store:
        sql = "SELECT specimen, due, told.clear FROM told JOIN placement ON id = placement"
        return [tuple(row) for row in store.db.execute(sql)]


def test_the_dates_of_the_strip_are_kept_with_their_rows(desk: Desk) -> None:
    assert told(desk) == [
        ("M-01", "2027-05-22", "2027-05-29"),
        ("M-02", "2027-05-22", "2027-05-29"),
        ("M-03", "2027-05-22", "2027-05-25"),
    ]
    assert moved(desk) == []


def test_today_says_which_dates_a_changed_row_moved_and_why(desk: Desk, tmp_path: Path) -> None:
    mine = own(tmp_path, ROW, min_days="16", plan_days="21")
    (worry,) = moved(desk, "--rules", mine)
    assert worry["names"] == ["M-01", "M-02"]
    assert worry["text"] == (
        "M-01 and M-02: test from 24 May by the rules as they are now, from 22 May"
        " by those of the mounting (rule fresh-room-8 changed: 14 -> 16 days)"
    )
    assert worry["command"] == "wingrest print strips M-01 M-02"
    assert moved(desk) == []  # by the shipped rules again, nothing moved


def test_a_slot_that_counts_as_clear_later_is_said_too(desk: Desk, tmp_path: Path) -> None:
    (worry,) = moved(desk, "--rules", own(tmp_path, ROW, plan_days="24"))
    assert worry["text"] == (
        "M-01 and M-02: clear from 1 Jun by the rules as they are now, from 29 May"
        " by those of the mounting (rule fresh-room-8 changed: 21 -> 24 days)"
    )


def test_what_the_air_moved_is_not_laid_to_the_rules(desk: Desk, tmp_path: Path) -> None:
    desk.did("air", "study", "62", now=NOW)
    assert moved(desk) == []
    mine = own(tmp_path, ROW, note="corrected")
    due = json.loads(desk.did("show", "M-01", "--format", "json", now=NOW))["due"]
    assert due != told(desk)[0][1]
    assert moved(desk, "--rules", mine) == []  # another note is no other date


def test_a_limit_behind_a_date_is_named(desk: Desk, tmp_path: Path) -> None:
    desk.did("test", "M-03", "soft", now="2027-05-22T10:00")
    mine = own(tmp_path, "recheck", table="recheck.csv", recheck_days="9")
    found = moved(desk, "--rules", mine, now="2027-05-22T11:00")
    assert [w["names"] for w in found] == [["M-03"]]
    assert "rule recheck changed: 7 -> 9 days" in str(found[0]["text"])


def test_what_came_off_is_explained_by_the_rules_of_its_mounting(
    desk: Desk, tmp_path: Path
) -> None:
    desk.did("test", "M-01", "stiff", now="2027-05-23T10:00")
    desk.did("release", "M-01", now="2027-05-30T10:00")
    mine = own(tmp_path, ROW, min_days="16", plan_days="22")
    said = " ".join(desk.did("--rules", mine, "show", "M-01", now="2027-05-31T10:00").split())
    assert "due 22 May, clear 29 May when it was mounted; fresh-room-8: 14 and 21 days" in said
    assert moved(desk, "--rules", mine, now="2027-05-31T10:00")[0]["names"] == ["M-02"]


def test_undo_takes_back_what_was_told_with_the_mounting(desk: Desk) -> None:
    desk.did("undo", now=NOW)
    assert told(desk) == []
    recorded(desk, "mount", "M-02", "--board", "B1", now=NOW)
    assert told(desk)[0][:2] == ("M-02", "2027-05-23")


def test_rows_are_kept_once_however_many_are_mounted(desk: Desk, tmp_path: Path) -> None:
    desk.did("undo", now=NOW)
    for name in ("M-01", "M-02"):
        desk.did("mount", name, "--board", "B1", now=NOW)
    mine = own(tmp_path, ROW, min_days="16")
    desk.did("--rules", mine, "mount", "M-03", "--board", "B1", now=NOW)
    with Store(desk.store) as store:
        assert store.db.execute("SELECT count(*) FROM ruling").fetchone()[0] == 2


def test_an_export_takes_it_along(desk: Desk, tmp_path: Path) -> None:
    desk.did("export", tmp_path / "out", now=NOW)
    again = Desk(tmp_path / "again.sqlite")
    again.did("load", tmp_path / "out", now=NOW)
    assert (image(again), told(again)) == (image(desk), told(desk))
    mine = own(tmp_path, ROW, min_days="16")
    assert moved(again, "--rules", mine) == moved(desk, "--rules", mine) != []


def test_rows_come_back_from_their_text_as_they_were(tmp_path: Path) -> None:
    shipped = load_rulebook()
    mine = load_rulebook(own(tmp_path, ROW, min_days="16"))
    back = under_ruling(mine, ruling_of(shipped).tables)
    assert back.tables._replace(limits=()) == shipped.tables._replace(limits=())
    assert set(back.tables.limits) == set(shipped.tables.limits)
    assert ruling_of(back) == ruling_of(shipped) != ruling_of(mine)
    assert rows_said(back, [ROW]) == ("fresh-room-8: 14 and 21 days",)
