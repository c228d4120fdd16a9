"""What a list leaves open is asked: its ids, its titles, one by one on a terminal."""

from __future__ import annotations

import os
import pty
import sys
import time
from pathlib import Path

import pytest
from bench_cases import Desk, Run
from verb_cases import snapshot

NOW = "2026-11-01T10:00"
HEAD = "Art;Spannweite;eingefroren am;Dose\n"
HAWK = "Sphinx ligustri;95;23.05.26;Dose 3\n"
OWLET = "Noctua pronuba;55;12.07.26;Dose 3\n"
PEACOCK = "Aglais io;54;30.07.26;Dose 4\n"
MOTH = "Biston betularia;48;31.08.26;Dose 3\n"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path / "record.sqlite")


def listed(tmp_path: Path, *lines: str) -> Path:
    path = tmp_path / "lists" / "Gefrierliste.csv"
    path.parent.mkdir(exist_ok=True)
    path.write_text("".join(lines), encoding="utf-8")
    return path


def load(desk: Desk, path: Path, *options: str) -> Run:
    return desk("load", path, *options, now=NOW)


def taxa(desk: Desk) -> dict[str, str | None]:
    return {name: s.taxon for name, s in snapshot(desk).specimens.items()}


def test_rows_without_an_id_are_given_one_by_their_box(desk: Desk, tmp_path: Path) -> None:
    path = listed(tmp_path, HEAD, HAWK, OWLET, PEACOCK)
    run = load(desk, path)
    assert (run.status, "row 2 is Dose3-1" in run.out) == (2, True)
    assert load(desk, path, "--yes").status == 0
    assert taxa(desk) == {
        "Dose3-1": "Sphinx ligustri",
        "Dose3-2": "Noctua pronuba",
        "Dose4-1": "Aglais io",
    }


def test_without_boxes_the_list_s_name_counts(desk: Desk, tmp_path: Path) -> None:
    path = listed(tmp_path, "Art;Spannweite\n", "Sphinx ligustri;95\n", "Aglais io;54\n")
    assert load(desk, path, "--yes").status == 0
    assert list(taxa(desk)) == ["Gefrierliste-1", "Gefrierliste-2"]


def test_next_week_s_rows_keep_their_ids_wherever_others_come_in_or_go(
    desk: Desk, tmp_path: Path
) -> None:
    load(desk, listed(tmp_path, HEAD, HAWK, OWLET, PEACOCK), "--yes")
    run = load(desk, listed(tmp_path, HEAD, MOTH, HAWK, OWLET, PEACOCK))
    assert (run.status, "ids given: row 2 is Dose3-3" in run.err) == (0, True)
    assert load(desk, listed(tmp_path, HEAD, PEACOCK, MOTH)).status == 0
    assert taxa(desk)["Dose3-3"] == "Biston betularia"
    assert len(taxa(desk)) == 4
    # Whoever changes the box changes no id.
    moved = PEACOCK.replace("Dose 4", "Dose 9")
    assert load(desk, listed(tmp_path, HEAD, moved, MOTH)).status == 0
    assert snapshot(desk).specimens["Dose4-1"].box == "Dose 9"


def test_a_row_that_is_new_where_another_is_gone_is_asked_about(desk: Desk, tmp_path: Path) -> None:
    load(desk, listed(tmp_path, HEAD, HAWK, OWLET), "--yes")
    corrected = listed(tmp_path, HEAD, HAWK, OWLET.replace("55", "57"))
    run = load(desk, corrected, "--yes")
    assert run.status == 2
    assert "is it that specimen, corrected, or a further one" in run.problems
    assert load(desk, corrected, "--answer", "rows=corrected").status == 0
    assert snapshot(desk).specimens["Dose3-2"].wingspan_mm == 57
    further = listed(tmp_path, HEAD, HAWK, MOTH)
    assert load(desk, further, "--answer", "rows=further").status == 0
    assert taxa(desk) == {
        "Dose3-1": "Sphinx ligustri",
        "Dose3-2": "Noctua pronuba",
        "Dose3-3": "Biston betularia",
    }
    assert load(desk, listed(tmp_path, HEAD, HAWK, MOTH, PEACOCK)).status == 0, "asked once"


def test_ids_of_the_record_are_given_to_no_other_row(desk: Desk, tmp_path: Path) -> None:
    load(desk, listed(tmp_path, HEAD, HAWK, OWLET), "--yes")
    (tmp_path / "lists" / "columns.toml").unlink()
    run = load(desk, listed(tmp_path, HEAD, MOTH), "--yes")
    assert (run.status, "Dose3-1 stands in none now" in run.problems) == (2, True)
    assert load(desk, listed(tmp_path, HEAD, MOTH), "--yes", "--answer", "rows=further").status == 0
    assert taxa(desk)["Dose3-3"] == "Biston betularia"


def test_a_list_without_titles_is_asked_about_and_the_answer_kept(
    desk: Desk, tmp_path: Path
) -> None:
    path = listed(tmp_path, HAWK, OWLET, PEACOCK)
    run = load(desk, path, "--yes")
    assert (run.status, run.problems.count("there are no titles")) == (2, 4)
    assert taxa(desk) == {}
    said = ("--columns", "taxon,wingspan_mm,frozen_on,box")
    assert load(desk, path, *said, "--yes").status == 0
    one = snapshot(desk).specimens["Dose3-2"]
    assert (one.taxon, one.wingspan_mm, str(one.frozen_on)) == ("Noctua pronuba", 55, "2026-07-12")
    assert load(desk, listed(tmp_path, HAWK, OWLET, PEACOCK, MOTH)).status == 0
    assert taxa(desk)["Dose3-3"] == "Biston betularia"


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ("taxon,wingspan_mm,box", "names 3 columns, and the list has 4"),
        ("taxon,wingspan_mm,frozen_on,bocks", "is not a column of specimens"),
        ("taxon,taxon,frozen_on,box", "is said of two columns"),
    ],
)
def test_columns_said_wrongly_are_refused(
    desk: Desk, tmp_path: Path, said: str, reason: str
) -> None:
    run = load(desk, listed(tmp_path, HAWK, OWLET), "--columns", said, "--yes")
    assert (run.status, reason in run.problems) == (2, True)
    assert taxa(desk) == {}


def test_an_order_of_dates_that_was_said_holds_where_next_week_s_list_shows_none(
    desk: Desk, tmp_path: Path
) -> None:
    head = "Nr;Art;Spannweite;eingefroren am\n"
    first = listed(tmp_path, head, "Q-1;Aglais io;54;05.06.2026\n")
    assert load(desk, first, "--yes").status == 2
    assert load(desk, first, "--answer", "dates=day-first", "--yes").status == 0
    run = load(desk, listed(tmp_path, head, "Q-2;Aglais io;54;07.06.2026\n"))
    assert (run.status, "(as you said before)" in run.err) == (0, True)
    assert str(snapshot(desk).specimens["Q-2"].frozen_on) == "2026-06-07"
    shown = listed(tmp_path, head, "Q-3;Aglais io;54;06.23.2026\n", "Q-4;Aglais io;54;06.07.2026\n")
    assert load(desk, shown).status == 0, "what a list shows comes before what was said"
    assert str(snapshot(desk).specimens["Q-4"].frozen_on) == "2026-06-07"


# --- at a terminal -------------------------------------------------------------------------------


def typed(desk: Desk, path: Path, *answers: str) -> str:
    """Load at a terminal and type an answer at each question; return what is shown."""
    child, terminal = pty.fork()
    if child == 0:
        words = ("--store", str(desk.store), "--now", NOW, "load", str(path))
        run = "from scheduler.cli import main; main()"
        os.execv(sys.executable, [sys.executable, "-c", run, *words])
    shown, waiting, since = "", list(answers), 0
    end = time.monotonic() + 120
    while time.monotonic() < end:
        try:
            more = os.read(terminal, 4096).decode()
        except OSError:
            break
        shown += more.replace("\r", "")
        asked = shown[since:].rstrip().endswith("]:") or shown[since:].rstrip().endswith("stop):")
        if waiting and asked:
            since = len(shown)
            os.write(terminal, f"{waiting.pop(0)}\n".encode())
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0, shown
    assert waiting == [], shown
    return " ".join(shown.split())


def test_loggers_of_a_folder_are_asked_about_one_by_one(desk: Desk, tmp_path: Path) -> None:
    folder = tmp_path / "lists"
    folder.mkdir()
    (folder / "rooms.csv").write_text("room,rh_pct\nattic,55\nstudy,50\n", encoding="utf-8")
    for room, month in (("attic", "04"), ("study", "05")):
        text = f"Time,Temperature (C),RH (%)\n03.{month}.2026 12:00,20.0,60.0\n"
        (folder / f"readings-{room}.csv").write_text(text, encoding="utf-8")
    shown = typed(desk, folder, "day-first", "month-first", "yes")
    assert shown.count("Which (day-first, month-first, stop)") == 2
    assert "2 rooms and 2 readings new or changed" in shown
    days = {room: [str(d) for d in of] for room, of in snapshot(desk).air_days.items()}
    assert days == {"attic": ["2026-04-03"], "study": ["2026-03-05"]}


def test_what_was_read_before_the_yes_is_not_said_again(desk: Desk, tmp_path: Path) -> None:
    shown = typed(desk, listed(tmp_path, HAWK, OWLET, PEACOCK), "", "", "", "", "yes")
    after = shown.rpartition("Load it like this?")[2]
    assert "3 specimens new or changed" in after
    assert "counted as Sphingidae" in shown
    assert "counted as Sphingidae" not in after
