"""Loading a folder for real: all or nothing, twice the same as once, bad rows set aside."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import pytest
from bench_cases import FIRST_WEEKEND, Desk, weekend
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.deeds.load import load
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.snapshot import Snapshot
from scheduler.record.store import Store
from scheduler.rulebook import load_rulebook
from scheduler.words.problems import BadInput

ROOT = Path(__file__).parents[1]
FAULTS = ROOT / "sample_batches" / "faults"
FILES = ("boards.csv", "mounted.csv", "rooms.csv", "sessions.csv", "settings.toml", "specimens.csv")
BOARD = "board,groove_mm,span_mm,length_mm,room\nB1,4,80,100,study\n"
ROOM = "room,rh_pct\nstudy,50\n"


def image(desk: Desk) -> str:
    """Everything the record says, and how many lines its journal has."""
    with Store(desk.store) as store:
        lines = store.db.execute("SELECT count(*) FROM journal").fetchone()[0]
        return f"{lines}\n{store.image()}"


def snapshot(desk: Desk) -> Snapshot:
    with Store(desk.store) as store:
        return store.snapshot()


def folder(place: Path, **texts: str) -> Path:
    place.mkdir(exist_ok=True)
    for name, text in texts.items():
        (place / f"{name}.csv").write_text(text, encoding="utf-8")
    return place


def small(tmp_path: Path) -> Desk:
    """A record of one board of 100 mm in a room of 50 %."""
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", folder(tmp_path / "first", rooms=ROOM, boards=BOARD))
    return desk


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def write_table(path: Path, lines: Sequence[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(lines[0]))
        writer.writeheader()
        writer.writerows(lines)


# Twice is once


@settings(deadline=None, max_examples=15, suppress_health_check=[HealthCheck.too_slow])
@given(files=st.sets(st.sampled_from(FILES), min_size=1), data=st.data())
def test_loading_any_part_of_the_first_weekend_again_changes_nothing(
    files: set[str], data: st.DataObject
) -> None:
    with TemporaryDirectory() as name:
        desk = weekend(Path(name))
        before = image(desk)
        part = Path(name) / "part"
        part.mkdir()
        for file in sorted(files):
            shutil.copy(FIRST_WEEKEND / file, part)
            if file.endswith(".csv"):
                lines = table(part / file)
                again = data.draw(st.permutations(lines))[: data.draw(st.integers(1, len(lines)))]
                write_table(part / file, again)
        said = desk.did("load", part)
        assert "nothing new" in said
        assert image(desk) == before


@settings(deadline=None, max_examples=15)
@given(data=st.data())
def test_empty_cells_keep_what_is_recorded(data: st.DataObject) -> None:
    with TemporaryDirectory() as name:
        desk = weekend(Path(name))
        before = image(desk)
        lines = table(FIRST_WEEKEND / "specimens.csv")
        emptied = data.draw(st.sets(st.sampled_from(sorted(set(lines[0]) - {"specimen"}))))
        if emptied & {"decimalLatitude", "decimalLongitude"}:
            emptied |= {"decimalLatitude", "decimalLongitude"}
        for line in lines:
            line.update(dict.fromkeys(emptied, ""))
        write_table(folder(Path(name) / "again") / "specimens.csv", lines)
        desk.did("load", Path(name) / "again")
        assert image(desk) == before


def test_a_cell_that_is_filled_replaces_only_itself(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    old = snapshot(desk).specimens["M-11"]
    desk.did("load", folder(tmp_path / "b", specimens="specimen,body_mm,sex\nm-11,5.1,\n"))
    assert snapshot(desk).specimens["M-11"] == old._replace(body_mm=5.1)


def test_a_board_keeps_what_its_row_does_not_say(tmp_path: Path) -> None:
    desk = small(tmp_path)
    text = "board,groove_mm,span_mm,length_mm,refill\nB1,4,80,100,end\n"
    desk.did("load", folder(tmp_path / "b", boards=text))
    before = image(desk)
    assert "'B1'|4.0|80.0|100|0|'end'" in before
    desk.did("load", tmp_path / "first")
    assert image(desk) == before


def test_one_load_is_one_line_of_the_journal(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND)
    with Store(desk.store) as store:
        lines = store.db.execute("SELECT command, text FROM journal").fetchall()
    assert [tuple(line) for line in lines] == [
        (
            "load",
            "loaded first_weekend: 3 settings, 3 rooms, 12 boards, 50 specimens, 3 sessions and"
            " 10 placements new or changed",
        )
    ]


# All or nothing


def test_problems_leave_the_record_as_it_was(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    before = image(desk)
    mixed = tmp_path / "mixed"
    shutil.copytree(FIRST_WEEKEND, mixed)
    lines = table(mixed / "specimens.csv")
    lines[0] |= {"specimen": "NEW-1", "body_mm": "4.9"}
    lines[1] |= {"body_mm": "thick"}
    write_table(mixed / "specimens.csv", lines)
    for place in (FAULTS, mixed):
        run = desk("load", place)
        assert run.status == 2
        assert "nothing was loaded" in run.problems
        assert image(desk) == before


def test_a_specimen_that_stands_elsewhere_is_told_with_all_the_rest(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    before = image(desk)
    text = "specimen,board,from_mm,to_mm,mounted\n"
    text += "M-01,B2,0,30,2027-05-01\nM-11,B3,20,60,2027-05-01\nM-12,B2,0,20,soon\n"
    run = desk("load", folder(tmp_path / "b", mounted=text))
    assert run.status == 2
    assert run.err.splitlines()[:3] == [
        "mounted.csv, row 2, specimen: stands on B5 since 17 Apr 2027 already (read: 'M-01')."
        " Release it there first, or correct this row",
        "mounted.csv, row 3, from_mm: overlaps M-03, which stands at 0-31 mm (read: '20')."
        " Correct the slot, or release M-03 first",
        "mounted.csv, row 4, mounted: is not a date and time (read: 'soon')."
        " Write date and time, as in 2027-05-08T09:00",
    ]
    assert run.problems.endswith(f"3 problems in {tmp_path / 'b'}; nothing was loaded")
    assert image(desk) == before


def test_a_slot_that_was_still_taken_then_is_told(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    desk.did("release", "M-03", "--early", "the pin was loose")
    text = "specimen,board,from_mm,to_mm,mounted\nM-11,B3,0,30,2027-05-01\n"
    run = desk("load", folder(tmp_path / "b", mounted=text))
    assert "overlaps M-03, which then still stood at 0-31 mm" in run.err


def test_a_board_cannot_become_shorter_than_what_stands_on_it(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    text = "board,groove_mm,span_mm,length_mm\nB3,4,80,60\n"
    run = desk("load", folder(tmp_path / "b", boards=text))
    assert (run.status, "M-05 ends at 93 mm" in run.err) == (2, True)


# The record holds


def test_what_was_released_since_is_not_mounted_again(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    desk.did("release", "M-03", "--early", "the pin was loose")
    before = image(desk)
    desk.did("load", FIRST_WEEKEND)
    assert image(desk) == before


def test_a_date_corrected_in_the_record_stays_corrected(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    with Store(desk.store) as store:
        at = rows.moment_of("2027-05-05T16:00:00Z")
        number = next(p.id for p in store.snapshot().standing() if p.specimen == "M-03")
        with store.deed(When(at, at), "amend", "M-03 a day earlier") as deed:
            row: dict[str, rows.Value] = {"mounted_at": "2027-04-16T08:00:00Z"}
            deed.update("placement", number, row | {"mounted_on": "2027-04-16"})
    before = image(desk)
    run = desk("load", FIRST_WEEKEND)
    assert run.status == 0
    said = (
        "M-03 was mounted on B3 on 17 Apr 2027, the record says on 16 Apr 2027: the record's value"
        " stays"
    )
    assert said in " ".join(run.err.split())
    assert image(desk) == before


def test_a_board_that_was_moved_since_stays_there(tmp_path: Path) -> None:
    desk = small(tmp_path)
    desk.did("load", folder(tmp_path / "b", rooms="room,rh_pct\nattic,60\n"))
    with Store(desk.store) as store:
        at = rows.moment_of("2027-05-05T10:00:00Z")
        with store.deed(When(at, at), "move", "B1 to the attic") as deed:
            stay: dict[str, rows.Value] = {"board": "B1", "room": "attic"}
            deed.insert("board_stay", stay | {"since": rows.moment_text(at)})
    before = image(desk)
    run = desk("load", tmp_path / "first")
    assert "the record that it stands in attic: the record's value stays" in " ".join(
        run.err.split()
    )
    assert image(desk) == before


# Slots that nobody gave


def test_without_positions_rows_go_from_left_to_right(tmp_path: Path) -> None:
    desk = small(tmp_path)
    text = "specimen,wingspan_mm,body_mm\nK-01,30,3\nK-02,30,3\nK-03,30,3\n"
    mounted = "specimen,board,from_mm,to_mm,mounted\n"
    mounted += "K-02,B1,,,2027-05-01\nK-01,B1,0,30,2027-05-01\nK-03,B1,,,2027-05-01\n"
    desk.did("load", folder(tmp_path / "b", specimens=text, mounted=mounted))
    standing = snapshot(desk).standing("B1")
    assert [p.specimen for p in standing] == ["K-01", "K-02", "K-03"]
    assert [p.estimated for p in standing] == [False, True, True]
    assert standing[1].from_mm == 30
    assert standing[1].to_mm == standing[2].from_mm


def test_what_stands_is_never_refused_because_the_rules_would_give_it_more_groove(
    tmp_path: Path,
) -> None:
    desk = small(tmp_path)
    names = [f"K-{n}" for n in range(1, 8)]
    text = "specimen,wingspan_mm,body_mm\n" + "".join(f"{n},40,3\n" for n in names)
    mounted = "specimen,board,mounted\n" + "".join(f"{n},B1,2027-05-01\n" for n in names)
    run = desk("load", folder(tmp_path / "b", specimens=text, mounted=mounted))
    assert run.status == 0
    assert "the rules would give it" in run.err
    standing = snapshot(desk).standing("B1")
    assert [p.specimen for p in standing] == names
    assert (standing[0].from_mm, standing[-1].to_mm) == (0, 100)
    before = image(desk)
    desk.did("load", tmp_path / "b")
    assert image(desk) == before


def test_a_specimen_finds_the_gap_on_the_left_when_the_right_is_full(tmp_path: Path) -> None:
    desk = small(tmp_path)
    text = "specimen,wingspan_mm,body_mm\nK-01,30,3\nK-02,30,3\n"
    mounted = "specimen,board,from_mm,to_mm,mounted\n"
    mounted += "K-01,B1,60,100,2027-05-01\nK-02,B1,,,2027-05-01\n"
    desk.did("load", folder(tmp_path / "b", specimens=text, mounted=mounted))
    assert [(p.specimen, p.from_mm) for p in snapshot(desk).standing("B1")] == [
        ("K-02", 0),
        ("K-01", 60),
    ]


def test_a_board_without_a_free_millimetre_takes_nothing(tmp_path: Path) -> None:
    desk = small(tmp_path)
    text = "specimen,wingspan_mm,body_mm\nK-01,30,3\nK-02,30,3\n"
    mounted = "specimen,board,from_mm,to_mm,mounted\n"
    mounted += "K-01,B1,0,100,2027-05-01\nK-02,B1,,,2027-05-01\n"
    run = desk("load", folder(tmp_path / "b", specimens=text, mounted=mounted))
    assert run.status == 2
    assert "mounted.csv, row 3, board: has no room left on B1 for K-02" in run.err


def test_what_stands_on_a_board_has_left_the_chamber(tmp_path: Path) -> None:
    desk = small(tmp_path)
    desk.did("load", folder(tmp_path / "b", specimens="specimen,body_mm\nK-01,3\n"))
    with Store(desk.store) as store:
        at = rows.moment_of("2027-05-03T18:00:00Z")
        with store.deed(When(at, at), "relax", "K-01") as deed:
            since: dict[str, rows.Value] = {"specimen": "K-01", "since": rows.moment_text(at)}
            deed.insert("chamber_stay", since)
    text = "specimen,board,mounted\nK-01,B1,2027-05-05T10:00Z\n"
    desk.did("load", folder(tmp_path / "c", mounted=text))
    assert [s.until for s in snapshot(desk).chamber] == [rows.moment_of("2027-05-05T10:00:00Z")]


def test_a_workbook_and_options_load_by_command(tmp_path: Path) -> None:
    desk = small(tmp_path)
    text = "specimen;body_mm;available\nK-01;3,5;8.5.2027\n"
    batch = folder(tmp_path / "b", specimens=text)
    run = desk("load", batch)
    assert run.status == 2
    assert "Say which with --dates day-first or --dates month-first" in run.err
    run = desk("load", batch, "--dates", "day-first")
    assert run.status == 0
    assert "read with a decimal comma (row 2, body_mm: 3,5) and dates day first" in run.problems
    (specimen,) = snapshot(desk).specimens.values()
    assert (specimen.body_mm, str(specimen.available)) == (3.5, "2027-05-08")


# Bad rows, set aside


def test_bad_rows_are_set_aside_corrected_and_loaded(tmp_path: Path) -> None:
    desk = small(tmp_path)
    text = (
        "Specimen;Body mm;available;nickname\n"
        "K-01;3,5;23.5.2027;one\nK-02;thick;8.5.2027;two\nK-03;4,5;8.5.2027;three\n"
    )
    bad = tmp_path / "bad.csv"
    batch = folder(tmp_path / "b", specimens=text)
    said = desk.did("load", batch, "--skip-bad", bad, "--yes")
    assert "2 specimens new or changed" in " ".join(said.split())
    assert "1 row left out" in " ".join(said.split())
    assert "".join(said.split()).endswith(f"tobecorrected,in:{bad}")
    assert bad.read_text(encoding="utf-8-sig").splitlines() == [
        "file;row;problems;Specimen;Body mm;available;nickname",
        "specimens.csv;3;body_mm: is not a number. Write a number from 0.2 to 40 mm;"
        "K-02;thick;2027-05-08;two",
    ]
    assert desk("load", bad).status == 2
    bad.write_text(bad.read_text(encoding="utf-8-sig").replace("thick", "4,2"), encoding="utf-8")
    desk.did("load", bad, "--yes")
    assert {s.specimen: s.body_mm for s in snapshot(desk).specimens.values()} == {
        "K-01": 3.5,
        "K-02": 4.2,
        "K-03": 4.5,
    }
    assert str(snapshot(desk).specimens["K-02"].available) == "2027-05-08"


def test_bad_rows_of_several_tables_go_to_a_folder(tmp_path: Path) -> None:
    desk = small(tmp_path)
    batch = folder(
        tmp_path / "b",
        specimens="specimen,body_mm\nK-01,thick\nK-02,3\n",
        mounted="specimen,board,mounted\nK-01,B1,2027-05-01\nK-02,B1,2027-05-01\n",
    )
    before = image(desk)
    run = desk("load", batch, "--skip-bad", tmp_path / "bad.csv")
    assert (run.status, image(desk), (tmp_path / "bad.csv").exists()) == (2, before, False)
    assert f"--skip-bad {tmp_path / 'bad'}" in run.problems
    bad = tmp_path / "bad"
    desk.did("load", batch, "--skip-bad", bad)
    assert [p.specimen for p in snapshot(desk).standing()] == ["K-02"]
    assert [line["problems"] for line in table(bad / "mounted.csv")] == [
        "specimen: names a specimen that is left out (specimens.csv, row 2). Correct that row too"
    ]
    lines = table(bad / "specimens.csv")
    write_table(bad / "specimens.csv", [{**lines[0], "body_mm": "3"}])
    desk.did("load", bad)
    assert {p.specimen for p in snapshot(desk).standing()} == {"K-01", "K-02"}


def test_without_a_bad_row_no_file_is_written(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    said = desk.did("load", FIRST_WEEKEND, "--skip-bad", tmp_path / "bad")
    assert "no row was left out" in said
    assert not (tmp_path / "bad").exists()


def test_bad_rows_never_go_over_something_that_is_there(tmp_path: Path) -> None:
    desk = small(tmp_path)
    batch = folder(tmp_path / "b", specimens="specimen,body_mm\nK-01,thick\n")
    before = image(desk)
    for target in (batch, batch / "specimens.csv"):
        run = desk("load", batch, "--skip-bad", target)
        assert (run.status, "is there already" in run.problems) == (2, True)
    run = desk("load", batch, "--skip-bad", tmp_path / "nowhere" / "bad.csv")
    assert (run.status, "is no folder" in run.problems) == (2, True)
    assert image(desk) == before


def test_a_fault_of_a_whole_table_is_not_skipped(tmp_path: Path) -> None:
    desk = small(tmp_path)
    before = image(desk)
    text = "specimen,body,available\nK-01,3,8.5.2027\nK-02,3,soon\n"
    batch = folder(tmp_path / "b", specimens=text)
    run = desk("load", batch, "--skip-bad", tmp_path / "bad.csv")
    assert run.status == 2
    assert "--dates day-first" in run.err
    assert "row 3, available: is not a date" in run.err
    assert (image(desk), (tmp_path / "bad.csv").exists()) == (before, False)


SHARE = st.lists(
    st.tuples(st.integers(1, 6), st.sampled_from(["3", "4.5", "thick", "", "99"])),
    min_size=1,
    max_size=8,
)


@settings(deadline=None, max_examples=25)
@given(drawn=SHARE)
def test_every_row_is_either_loaded_or_set_aside(drawn: list[tuple[int, str]]) -> None:
    with TemporaryDirectory() as name:
        desk = small(Path(name))
        text = "specimen,body_mm\n" + "".join(f"K-{n},{body}\n" for n, body in drawn)
        batch, bad = folder(Path(name) / "b", specimens=text), Path(name) / "bad.csv"
        desk.did("load", batch, "--skip-bad", bad)
        lines = table(bad) if bad.exists() else []
        loaded = sorted(snapshot(desk).specimens)
        aside = [line["specimen"] for line in lines]
        assert sorted([*loaded, *aside]) == sorted(f"K-{n}" for n, _ in drawn)
        assert all(line["problems"] for line in lines)
        names = [f"K-{n}" for n, _ in drawn]
        assert loaded == sorted(
            f"K-{n}" for n, body in drawn if body in ("3", "4.5") and names.count(f"K-{n}") == 1
        )
        before = image(desk)
        if lines:
            assert desk("load", bad).status == 2
        assert image(desk) == before


# The size of a real freezer


@pytest.mark.parametrize("count", [400])
def test_bad_rows_among_many(count: int, tmp_path: Path) -> None:
    desk = small(tmp_path)
    lines = "".join(f"K-{n},{'thick' if n % 100 == 0 else 3}\n" for n in range(count))
    batch = folder(tmp_path / "b", specimens="specimen,body_mm\n" + lines)
    desk.did("load", batch, "--skip-bad", tmp_path / "bad.csv")
    assert len(snapshot(desk).specimens) == count - count // 100
    assert [line["row"] for line in table(tmp_path / "bad.csv")] == ["2", "102", "202", "302"]


def test_sessions_that_repeat_stand_in_the_settings(tmp_path: Path) -> None:
    folder = tmp_path / "summer"
    folder.mkdir()
    (folder / "settings.toml").write_text(
        'timezone = "Europe/Berlin"\nsessions = ["Saturdays 09:00, 180 min until 2027-05-29"]\n',
        encoding="utf-8",
    )
    now = datetime(2027, 5, 8, 10, 0, tzinfo=ZoneInfo("Europe/Berlin"))
    with Store(tmp_path / "record.sqlite") as store:
        load(store, load_rulebook(), folder, When(now, now))
        snap = store.snapshot()
        assert [(s.session, snap.local(s.start).hour) for s in snap.sessions.values()] == [
            ("2027-05-15", 9),
            ("2027-05-22", 9),
            ("2027-05-29", 9),
        ]
        image = store.image()
        load(store, load_rulebook(), folder, When(now, now))
        assert store.image() == image


def test_a_repeat_without_an_end_is_a_problem(tmp_path: Path) -> None:
    (tmp_path / "settings.toml").write_text('sessions = ["Saturdays 09:00"]', encoding="utf-8")
    now = datetime(2027, 5, 8, 10, 0, tzinfo=ZoneInfo("Europe/Berlin"))
    with Store(tmp_path / "r" / "record.sqlite") as store, pytest.raises(BadInput) as caught:
        load(store, load_rulebook(), tmp_path / "settings.toml", When(now, now))
    assert [p.column for p in caught.value.problems] == ["sessions"]
