"""Batches as people write them: what loads, what is noted, and every fault at its cell."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from datetime import UTC, date, datetime, time
from pathlib import Path
from tempfile import TemporaryDirectory
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.drying.fit import size_of
from scheduler.intake.batch import Batch, Known, read_batch
from scheduler.intake.batch.cells import CellFault, event_date
from scheduler.intake.batch.columns import TABLES
from scheduler.intake.batch.findings import Findings
from scheduler.intake.batch.settings import demo_now, read_settings
from scheduler.rulebook import Rulebook, load_rulebook
from scheduler.words.problems import Problem
from scheduler.words.records import Room, Settings

ROOT = Path(__file__).parents[1]
FIRST_WEEKEND = ROOT / "sample_batches" / "first_weekend"
BERLIN = ZoneInfo("Europe/Berlin")
RECORD = Known(
    rooms=frozenset({"study"}),
    boards=frozenset({"B1"}),
    specimens=frozenset({"M-01"}),
    sessions=frozenset({"SAT"}),
    timezone="Europe/Berlin",
    lengths={"B1": 300},
)
"""What the record holds before any of the batches here is read."""


@pytest.fixture(scope="module")
def rules() -> Rulebook:
    return load_rulebook()


def write(folder: Path, **texts: str) -> Path:
    for name, text in texts.items():
        file = "settings.toml" if name == "settings" else f"{name}.csv"
        (folder / file).write_text(text, encoding="utf-8")
    return folder


def good(folder: Path, rules: Rulebook, known: Known = RECORD) -> Batch:
    batch, problems = read_batch(folder, known=known, rules=rules)
    assert [str(problem) for problem in problems] == []
    return batch


# The first weekend


def test_the_first_weekend_loads(rules: Rulebook) -> None:
    batch = good(FIRST_WEEKEND, rules, Known())
    assert batch.notes == ()
    assert (len(batch.rooms), len(batch.boards), len(batch.sessions)) == (3, 12, 3)
    assert (len(batch.specimens), len(batch.mounted)) == (50, 10)
    assert batch.settings == Settings("Europe/Berlin", 16, time(20, 0))
    assert batch.now == datetime(2027, 5, 5, 18, 0, tzinfo=BERLIN)
    assert [s.minutes for s in batch.sessions] == [180, 150, 0]
    assert set(batch.stays) == {board.board for board in batch.boards}


def test_the_first_weekend_has_one_body_that_no_groove_takes(rules: Rulebook) -> None:
    batch = good(FIRST_WEEKEND, rules, Known())
    widest = max(board.groove_mm for board in batch.boards)
    thick = [s.specimen for s in batch.specimens if (s.body_mm or 0) >= widest]
    assert (widest, thick) == (12, ["M-23"])


def test_the_first_weekend_wants_more_than_its_sessions_have(rules: Rulebook) -> None:
    batch = good(FIRST_WEEKEND, rules, Known())
    mounted = {stay.specimen for stay in batch.mounted}
    waiting = [s for s in batch.specimens if s.specimen not in mounted]
    minutes = 0
    for specimen in waiting:
        size = size_of(specimen, rules)
        assert size is not None, specimen.specimen
        minutes += specimen.minutes or rules.minutes(size.body_mm)
    assert len(waiting) == 40
    assert minutes > sum(session.minutes for session in batch.sessions)


def test_reloading_the_first_weekend_is_no_fault(rules: Rulebook) -> None:
    batch = good(FIRST_WEEKEND, rules, Known())
    known = Known(
        rooms=frozenset(room.room for room in batch.rooms),
        boards=frozenset(board.board for board in batch.boards),
        specimens=frozenset(specimen.specimen for specimen in batch.specimens),
        sessions=frozenset(session.session for session in batch.sessions),
        timezone="Europe/Berlin",
        lengths={board.board: board.length_mm for board in batch.boards},
    )
    assert good(FIRST_WEEKEND, rules, known) == batch


# What is read, and how


def test_cells_become_records(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(
        tmp_path,
        specimens="\ufeffSpecimen,family,Taxon,body_mm,size,state,frozen_on,priority,decimalLatitude,"
        "decimalLongitude,verbatimLabel\n"
        ' K-07 ,Nymphalidae,=1+1,+4.30,Very  Stout,Dried,2026-08-02,7.0,55.870,3.4,"a\nb"\n',
    )
    (specimen,) = good(folder, rules).specimens
    assert specimen.specimen == "K-07"
    assert specimen.taxon == "=1+1"
    assert (specimen.body_mm, specimen.size, specimen.state) == (4.3, "very stout", "dried")
    assert (specimen.frozen_on, specimen.priority) == (date(2026, 8, 2), 7)
    assert specimen.label == {
        "decimalLatitude": "55.870",
        "decimalLongitude": "3.4",
        "verbatimLabel": "a\nb",
    }


def test_words_that_mean_nothing_to_a_spreadsheet_stay_text(
    tmp_path: Path, rules: Rulebook
) -> None:
    folder = write(tmp_path, specimens="specimen,taxon,body_mm\nNA,null,3\n007,NaN,3\n")
    specimens = good(folder, rules).specimens
    assert [(s.specimen, s.taxon) for s in specimens] == [("NA", "null"), ("007", "NaN")]


def test_what_is_known_may_leave_out_what_is_recorded(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(
        tmp_path,
        rooms="room,temp_c\nstudy,19\n",
        specimens="specimen,wanted_by\nm-01,2027-06-01\n",
    )
    batch = good(folder, rules)
    assert batch.notes == ()
    assert batch.given_cells == {
        "study": {"room", "temp_c"},
        "M-01": {"specimen", "wanted_by"},
    }


def test_blank_rows_are_skipped_but_counted(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(tmp_path, rooms='\nroom,rh_pct\n\n,\n"loft",x\n"  ", \nattic,y\n')
    _, problems = read_batch(folder, known=Known(), rules=rules)
    assert [problem.row for problem in problems] == [5, 7]


def test_a_line_break_inside_a_cell_is_one_row(tmp_path: Path, rules: Rulebook) -> None:
    text = 'specimen,body_mm,verbatimLabel\r\nK-01,4,"a\r\nb"\r\nK-02,x,\r\n'
    (tmp_path / "specimens.csv").write_bytes(text.encode())
    _, problems = read_batch(tmp_path, known=Known(), rules=rules)
    assert [problem.row for problem in problems] == [3]


def test_a_count_makes_as_many_boards(tmp_path: Path, rules: Rulebook) -> None:
    head = "board,groove_mm,span_mm,length_mm,room,count\n"
    folder = write(tmp_path, boards=head + "T6,6,100,360,STUDY,3\nU,6,100,360,study,1\n")
    batch = good(folder, rules)
    assert [board.board for board in batch.boards] == ["T6-1", "T6-2", "T6-3", "U"]
    assert set(batch.stays.values()) == {"study"}


def test_ids_keep_the_spelling_of_the_record(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(
        tmp_path,
        boards="board,groove_mm,span_mm,length_mm\nb1,6,100,280\n",
        mounted="specimen,board,from_mm,to_mm,mounted\nm-01,b1,0,280,2027-04-17T10:00\n",
    )
    batch = good(folder, rules)
    assert [board.board for board in batch.boards] == ["B1"]
    assert [(stay.specimen, stay.board) for stay in batch.mounted] == [("M-01", "B1")]
    assert batch.stays == {}


def test_a_known_board_lends_its_length(tmp_path: Path, rules: Rulebook) -> None:
    rows = "specimen,board,from_mm,to_mm,mounted\nM-01,B1,250,300,2027-04-17\n"
    assert good(write(tmp_path, mounted=rows), rules).mounted[0].to_mm == 300
    shorter = replace(RECORD, lengths={"B1": 299})
    _, problems = read_batch(tmp_path, known=shorter, rules=rules)
    assert [problem.column for problem in problems] == ["to_mm"]


def test_touching_slots_do_not_overlap(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(
        tmp_path,
        specimens="specimen,body_mm\nK-01,3\n",
        mounted="specimen,board,from_mm,to_mm,mounted\n"
        "M-01,B1,40,80,2027-04-17\nK-01,B1,0,40,2027-04-17\n",
    )
    assert len(good(folder, rules).mounted) == 2


def test_positions_may_be_left_out(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(tmp_path, mounted="specimen,board,mounted\nM-01,B1,2027-04-17T23:30Z\n")
    (stay,) = good(folder, rules).mounted
    assert (stay.from_mm, stay.to_mm) == (None, None)
    assert stay.mounted_at == datetime(2027, 4, 17, 23, 30, tzinfo=UTC)
    assert stay.mounted_on == date(2027, 4, 18)


def test_a_mounting_date_alone_stands_for_noon(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(tmp_path, mounted="specimen,board,mounted\nM-01,B1,2027-04-17\n")
    (stay,) = good(folder, rules).mounted
    assert stay.mounted_at == datetime(2027, 4, 17, 12, 0, tzinfo=BERLIN)


def test_the_doubled_autumn_hour_is_taken_first_and_noted(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(
        tmp_path,
        sessions="session,start,minutes\nA,2027-10-31T02:30,60\nB,2027-10-31T02:30+01:00,60\n",
    )
    batch = good(folder, rules)
    assert [s.start.astimezone(UTC).hour for s in batch.sessions] == [0, 1]
    assert len(batch.notes) == 1
    assert "sessions.csv, row 2: 2027-10-31T02:30 happens twice" in batch.notes[0]


def test_file_names_are_blind_to_case(tmp_path: Path, rules: Rulebook) -> None:
    (tmp_path / "Rooms.CSV").write_text("room,rh_pct\nloft,50\n", encoding="utf-8")
    assert good(tmp_path, rules).rooms == (Room("loft", "room", 50),)


# Settings


def test_settings_left_out_are_told_apart(tmp_path: Path) -> None:
    findings = Findings()
    path = write(tmp_path, settings="chamber_time = 19:30:00\n") / "settings.toml"
    given = read_settings(path, "Europe/Berlin", findings)
    assert findings.problems == []
    assert given.settings == Settings("Europe/Berlin", None, time(19, 30))
    assert given.given == {"chamber_time"}


def test_a_demonstration_begins_at_the_batch_s_own_now(tmp_path: Path) -> None:
    assert demo_now(FIRST_WEEKEND) == datetime(2027, 5, 5, 18, 0, tzinfo=BERLIN)
    assert demo_now(tmp_path) is None
    assert demo_now(write(tmp_path, settings='now = "soon"\n')) is None


def test_without_settings_there_are_none(tmp_path: Path, rules: Rulebook) -> None:
    batch = good(write(tmp_path, rooms="room,rh_pct\nloft,50\n"), rules)
    assert (batch.settings, batch.now, batch.given) == (None, None, frozenset())


# Notes


def test_what_is_not_read_is_named(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(
        tmp_path,
        settings='timezone = "Europe/Berlin"\nchamber_place = 4\n',
        rooms="room,rh_pct,temp,colour\nloft,50,20,white\n",
        board="board\nB2\n",
    )
    batch = good(folder, rules)
    assert [(ask.key, ask.text) for ask in batch.questions] == [('column "temp"', "is temp_c")]
    assert sorted(batch.notes) == [
        'board.csv: not a file of a batch, and not read; did you mean "boards.csv"?',
        'rooms.csv: column "colour" is unknown and not read',
        'settings.toml: "chamber_place" is unknown and not read; did you mean "chamber_places"?',
    ]


def test_families_without_rules_are_noted_once(tmp_path: Path, rules: Rulebook) -> None:
    folder = write(
        tmp_path,
        specimens="specimen,family,group,body_mm\nK-01,Fictidae,,3\nK-02,Fictidae,,4\n"
        "K-03,NOCTUIDAE,,4\nK-04,Fictidae,skippers,3\n",
    )
    batch = good(folder, rules)
    assert len(batch.notes) == 1
    assert '"Fictidae" (2)' in batch.notes[0]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("loft,room,,20", "no rh_pct"),
        ("box,warm,,", "no temp_c"),
        ("box,warm,,48", "warm at 48"),
    ],
)
def test_air_that_the_rules_do_not_know_is_noted(
    row: str, said: str, tmp_path: Path, rules: Rulebook
) -> None:
    batch = good(write(tmp_path, rooms=f"room,regime,rh_pct,temp_c\n{row}\n"), rules)
    assert len(batch.notes) == 1
    assert said in batch.notes[0]


# ISO 8601 in eventDate; the forms are the examples of Darwin Core's definition of the term
# (memory)


@pytest.mark.parametrize(
    "text",
    [
        "1963-03-08T14:07-0600",
        "2009-02-20T08:40Z",
        "2018-08-29T15:19",
        "1809-02-12",
        "1906-06",
        "1971",
        "2007-03-01T13:00:00Z/2008-05-11T15:30:00Z",
        "1900/1909",
        "2007-11-13/15",
    ],
)
def test_event_dates_of_darwin_core(text: str) -> None:
    assert event_date(text) == text


@pytest.mark.parametrize(
    "text", ["1906-6", "06.1906", "2007-11-13/12", "2007-11/2007-10", "2007-W05", "/2007", "2007/"]
)
def test_event_dates_that_are_none(text: str) -> None:
    with pytest.raises(CellFault):
        event_date(text)


# Laws

CELL = st.one_of(
    st.text(max_size=50),
    st.sampled_from(
        ["", "B1", "M-01", "study", "5", "-0", "2027-03-28T02:30", "2027-05-08", "1900-01-01T00:00",
         "2199-12-31T23:59+23:59", "1900-01-01T00:00-23:59", "fresh", "9" * 400, "2007-11-13/15",
         '"', ";", "\ufeff", "\x00", "\u2028", "٣", "=HYPERLINK(1)"]
    ),
)  # fmt: skip


@given(data=st.data())
def test_no_cell_stops_the_reading(rules: Rulebook, data: st.DataObject) -> None:
    with TemporaryDirectory() as name:
        folder = Path(name)
        for table in TABLES:
            columns = [column.name for column in table.columns[:16]]
            rows = data.draw(st.lists(st.lists(CELL, min_size=1, max_size=17), max_size=3))
            with (folder / table.file).open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerows([columns, *rows])
        batch, problems = read_batch(folder, known=RECORD, rules=rules)
    assert all(isinstance(problem, Problem) for problem in problems)
    names = [b.board for b in batch.boards] + [s.specimen for s in batch.specimens]
    assert problems or len({name.casefold() for name in names}) == len(names)


@given(
    files=st.dictionaries(
        st.sampled_from([t.file for t in TABLES] + ["settings.toml"]), st.binary()
    )
)
def test_no_file_stops_the_reading(rules: Rulebook, files: dict[str, bytes]) -> None:
    with TemporaryDirectory() as name:
        for file, content in files.items():
            (Path(name) / file).write_bytes(content)
        _, problems = read_batch(Path(name), known=RECORD, rules=rules)
    assert all(re.search(r"\w", problem.reason) for problem in problems)


@given(
    slots=st.lists(st.tuples(st.integers(0, 299), st.integers(1, 60)), min_size=1, max_size=6),
)
def test_slots_are_refused_exactly_when_two_share_a_millimetre(
    rules: Rulebook, slots: list[tuple[int, int]]
) -> None:
    ends = [(start, min(start + length, 300)) for start, length in slots]
    taken = [mm for start, end in ends for mm in range(start, end)]
    with TemporaryDirectory() as name:
        folder = write(
            Path(name),
            specimens="specimen,body_mm\n" + "".join(f"K-{n},3\n" for n in range(len(ends))),
            mounted="specimen,board,from_mm,to_mm,mounted\n"
            + "".join(f"K-{n},B1,{a},{b},2027-04-17\n" for n, (a, b) in enumerate(ends)),
        )
        _, problems = read_batch(folder, known=RECORD, rules=rules)
    assert bool(problems) == (len(set(taken)) < len(taken))
