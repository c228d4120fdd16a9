"""A brood as one entry: one label for all, numbers used up one by one; the bag afterwards."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench_cases import Desk, weekend
from verb_cases import recorded, refused, snapshot

from scheduler.words.records import Specimen

SATURDAY = "2027-05-08T12:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A rearing of 14, invented, entered at the bench."""
    desk = weekend(tmp_path)
    desk.did("add", "hawkmoth", "--count", "14", "--wingspan", "60", "--fresh", "--lot", "R-27",
             "--as", "R-27", "--taxon", "Deilephila elpenor", "--label", "locality=Alder Carr",
             "--label", "eventDate=2026-08-12", "--label", "lifeStage=larva",
             "--label", "recordedBy=Wren Tallow")  # fmt: skip
    return desk


def brood(desk: Desk) -> list[Specimen]:
    return [s for s in snapshot(desk).specimens.values() if s.lot == "R-27"]


def test_what_is_said_of_the_lot_is_said_of_each_and_taken_back_from_each(desk: Desk) -> None:
    recorded(desk, "lot", "r-27", "emerged_on=2027-04-28/2027-05-02", "host_seen=fed",
             "associatedTaxa=host: Epilobium")  # fmt: skip
    assert len(brood(desk)) == 14
    assert {s.label["emerged_on"] for s in brood(desk)} == {"2027-04-28/2027-05-02"}
    said = desk.did("lot", "R-27").splitlines()
    assert said[0] == "R-27: Deilephila elpenor, 14 specimens (R-27-01 to R-27-14): 14 waiting"
    assert " ".join(" ".join(said[1:]).split()) == (
        "Alder Carr larva 12.VIII.2026, em. 28.IV.-2.V.2027 leg. Wren Tallow ex Epilobium"
    )


def test_sizes_are_each_ones_own_and_an_unknown_lot_names_what_comes_near(desk: Desk) -> None:
    said = refused(desk, "lot", "R-27", "wingspan_mm=60", "host_seen=perhaps", status=2)
    assert "wingspan_mm" in said
    assert "host_seen" in said
    assert "Did you mean R-27" in refused(desk, "lot", "R-28", "sex=male", status=2)


def test_mounted_by_the_lots_name_the_next_number_is_taken(desk: Desk) -> None:
    first = desk.did("mount", "R-27", "--board", "B6", now=SATURDAY)
    assert "R-27-01" in first
    desk.did("mount", "B7:", "R-27", "R-27", now=SATURDAY)
    on = {p.specimen: p.board for p in snapshot(desk).standing()}
    assert [on[f"R-27-0{n}"] for n in (1, 2, 3)] == ["B6", "B7", "B7"]
    desk.did("relax", "R-27-09", now=SATURDAY)
    assert "R-27-09" in desk.did("mount", "R-27", "--board", "B9", now=SATURDAY)


def test_a_lot_that_is_used_up_says_so(desk: Desk) -> None:
    for specimen in brood(desk):
        desk.did("lost", specimen.specimen, "crippled", now=SATURDAY)
    said = refused(desk, "mount", "R-27", "--board", "B6", status=3, now=SATURDAY)
    assert "none of lot R-27 waits any more" in said


def test_a_row_of_fourteen_is_a_lot(desk: Desk, tmp_path: Path) -> None:
    folder = tmp_path / "rearing"
    folder.mkdir()
    head = "specimen,taxon,group,wingspan_mm,count,locality,emerged_on,host_seen\n"
    row = "R-30,Aglais io,butterfly,55,14,Alder Carr,2027-05-01,bred\n"
    (folder / "specimens.csv").write_text(head + row, "utf-8")
    desk.did("load", folder)
    assert "R-30: Aglais io, 14 specimens (R-30-1 to R-30-14)" in desk.did("lot", "R-30")


# --- afterwards: the bag ---------------------------------------------------------------------


def test_the_bag_stays_shut_as_long_as_the_handbook_says(desk: Desk) -> None:
    """S1 p. 49: dry and bagged, 2-5 days at -20 to -25 C; warmed in its bag, a day more."""
    desk.did("release", "M-01", now=SATURDAY)
    run = recorded(desk, "bag", now=SATURDAY)
    assert "leave it shut until Fri 14 May 12:00" in run.out
    assert "-20 to -25 deg C" in " ".join(run.out.split())

    def place(now: str) -> object:
        return json.loads(desk.did("show", "M-01", "--format", "json", now=now))["place"]

    assert place("2027-05-14T11:00") == "off B5, bagged and in the freezer"
    assert place("2027-05-14T12:00") == "off B5"


def test_what_stands_on_a_board_is_not_bagged(desk: Desk) -> None:
    assert "M-09: on B10" in refused(desk, "bag", "M-09", status=3, now=SATURDAY)


def test_what_comes_off_without_its_data_is_named_at_once(desk: Desk) -> None:
    desk.did("mount", "R-27", "--board", "B6", now=SATURDAY)
    desk.did("lot", "R-27", "recordedBy=", now=SATURDAY)
    said = desk.did("release", "R-27-01", "--early", "ants", now="2027-05-09T10:00")
    assert "no collector for the label of R-27-01" in said


def test_the_calendar_says_when_the_bag_may_be_opened(desk: Desk, tmp_path: Path) -> None:
    desk.did("release", "M-01", "M-06", now=SATURDAY)
    desk.did("bag", now=SATURDAY)
    out = tmp_path / "boards.ics"
    desk.did("feed", "-o", out, now=SATURDAY)
    told = out.read_text("utf-8").replace("\r\n ", "")
    event = next(e for e in told.split("BEGIN:VEVENT") if "Bag may be opened" in e)
    assert "SUMMARY:Bag may be opened: M-01\\, M-06" in event
    # Saturday noon in Berlin, five days frozen and one to warm: Friday 12:00, 10:00 UTC.
    assert "DTSTART:20270514T100000Z" in event
    assert "M-01\\, M-06" in event
    desk.did("undo", now=SATURDAY)
    desk.did("feed", "-o", out, now=SATURDAY)
    assert "Bag may be opened" not in out.read_text("utf-8")
