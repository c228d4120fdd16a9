"""The console: exit statuses, what goes to stdout and what to stderr, widths, CSV and JSON."""

from __future__ import annotations

import csv
import gc
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from io import StringIO
from pathlib import Path

import pytest
from bench_cases import FIRST_WEEKEND, Desk, weekend

from scheduler.cli import COMMANDS
from scheduler.cli import ready as ready_module
from scheduler.record import connecting
from scheduler.record.store import Store
from scheduler.words import wording

SATURDAY = "2027-05-08T12:00"
FAULTS = FIRST_WEEKEND.parent / "faults"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def image(desk: Desk) -> str:
    with Store(desk.store) as store:
        return store.image()


# --- exit statuses ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["rdy"], "Did you mean ready?"),
        (["ready", "--formt", "json"], "--format"),
        (["ready", "--format", "xml"], "'xml' is not one of"),
        (["release"], "Missing argument"),
        (["feed"], "Missing option"),
        (["undo", "M-01"], "not a valid integer"),
        (["load", "no-such-folder"], "does not exist"),
        (["plan", "--until", "Sunday"], "does not match the format"),
    ],
)
def test_a_usage_error_leaves_with_2_and_says_so_on_stderr(
    desk: Desk, words: list[str], said: str
) -> None:
    run = desk(*words)
    assert (run.status, run.out) == (2, "")
    assert said in run.err


@pytest.mark.parametrize("now", ["Wednesday", "2027-13-01", "5 May"])
def test_a_time_that_is_none_leaves_with_2_and_shows_how_to_write_one(desk: Desk, now: str) -> None:
    run = desk("boards", now=now)
    assert (run.status, run.out) == (2, "")
    assert f"--now {now!r} is not a moment. Write it as 2027-05-05T18:00" in run.err


def test_a_time_with_an_offset_is_that_instant(desk: Desk) -> None:
    desk.did("air", "north", "62", now="2027-05-06T22:00")
    assert desk("ready", "M-07", now="2027-05-06T23:00+02:00").status == 1
    assert desk("ready", "M-07", now="2027-05-06T22:00+00:00").status == 0


def test_every_problem_of_a_careless_folder_at_once_and_nothing_loaded(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    run = desk("load", FAULTS)
    assert (run.status, run.out) == (2, "")
    assert len(run.err.splitlines()) > 12
    # The last sentence names the folder, and wraps where its path is long.
    assert " ".join(run.err.split()).endswith("nothing was loaded")
    assert "specimens.csv, row " in run.err
    assert image(desk) == ""


@contextmanager
def another_command_writing(desk: Desk) -> Iterator[None]:
    other = sqlite3.connect(desk.store, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


@pytest.mark.parametrize(
    "words",
    [["release", "B5"], ["undo"], ["plan"], ["mount", "M-14", "--board", "B7"]],
    ids=" ".join,
)
def test_a_record_that_another_command_is_writing_leaves_with_4(
    desk: Desk, words: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connecting, "BUSY_SECONDS", 0.05)
    before = image(desk)
    with another_command_writing(desk):
        run = desk(*words, now=SATURDAY)
    assert (run.status, run.out) == (4, "")
    # The path is as long as it is: the lines may break anywhere.
    assert "another command is writing the record" in " ".join(run.err.split())
    assert "Try again" in run.err
    assert image(desk) == before


def test_a_question_is_answered_while_another_command_writes(desk: Desk) -> None:
    desk.did("air", "study", "52")
    with another_command_writing(desk):
        assert desk("ready", "B5").status == 0


def test_a_file_that_is_no_record_leaves_with_4(tmp_path: Path) -> None:
    path = tmp_path / "record.sqlite"
    path.write_text("hawkmoths on Tuesday\n" * 100, encoding="utf-8")
    run = Desk(path)("ready")
    assert (run.status, run.out) == (4, "")
    assert "is no record and was left alone" in " ".join(run.err.split())


@pytest.mark.parametrize(
    "words",
    [["ready"], ["boards"], ["journal"], ["release", "B5"], ["undo"], ["plan"]],
    ids=" ".join,
)
def test_a_damaged_record_leaves_with_4_and_no_traceback(desk: Desk, words: list[str]) -> None:
    data = desk.store.read_bytes()
    page = 4096
    desk.store.write_bytes(data[:page] + b"\xff" * (len(data) - page))
    run = desk(*words, now=SATURDAY)
    assert (run.status, run.out) == (4, "")
    assert "Traceback" not in run.err


KEPT_PLAN = [["mount", "SAT-08"], ["feed", "-o", "boards.ics"]]


@pytest.mark.parametrize("words", KEPT_PLAN, ids=" ".join)
def test_a_record_damaged_in_one_table_leaves_with_4(
    desk: Desk, words: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(desk.store.parent)
    with closing(sqlite3.connect(desk.store)) as db:
        query = "SELECT rootpage FROM sqlite_master WHERE name = 'kept_plan'"
        (page,) = db.execute(query).fetchone()
        (size,) = db.execute("PRAGMA page_size").fetchone()
    data = bytearray(desk.store.read_bytes())
    data[(page - 1) * size : page * size] = b"\xff" * size
    desk.store.write_bytes(data)
    run = desk(*words, now=SATURDAY)
    assert (run.status, run.out) == (4, "")
    assert "its pages do not hold together" in " ".join(run.err.split())
    assert "Traceback" not in run.err


@pytest.mark.parametrize("words", KEPT_PLAN, ids=" ".join)
def test_a_table_that_is_not_there_is_a_fault_of_the_program(
    desk: Desk, words: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(desk.store.parent)
    with closing(sqlite3.connect(desk.store)) as db:
        db.execute("DROP TABLE kept_plan")
    run = desk(*words, now=SATURDAY)
    assert (run.status, run.out) == (70, "")
    assert "no such table" in run.err


def broken(*_: object) -> None:
    raise RuntimeError("a pin fell\nbehind the shelf")


def test_a_fault_of_the_program_leaves_with_70_in_one_line(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("WINGREST_TRACE", raising=False)
    monkeypatch.setattr(ready_module, "ready", broken)
    run = desk("ready")
    assert (run.status, run.out) == (70, "")
    assert run.err.count("\n") == 1
    assert "RuntimeError: a pin fell behind the shelf" in run.err
    assert "WINGREST_TRACE=1" in run.err


def test_the_trace_shows_where_it_failed(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WINGREST_TRACE", "1")
    monkeypatch.setattr(ready_module, "ready", broken)
    run = desk("ready")
    assert (run.status, run.out) == (70, "")
    assert "Traceback" in run.err
    assert "in broken" in run.err


@pytest.mark.parametrize("words", [["--help"], ["-h"], ["ready", "--help"], ["--version"]])
def test_help_leaves_with_0_on_stdout(desk: Desk, words: list[str]) -> None:
    run = desk(*words)
    assert (run.status, run.err) == (0, "")
    assert run.out


@pytest.mark.parametrize("name", COMMANDS)
def test_every_help_fits_a_terminal(desk: Desk, name: str) -> None:
    assert too_wide(desk.did(name, "--help")) == []


# --- stdout and stderr --------------------------------------------------------------------


def test_json_stays_clean_beside_warnings(desk: Desk, tmp_path: Path) -> None:
    extra = tmp_path / "extra"
    extra.mkdir()
    (extra / "rooms.csv").write_text("room,rh_pct,colour\nden,50,brown\n", encoding="utf-8")
    run = desk("load", extra)
    assert run.status == 0
    assert "warning" in run.err
    assert "colour" in run.err
    assert "colour" not in run.out


def test_refusals_go_to_stderr_alone(desk: Desk) -> None:
    run = desk("release", "K-01")
    assert (run.status, run.out) == (3, "")
    assert "K-01 stays on B12" in run.err


# --- widths -------------------------------------------------------------------------------


def too_wide(text: str) -> list[str]:
    return [line for line in text.splitlines() if len(line) > wording.COLUMNS]


SCREENS = [
    ["plan"],
    ["plan", "--until", "2027-05-08"],
    ["ready"],
    ["ready", "M-01", "K-01"],
    ["boards"],
    ["journal"],
    ["rules"],
    ["rules", "--family", "Sphingidae", "--state", "dried"],
    ["rules", "--regime", "warm"],
    ["rules", "explain", "--family", "Hesperiidae", "--body-mm", "3.5", "--rh-pct", "61"],
    ["rules", "explain", "--body-mm", "13", "--rh-pct", "95"],
    ["release", "B5", "B3", "B8", "M-06"],
    ["--help"],
    ["mount", "--help"],
    ["plan", "--help"],
    ["rules", "explain", "--help"],
]


@pytest.mark.parametrize("words", SCREENS, ids=" ".join)
def test_every_screen_fits_a_terminal(desk: Desk, words: list[str]) -> None:
    run = desk(*words, now=SATURDAY if words[0] == "release" else "2027-05-05T18:00")
    assert run.out
    assert too_wide(run.out) == []


def test_a_whole_session_and_what_follows_fit_a_terminal(desk: Desk) -> None:
    desk.did("release", "B3", "B5", "B10", now=SATURDAY)
    for words in (["mount", "SAT-08"], ["boards"], ["journal"], ["undo"], ["plan"]):
        assert too_wide(desk.did(*words, now=SATURDAY)) == []
    assert too_wide(desk("ready", now=SATURDAY).out) == []


def test_the_demonstration_fits_a_terminal_but_for_its_paths(tmp_path: Path) -> None:
    run = Desk(tmp_path / "untouched.sqlite")("demo", FIRST_WEEKEND, "--into", tmp_path / "demo")
    assert run.status == 0, run.err
    shown = [line for line in run.out.splitlines() if str(tmp_path) not in line]
    assert too_wide("\n".join(shown).replace(str(FIRST_WEEKEND), "first_weekend")) == []
    assert {p.name for p in (tmp_path / "demo").iterdir()} >= {
        "record.sqlite",
        "session-sheet.txt",
        "wingrest.ics",
    }
    assert not (tmp_path / "untouched.sqlite").exists()
    sheet = (tmp_path / "demo" / "session-sheet.txt").read_text(encoding="utf-8")
    assert sheet in run.out


# --- csv and json -------------------------------------------------------------------------

LISTINGS = {
    "plan": "session specimen board from_mm to_mm relax_from out_by mount_at due clear min_days"
    " plan_days rule_ids basis minutes after reason",
    "ready": "board specimen answer progress_pct mounted_on due due_earliest due_latest clear"
    " clear_earliest clear_latest min_days plan_days rule_ids basis air note",
    "boards": "board groove_mm span_mm length_mm room out free_mm specimen from_mm to_mm"
    " mounted_on due clear progress_pct answer",
    "journal": "line recorded_at happened_at who command text undoes undone_by",
    "rules": "body_mm rh_pct min_days plan_days",
    "rules explain --body-mm 6 --rh-pct 55": "family found min_days plan_days rule_ids basis"
    " sources note",
}


def flat(desk: Desk, listing: str) -> list[dict[str, str]]:
    text = desk(*listing.split(), "--format", "csv").out
    return list(csv.DictReader(StringIO(text), strict=True))


@pytest.mark.parametrize("listing", LISTINGS)
def test_csv_is_flat_rows_under_the_documented_head(desk: Desk, listing: str) -> None:
    rows = flat(desk, listing)
    assert rows
    for row in rows:
        assert list(row) == LISTINGS[listing].split()
        assert None not in row.values(), "a row too short"


@pytest.mark.parametrize("listing", LISTINGS)
def test_json_is_one_object_on_stdout(desk: Desk, listing: str) -> None:
    run = desk(*listing.split(), "--format", "json")
    assert isinstance(json.loads(run.out), dict)
    assert run.err == ""


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t"])
def test_a_name_never_starts_a_formula_in_a_spreadsheet(desk: Desk, sign: str) -> None:
    # OWASP ASVS, requirement 1.2.10: these signs first in a field are escaped with a quote.
    name = f"{sign}HYPERLINK(A1)"
    desk.did("--who", name, "amend", "M-14", "wingspan_mm=62")
    assert flat(desk, "journal")[-1]["who"] == f"'{name}"
    told = json.loads(desk.did("journal", "--format", "json"))
    assert told["journal"][-1]["who"] == name


def test_the_plan_says_the_same_as_csv_and_as_json(desk: Desk) -> None:
    rows = flat(desk, "plan")
    plan = json.loads(desk.did("plan", "--format", "json"))
    placed = [(s["session"], p["specimen"], p["board"]) for s in plan["sessions"]
              for p in s["placements"]]  # fmt: skip
    assert [(r["session"], r["specimen"], r["board"]) for r in rows if r["session"]] == placed
    unplaced = [(u["specimen"], u["reason"]) for u in plan["unplaced"]]
    assert [(r["specimen"], r["reason"]) for r in rows if not r["session"]] == unplaced
    assert len(placed) + len(unplaced) == 40


def test_the_problem_file_is_what_was_planned(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "problem.json"
    desk.did("plan", "--problem", path)
    problem = json.loads(path.read_text(encoding="utf-8"))
    assert len(problem["specimens"]) + len(problem.get("misfits", [])) >= 39
    assert {b["board"] for b in problem["boards"]} == {f"B{n}" for n in range(1, 13)}


def test_a_problem_file_that_cannot_be_written_is_said_so(desk: Desk, tmp_path: Path) -> None:
    run = desk("plan", "--problem", tmp_path / "nowhere" / "problem.json")
    assert (run.status, run.out) == (2, "")
    assert "cannot be written" in run.err


def test_boards_in_csv_has_a_row_for_every_specimen_and_empty_board(desk: Desk) -> None:
    rows = flat(desk, "boards")
    assert len({r["board"] for r in rows}) == 12
    assert [r["answer"] for r in rows if r["board"] == "B1"] == ["empty"]
    assert [(r["specimen"], r["from_mm"], r["to_mm"]) for r in rows if r["board"] == "B8"] == [
        ("M-07", "0", "40"),
        ("M-08", "40", "79"),
    ]


def test_explained_rules_in_json_have_the_documented_keys(desk: Desk) -> None:
    words = ["rules", "explain", "--family", "skipper", "--body-mm", "3", "--rh-pct", "50"]
    found = json.loads(desk.did(*words, "--format", "json"))
    keys = ["family", "found", "min_days", "plan_days", "rule_ids", "basis", "sources", "note"]
    assert list(found) == keys
    assert list(found["sources"][0]) == ["source_id", "locator"]
    damp = json.loads(desk.did(*words[:-1], "95", "--format", "json"))
    assert (damp["min_days"], damp["plan_days"]) == (None, None)


# --- the options before every command -----------------------------------------------------


def test_the_record_can_be_named_by_the_environment(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from scheduler.cli import main

    desk.did("air", "study", "52", now=SATURDAY)
    monkeypatch.setenv("WINGREST_STORE", str(desk.store))
    with pytest.raises(SystemExit) as left:
        main(["--now", SATURDAY, "ready", "B5"])
    assert left.value.code == 0
    assert capsys.readouterr().out.startswith("B5: TEST IT NOW")


def test_without_now_it_is_now(desk: Desk, capsys: pytest.CaptureFixture[str]) -> None:
    from scheduler.cli import main

    with pytest.raises(SystemExit) as left:
        main(["--store", str(desk.store), "release", "M-01", "--at", "2999-01-01T12:00"])
    assert left.value.code == 2
    assert "has not happened yet" in capsys.readouterr().err


def test_who_did_it_stands_in_the_journal(desk: Desk) -> None:
    desk.did("--who", "Wren", "release", "M-01")
    line = json.loads(desk.did("journal", "--last", "1", "--format", "json"))["journal"][0]
    assert (line["who"], line["command"], line["text"]) == ("Wren", "release", "took M-01 off")


def test_a_persons_own_rules_replace_the_shipped_ones(desk: Desk, tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "board_time.csv").write_text(
        "rule_id,state,body_mm,min_days,plan_days,basis,source_id,locator,note\n"
        "fresh-room-4.5,fresh,4.5,20,21,memory,,,My attic has poor air.\n",
        encoding="utf-8",
    )
    desk.did("air", "study", "52")
    assert desk("ready", "M-01").status == 0
    run = desk("--rules", str(own), "ready", "M-01")
    assert run.status == 1
    assert "not yet" in run.out


def test_own_rules_with_a_fault_are_named_by_row_and_leave_with_2(
    desk: Desk, tmp_path: Path
) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "board_time.csv").write_text(
        "rule_id,state,body_mm,min_days,plan_days,basis,source_id,locator,note\n"
        "fresh-room-4.5,fresh,4.5,soon,21,memory,,,\n",
        encoding="utf-8",
    )
    run = desk("--rules", str(own), "ready", "M-01")
    assert (run.status, run.out) == (2, "")
    assert "board_time.csv, row 2, min_days" in run.err


# --- undo ---------------------------------------------------------------------------------


def test_undo_of_a_load_empties_the_record_and_undo_of_that_fills_it(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND)
    full = image(desk)
    desk.did("undo", "--yes")
    assert image(desk) == ""
    desk.did("undo", "2")
    assert image(desk) == full


def test_there_is_an_end_to_what_can_be_taken_back(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND)
    desk.did("undo", "--yes")
    run = desk("undo")
    assert (run.status, run.out) == (3, "")
    assert "nothing to take back" in run.err


def test_a_line_that_was_built_upon_is_refused_and_the_later_one_named(desk: Desk) -> None:
    desk.did("release", "B3", "B5", "B10", now=SATURDAY)
    run = desk("undo", "1", now=SATURDAY)
    assert (run.status, run.out) == (3, "")
    assert "undo 2" in run.err


def test_an_unknown_line_is_refused(desk: Desk) -> None:
    assert desk("undo", "99").status == 3


def test_the_journal_shows_what_was_taken_back(desk: Desk) -> None:
    desk.did("release", "M-01", now=SATURDAY)
    desk.did("undo", now=SATURDAY)
    assert "took M-01 off (taken back by line 3)" in desk.did("journal", now=SATURDAY)


def test_a_command_in_somebody_elses_process_leaves_its_memory_to_it(desk: Desk) -> None:
    before = gc.get_freeze_count(), gc.get_threshold()
    desk("boards")
    assert (gc.get_freeze_count(), gc.get_threshold()) == before
