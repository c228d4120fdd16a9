"""Handing specimens over: an archive that strangers read, a line in the journal, numbers back.

The archive is read with python-dwca-reader, a general reader of Darwin Core Archives; terms by
TDWG's Darwin Core (rs.tdwg.org/dwc/terms/), files by its text guide (rs.tdwg.org/dwc/text/).
"""

from __future__ import annotations

import csv
import io
import json
import warnings
from pathlib import Path
from xml.etree import ElementTree

import openpyxl  # type: ignore[import-untyped]
import pytest
from bench_cases import Desk, weekend
from verb_cases import image, journal, recorded, refused, snapshot

from scheduler.intake.batch.columns import LABEL_TERMS
from scheduler.record.store import Store

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from dwca.read import DwCAReader  # type: ignore[import-untyped]

SATURDAY = "2027-05-08T12:00"
MUSEUM = "Museum of Fernland (invented)"
DWC = "http://rs.tdwg.org/dwc/terms/"
OURS_ALONE = {"emerged_on", "host_seen"}


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    desk = weekend(tmp_path)
    desk.did("amend", "M-01", "lifeStage=larva", "emerged_on=2027-04-20", "host_seen=fed",
             "associatedTaxa=host: Salix caprea", "eventDate=2027-03-30",
             "occurrenceRemarks=two lines\nof remarks", "recordedBy=Jürgen Ťuhýk | Ω. Ш.",
             now=SATURDAY)  # fmt: skip
    desk.did("release", "B3", "B5", now=SATURDAY)
    return desk


def given(desk: Desk, tmp_path: Path, *words: str) -> Path:
    folder = tmp_path / "gift"
    desk.did("handover", folder, *words, now=SATURDAY)
    return folder


def test_no_list_that_is_written_begins_a_formula_and_a_degree_west_stays_one(
    desk: Desk, tmp_path: Path
) -> None:
    desk.did("amend", "M-01", "taxon==cmd|x", "decimalLongitude=-3.431", now=SATURDAY)
    desk.did("amend", "M-14", "box=@SUM(1)", now=SATURDAY)
    desk.did("list", "waiting", "-o", tmp_path / "waiting.csv", now=SATURDAY)
    folder = given(desk, tmp_path)
    written = (folder / "specimens.csv").read_text(encoding="utf-8")
    assert "'=cmd|x" in written
    assert ",-3.431," in written
    assert "'@SUM(1)" in (tmp_path / "waiting.csv").read_text(encoding="utf-8")


def test_a_general_reader_opens_the_archive_and_reads_every_term(
    desk: Desk, tmp_path: Path
) -> None:
    folder = given(desk, tmp_path, "--to", MUSEUM)
    facts = snapshot(desk)
    with DwCAReader(str(folder / "archive.zip")) as dwca:
        assert dwca.descriptor.core.type == DWC + "Occurrence"
        assert [e.type for e in dwca.descriptor.extensions] == [DWC + "MeasurementOrFact"]
        assert dwca.metadata is not None
        rows = {row.data[DWC + "materialEntityID"]: row for row in dwca.rows}
        assert sorted(rows) == ["M-01", "M-02", "M-03", "M-04"]
        for name, row in rows.items():
            s = facts.specimens[name]
            assert row.data[DWC + "basisOfRecord"] == "PreservedSpecimen"
            assert row.data[DWC + "scientificName"] == s.taxon
            assert (row.data[DWC + "family"], row.data[DWC + "sex"]) == (s.family, s.sex)
            for term, value in s.label.items():
                if term not in OURS_ALONE:
                    assert row.data[DWC + term] == value.replace("\n", " | ")
        reared = rows["M-01"].extensions
        said = {e.data[DWC + "measurementType"]: e.data[DWC + "measurementValue"] for e in reared}
    assert said["date of emergence of the adult"] == "2027-04-20"
    assert said["how the host is known"] == "seen feeding on it"


def test_every_name_in_the_archive_is_a_term_of_the_standard(desk: Desk, tmp_path: Path) -> None:
    """The names of Darwin Core as TRADE has them; ids of the core besides."""
    folder = given(desk, tmp_path)
    with DwCAReader(str(folder / "archive.zip")) as dwca:
        terms = {f["term"].removeprefix(DWC) for f in dwca.descriptor.core.fields}
    known = {*LABEL_TERMS, "family", "sex"} - OURS_ALONE
    assert terms - known == {"occurrenceID", "basisOfRecord", "materialEntityID"}
    assert known - terms == set()


def test_the_metadata_is_well_formed_and_says_who_and_how_many(desk: Desk, tmp_path: Path) -> None:
    folder = given(desk, tmp_path, "--to", MUSEUM)
    with DwCAReader(str(folder / "archive.zip")) as dwca:
        eml = dwca.metadata
        with dwca.open_included_file("meta.xml") as meta:
            ElementTree.fromstring(meta.read())
    said = " ".join(eml.itertext())
    assert MUSEUM in said
    assert "4 pinned insects" in said
    for part in ("title", "creator", "metadataProvider", "pubDate", "abstract", "contact"):
        assert eml.find(f"dataset/{part}") is not None, part


def test_the_flat_tables_say_the_same_as_each_other(desk: Desk, tmp_path: Path) -> None:
    folder = given(desk, tmp_path)
    flat = list(csv.reader(io.StringIO((folder / "specimens.csv").read_text("utf-8"))))
    book = openpyxl.load_workbook(folder / "occurrences.xlsx").active.values
    assert [["" if v is None else str(v) for v in row] for row in book] == flat


def test_the_round_trip_changes_nothing_and_the_numbers_come_back(
    desk: Desk, tmp_path: Path
) -> None:
    folder = given(desk, tmp_path, "--to", MUSEUM)
    before = image(desk)
    assert "nothing new" in desk.did("load", folder, now=SATURDAY)
    assert image(desk) == before
    rows = list(csv.DictReader(io.StringIO((folder / "specimens.csv").read_text("utf-8"))))
    for number, row in enumerate(rows):
        row["catalogNumber"] = f"FM {number}"
    theirs = tmp_path / "numbers.csv"
    with theirs.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    desk.did("load", theirs, now=SATURDAY)
    assert snapshot(desk).specimens["M-03"].label["catalogNumber"] == "FM 2"
    assert "M-03" in desk.did("find", "fm", "2")


def test_what_was_handed_over_loads_into_a_new_record_whole(desk: Desk, tmp_path: Path) -> None:
    folder = given(desk, tmp_path)
    other = Desk(tmp_path / "theirs" / "other.sqlite")
    other.store.parent.mkdir()
    other.did("load", folder, now=SATURDAY)
    ours, theirs = snapshot(desk).specimens, snapshot(other).specimens
    for name, specimen in theirs.items():
        mine = ours[name]
        assert specimen.label == mine.label
        assert (specimen.taxon, specimen.family, specimen.sex) == (
            mine.taxon, mine.family, mine.sex,
        )  # fmt: skip


def test_what_is_given_is_a_line_in_the_journal_and_can_be_taken_back(
    desk: Desk, tmp_path: Path
) -> None:
    recorded(desk, "handover", str(tmp_path / "g"), "--to", MUSEUM, now=SATURDAY)
    assert journal(desk)[-1].text.startswith("took back line")
    life = json.loads(desk.did("show", "M-01", "--format", "json", now=SATURDAY))
    assert life["place"] == f"handed over to {MUSEUM}"
    assert refused(desk, "handover", str(tmp_path / "h"), status=3, now=SATURDAY)
    assert not (tmp_path / "h").exists()


def test_without_a_receiver_nothing_is_recorded(desk: Desk, tmp_path: Path) -> None:
    lines = len(journal(desk))
    given(desk, tmp_path)
    assert len(journal(desk)) == lines


def test_what_stands_on_a_board_does_not_leave(desk: Desk, tmp_path: Path) -> None:
    said = refused(desk, "handover", str(tmp_path / "g"), "M-09", "--to", MUSEUM, status=3,
                   now=SATURDAY)  # fmt: skip
    assert "M-09: on B10" in said


def test_protected_species_are_named_before_anything_leaves(desk: Desk, tmp_path: Path) -> None:
    batch = tmp_path / "list"
    batch.mkdir()
    (batch / "settings.toml").write_text('protected = ["Selenia", "Saturniidae"]', "utf-8")
    desk.did("load", batch, now=SATURDAY)
    folder = tmp_path / "g"
    said = refused(desk, "handover", str(folder), "--to", MUSEUM, status=3, now=SATURDAY)
    assert "M-03: Selenia dentaria" in said
    assert "M-04" not in said
    assert "need permits" in said
    assert not folder.exists()
    desk.did("handover", folder, "--to", MUSEUM, "--permit", "FM 12/27", now=SATURDAY)
    assert {a.note for a in snapshot(desk).afterwards} == {"FM 12/27"}


def test_since_and_lot_narrow_it_down(desk: Desk, tmp_path: Path) -> None:
    desk.did("amend", "M-01", "lot=R-27", now=SATURDAY)
    desk.did("handover", tmp_path / "lot", "--lot", "r-27", now=SATURDAY)
    assert (tmp_path / "lot" / "specimens.csv").read_text("utf-8").count("urn:uuid:") == 1
    assert refused(desk, "handover", str(tmp_path / "x"), "--since", "2027-05-09", status=3,
                   now=SATURDAY)  # fmt: skip


def test_a_folder_that_holds_something_is_left_alone(desk: Desk, tmp_path: Path) -> None:
    (tmp_path / "g").mkdir()
    (tmp_path / "g" / "mine.txt").write_text("keep", "utf-8")
    refused(desk, "handover", str(tmp_path / "g"), "--to", MUSEUM, status=2, now=SATURDAY)
    assert (tmp_path / "g" / "mine.txt").read_text("utf-8") == "keep"


def test_the_same_specimen_has_the_same_id_for_ever(desk: Desk, tmp_path: Path) -> None:
    ids = []
    for name in ("a", "b"):
        desk.did("handover", tmp_path / name, now=SATURDAY)
        rows = csv.DictReader(io.StringIO((tmp_path / name / "specimens.csv").read_text("utf-8")))
        ids.append([row["occurrenceID"] for row in rows])
    assert ids[0] == ids[1]
    with Store(desk.store) as store:
        assert store.snapshot().namespace
