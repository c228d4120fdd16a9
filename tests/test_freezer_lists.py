"""Lists as people keep them: own titles in two languages, units, ranges, lines above the header."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl  # type: ignore[import-untyped]
import pytest
from bench_cases import Desk
from verb_cases import snapshot

from scheduler.words.records import Specimen


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path / "record.sqlite")


def listed(tmp_path: Path, text: str, name: str = "Gefrierliste.csv") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def specimens(desk: Desk) -> dict[str, Specimen]:
    return dict(snapshot(desk).specimens)


GERMAN = (
    "Gefrierliste Sommer (erfunden)\n"
    "\n"
    "Nr.;Art;Familie;Spannweite;eingefroren am;Dose;Fundort;Bemerkung;Farbe\n"
    "Q-1;Sphinx ligustri;Sphingidae;~ 95 mm, dick;23.05.26;Dose 3;Moor;am Licht;grau\n"
    "\n"
    "Q-2;Noctua pronuba;Noctuidae;5,2-5,6 cm;12.07.26;Dose 3;;;\n"
)


def test_a_german_list_is_shown_asked_about_once_and_loaded(desk: Desk, tmp_path: Path) -> None:
    path = listed(tmp_path, GERMAN)
    run = desk("load", path)
    assert (run.status, specimens(desk)) == (2, {})
    said = " ".join(run.out.split())
    for part in (
        '"Art" is taxon',
        '"Spannweite" is wingspan_mm',
        '"eingefroren am" is frozen_on',
        '"Dose" is box',
        "semicolons between the cells",
        "frozen_on: 2 filled, 2026-05-23 to 2026-07-12",
        "above the header, not read: Gefrierliste Sommer (erfunden)",
        "row 4: 23.05.26 is 2026-05-23",
        "row 6: 5,2-5,6 cm is 56 mm",
        'column "Farbe": is kept as a note',
    ):
        assert part in said
    desk.did("load", path, "--yes")
    first, second = specimens(desk).values()
    assert (first.specimen, first.taxon, first.box) == ("Q-1", "Sphinx ligustri", "Dose 3")
    assert (first.wingspan_mm, first.size, str(first.frozen_on)) == (95, "stout", "2026-05-23")
    assert first.label["locality"] == "Moor"
    assert first.label["materialEntityRemarks"] == "Bemerkung: am Licht; Farbe: grau"
    assert (second.wingspan_mm, second.size) == (56, None)


def test_next_week_s_file_beside_it_loads_without_a_question(desk: Desk, tmp_path: Path) -> None:
    desk.did("load", listed(tmp_path, GERMAN), "--yes")
    desk.did("load", listed(tmp_path, GERMAN.replace("Q-", "R-"), "Liste neu.csv"))
    assert set(specimens(desk)) == {"Q-1", "Q-2", "R-1", "R-2"}


def test_a_column_that_was_guessed_wrongly_is_said_and_kept(desk: Desk, tmp_path: Path) -> None:
    path = listed(tmp_path, "Nr;Art;Größe\nQ-1;Sphinx ligustri;95\n")
    assert desk("load", path, "--yes").status == 2
    desk.did("load", path, "--yes", "--column", "Größe=wingspan_mm", "--column", "Art=taxon")
    assert specimens(desk)["Q-1"].wingspan_mm == 95
    desk.did("load", listed(tmp_path, "Nr;Art;Größe\nQ-2;Sphinx ligustri;93\n", "b.csv"))
    assert specimens(desk)["Q-2"].wingspan_mm == 93


def test_a_workbook_with_title_merged_cells_and_a_sheet_of_notes(
    desk: Desk, tmp_path: Path
) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Freezer"
    sheet.append(["Freezer list (invented)"])
    sheet.append([])
    sheet.append(["No.", "Species", "Wingspan (cm)", "Frozen on", "Box"])
    sheet.append(["Q-1", "Sphinx ligustri", 9.5, dt.date(2026, 5, 23), "Tray 2"])
    sheet.append(["Q-2", "Noctua pronuba", 5.4, dt.date(2026, 7, 12), None])
    sheet.merge_cells("E4:E5")
    sheet.merge_cells("A1:E1")
    book.create_sheet("notes").append(["buy pins"])
    book.save(tmp_path / "freezer.xlsx")
    run = desk("load", tmp_path / "freezer.xlsx")
    assert run.status == 0
    assert "merged cells: rows 4 to 5: Tray 2" in " ".join(run.err.split())
    desk.did("load", tmp_path / "freezer.xlsx", "--yes")
    assert [(s.wingspan_mm, s.box) for s in specimens(desk).values()] == [
        (95, "Tray 2"),
        (54, "Tray 2"),
    ]


def test_how_many_of_a_kind_are_as_many_specimens(desk: Desk, tmp_path: Path) -> None:
    desk.did("load", listed(tmp_path, "Nr;Art;Spannweite;Anzahl\nQ-1;Aglais io;55;3\n"), "--yes")
    assert list(specimens(desk)) == ["Q-1-1", "Q-1-2", "Q-1-3"]


def test_problems_of_one_kind_are_one_problem_with_its_rows(desk: Desk, tmp_path: Path) -> None:
    rows = "".join(f"Q-{n},4,summer {n % 2}\n" for n in range(68))
    run = desk("load", listed(tmp_path, f"specimen,body_mm,frozen_on\n{rows}"))
    problems = [line for line in run.err.splitlines() if "frozen_on" in line]
    assert len(problems) == 1
    assert "rows 2-69, frozen_on" in run.err


def test_a_row_that_is_not_as_wide_as_the_header_is_never_read(desk: Desk, tmp_path: Path) -> None:
    text = "specimen,family,body_mm,priority,minutes\nQ-1,Noctuidae,12,5,,\nQ-2,Noctuidae,12\n"
    run = desk("load", listed(tmp_path, text, "specimens.csv"))
    assert run.status == 2
    assert "rows 2, 3: has more or fewer cells than the header, which has 5" in " ".join(
        run.err.split()
    )
    assert specimens(desk) == {}


def test_dates_that_a_spreadsheet_may_have_swapped_are_asked_about(
    desk: Desk, tmp_path: Path
) -> None:
    book = openpyxl.Workbook()
    book.active.append(["specimen", "body_mm", "frozen_on"])
    book.active.append(["Q-1", 4, dt.date(2027, 5, 6)])
    book.active.append(["Q-2", 4, "23/05/2027"])
    book.save(tmp_path / "specimens.xlsx")
    run = desk("load", tmp_path / "specimens.xlsx", "--yes", "--dates", "day-first")
    assert run.status == 2
    assert "may have day and month swapped in row 2" in " ".join(run.err.split())


def test_a_percentage_of_a_workbook_is_what_it_shows(desk: Desk, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "rooms"
    book.active.append(["room", "rh_pct"])
    book.active.append(["loft", 0.52])
    book.active["B2"].number_format = "0%"
    book.save(tmp_path / "rooms.xlsx")
    desk.did("load", tmp_path / "rooms.xlsx")
    assert snapshot(desk).rooms["loft"].rh_pct == 52
    run = desk("load", listed(tmp_path, "room,rh_pct\nden,0.52\n", "rooms.csv"))
    assert (run.status, "is a fraction, not a percentage" in run.err) == (2, True)


def test_two_digits_that_could_be_year_or_day_are_not_guessed(desk: Desk, tmp_path: Path) -> None:
    text = "specimen,body_mm,frozen_on\nQ-1,4,27.07.05\n"
    run = desk("load", listed(tmp_path, text, "specimens.csv"), "--yes")
    assert run.status == 2
    assert "could stand first or last" in " ".join(run.err.split())


# --- what was corrected in the record ----------------------------------------------------------

ONE = "specimen,body_mm,wingspan_mm,locality\nQ-1,4,40,Moor\n"


def test_an_old_file_overwrites_no_correction_and_names_both(desk: Desk, tmp_path: Path) -> None:
    path = listed(tmp_path, ONE, "specimens.csv")
    desk.did("load", path)
    desk.did("amend", "Q-1", "body_mm=5", "locality=Fen")
    run = desk("load", path)
    assert run.status == 0
    said = " ".join(run.err.split())
    assert "Q-1, body_mm: the file says 4, the record 5: the record's value stays" in said
    assert "Q-1, locality: the file says Moor, the record Fen" in said
    assert "nothing new" in run.out
    one = specimens(desk)["Q-1"]
    assert (one.body_mm, one.wingspan_mm, one.label["locality"]) == (5, 40, "Fen")
    desk.did("load", path, "--take", "file")
    assert specimens(desk)["Q-1"].body_mm == 4


def test_what_both_changed_is_refused_until_somebody_says(desk: Desk, tmp_path: Path) -> None:
    desk.did("load", listed(tmp_path, ONE, "specimens.csv"))
    desk.did("amend", "Q-1", "body_mm=5")
    newer = listed(tmp_path, ONE.replace("Q-1,4,40", "Q-1,6,41"), "specimens.csv")
    run = desk("load", newer)
    assert run.status == 3
    assert "Q-1, body_mm: the file says 6, the record 5" in run.err
    assert specimens(desk)["Q-1"].wingspan_mm == 40
    desk.did("load", newer, "--take", "record")
    one = specimens(desk)["Q-1"]
    assert (one.body_mm, one.wingspan_mm) == (5, 41)


def test_a_corrected_file_corrects_what_nobody_touched(desk: Desk, tmp_path: Path) -> None:
    desk.did("load", listed(tmp_path, ONE, "specimens.csv"))
    desk.did("load", listed(tmp_path, ONE.replace("Q-1,4", "Q-1,6"), "specimens.csv"))
    assert specimens(desk)["Q-1"].body_mm == 6


def test_a_load_that_was_taken_back_can_be_loaded_again(desk: Desk, tmp_path: Path) -> None:
    desk.did("load", listed(tmp_path, ONE, "specimens.csv"))
    newer = listed(tmp_path, ONE.replace("Q-1,4", "Q-1,6"), "specimens.csv")
    desk.did("load", newer)
    desk.did("undo", "--yes")
    desk.did("load", newer)
    assert specimens(desk)["Q-1"].body_mm == 6


def test_more_boards_of_a_kind_make_no_phantom(desk: Desk, tmp_path: Path) -> None:
    head = "board,groove_mm,span_mm,length_mm,room,count\n"
    listed(tmp_path, "room,rh_pct\nden,50\n", "rooms.csv")
    for count, boards in (
        (1, ["B"]),
        (3, ["B", "B-2", "B-3"]),
        (2, ["B", "B-2", "B-3"]),
    ):
        listed(tmp_path, f"{head}B,4,80,300,den,{count}\n", "boards.csv")
        desk.did("load", tmp_path)
        assert sorted(snapshot(desk).boards) == boards


def test_titles_that_mean_one_thing_are_understood_and_said(desk: Desk, tmp_path: Path) -> None:
    text = (
        "Gefrierliste (erfunden);;;;;\n"
        "Nr.;Art;Spannweite (cm);Körper;eingefroren am;Dose\n"
        "Q-1;Sphinx ligustri;9,5;9;23.05.26;Dose 3\n"
        "Q-2;Noctua pronuba;5,4;6,5;12.07.26;Dose 3\n"
        "Q-3;Aglais io;5,5;4;30.07.26;Dose 4\n"
    )
    run = desk("load", listed(tmp_path, text))
    assert run.status == 0, run.err
    first, *_ = specimens(desk).values()
    assert (first.wingspan_mm, first.body_mm, first.box) == (95, 9, "Dose 3")
    assert str(first.frozen_on) == "2026-05-23"
    said = " ".join(run.err.split())
    for part in ('"Art" is taxon', '"Körper" is body_mm', '"Dose" is box', "is 2026-05-23"):
        assert part in said
    assert not (tmp_path / "columns.toml").exists()


@pytest.mark.parametrize(
    ("titles", "asked"),
    [
        ("Nr;Art;Spannweite;Körper", 'column "Körper": is body_mm'),
        ("Nr;Art;Spannweite;Priorität", "is priority (10 is mounted first)"),
        ("Nr;Art;Spannweite;Farbe", 'column "Farbe": is kept as a note'),
        ("Nr;Art;Spannweite;Name", 'column "Name": is kept as a note'),
        ("Nr;Art;Species;Spannweite", 'column "Art": is taxon'),
        ("Nr;Art;Spannweite (links);Thorax", 'column "Spannweite (links)": is wingspan_mm'),
    ],
)
def test_what_may_mean_several_things_is_asked(
    desk: Desk, tmp_path: Path, titles: str, asked: str
) -> None:
    # A body of 40 mm under wings of 95 is a length, and no width.
    cells = {"Art": "Sphinx ligustri", "Species": "Sphinx ligustri", "Spannweite": "95"}
    cells |= {"Spannweite (links)": "95", "Körper": "40", "Thorax": "9", "Priorität": "1"}
    lines = [titles] + [
        ";".join(
            f"Q-{n}" if title == "Nr" else cells.get(title, "rot") for title in titles.split(";")
        )
        for n in range(4)
    ]
    run = desk("load", listed(tmp_path, "\n".join(lines) + "\n"))
    assert run.status == 2
    assert asked in " ".join(run.out.split())


def test_a_genus_of_its_own_and_a_row_that_adds_up(desk: Desk, tmp_path: Path) -> None:
    text = (
        "Nr.;Gattung;Art;Spannweite;Dose\n"
        "Q-1;Sphinx;ligustri;95;Dose 3\n"
        "Q-2;Noctua;Noctua pronuba;54;Dose 3\n"
        ";;Summe;2;\n"
    )
    desk.did("load", listed(tmp_path, text))
    assert [s.taxon for s in specimens(desk).values()] == ["Sphinx ligustri", "Noctua pronuba"]
    run = desk("load", listed(tmp_path, text.replace("Q-2", "Q-3"), "again.csv"), "--yes")
    assert "totals, left out: row 4: Summe 2" in " ".join(run.err.split())


def test_a_total_under_the_ids_is_no_specimen(desk: Desk, tmp_path: Path) -> None:
    text = "id,family,wingspan\nQ-1,Noctuidae,54\nTotal:,,1\n"
    run = desk("load", listed(tmp_path, text), "--yes")
    assert "totals, left out: row 3: Total: 1" in " ".join(run.err.split())
    assert [*specimens(desk)] == ["Q-1"]


def test_a_list_without_ids_adds_up_too(desk: Desk, tmp_path: Path) -> None:
    text = "Art;Familie;Spannweite;Dose\nNoctua pronuba;Noctuidae;54;Dose 3\nSumme;;1;\n"
    run = desk("load", listed(tmp_path, text), "--yes")
    assert run.status == 0, run.err
    assert "totals, left out: row 3: Summe 1" in " ".join(run.err.split())
    assert [s.taxon for s in specimens(desk).values()] == ["Noctua pronuba"]


def test_what_was_frozen_tomorrow_is_refused_and_long_ago_asked_about(
    desk: Desk, tmp_path: Path
) -> None:
    rows = "Q-1,Noctuidae,54,2031-05-14\nQ-2,Noctuidae,54,2026-05-14\nQ-3,Noctuidae,54,2007-05-14"
    path = listed(tmp_path, f"id,family,wingspan,frozen on\n{rows}\n")
    refused = desk("load", path, "--yes")
    assert (refused.status, specimens(desk)) == (2, {})
    assert "row 2, frozen_on: is still to come" in refused.err
    path.write_text(path.read_text("utf-8").replace("2031", "2025"), encoding="utf-8")
    asked = desk("load", path)
    assert asked.status == 2
    assert "row 4: frozen 20 years ago" in " ".join((asked.out + asked.err).split())
    desk.did("load", path, "--yes")
    assert len(specimens(desk)) == 3


def test_what_is_planned_ahead_may_be_frozen_on_a_day_to_come(desk: Desk, tmp_path: Path) -> None:
    text = "id,family,wingspan,frozen_on,available\nQ-1,Noctuidae,54,2027-06-14,2027-06-14\n"
    desk.did("load", listed(tmp_path, text), "--yes")
    assert [*specimens(desk)] == ["Q-1"]
    refused = desk("load", listed(tmp_path, text.replace("06-14\n", "06-13\n")), "--yes")
    assert "frozen_on: is still to come" in refused.err


def test_nothing_is_added_or_amended_as_frozen_tomorrow(desk: Desk) -> None:
    added = desk("add", "owlet", "--wingspan", "40", "--frozen", "2031-05-14")
    assert (added.status, specimens(desk)) == (2, {})
    assert "is still to come" in added.err
    desk.did("add", "owlet", "--wingspan", "40", "--frozen", "2027-01-14")
    (name,) = specimens(desk)
    amended = desk("amend", name, "frozen_on=2031-05-14")
    assert (amended.status, "is still to come" in amended.err) == (2, True)
