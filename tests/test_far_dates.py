"""A date more than ten months away is read with its year, wherever somebody reads it."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest
from bench_cases import WEDNESDAY, Desk, weekend
from interleaved_cases import TABLES
from page_cases import phones

SUMMER = re.compile(
    r"\b\d{1,2} (?:Apr|May|Jun|Jul|Aug)\b(?!\s+\d{4}|\s+and\s+\d{1,2}\s+\w{3}\s+\d{4})"
)
"""Both records below have all their dates in summers more than ten months away."""

LOOKS = (
    "today", "ready", "ready M-01 --chart", "boards", "plan", "journal", "check", "list waiting",
    "list standing", "list off", "list lost", "show M-01", "show M-03", "find M",
    "lot", "backup --list",
)  # fmt: skip
PAGES = ("", "boards", "weeks", "journal", "find?q=M", "board?name=B2", "specimen?name=M-01")


def seen(desk: Desk, now: str, *more: str) -> dict[str, str]:
    """What every look says, by its name."""
    said = {}
    for words in (*LOOKS, *more):
        run = desk(*words.split(), now=now)
        assert run.status != 70, run.err
        said[words] = run.out + run.err
    desk("feed", "-o", str(desk.store.parent / "boards.ics"), now=now)
    calendar = (desk.store.parent / "boards.ics").read_text(encoding="utf-8")
    said["feed"] = calendar.replace("\n ", "")
    (phone,) = phones(desk, now=now)
    return said | {f"/{page}": unescape(re.sub("<[^>]+>", " ", phone.look(page))) for page in PAGES}


def without_year(said: dict[str, str]) -> dict[str, list[str]]:
    """The summer's dates that are read before any year on their line, by what says them.

    A line of the journal begins with its own date: what it says within is read by that.
    """
    found: dict[str, list[str]] = {}
    for what, text in said.items():
        for match in SUMMER.finditer(text):
            before = text[text.rfind("\n", 0, match.start()) + 1 : match.start()]
            if not re.search(r"\b20\d\d\b", before):
                found.setdefault(what, []).append(before + match.group())
    return found


def test_a_summer_that_is_long_over_is_read_with_its_year(tmp_path: Path) -> None:
    desk, late = weekend(tmp_path), "2027-05-08T12:00"
    desk.did("plan", now=WEDNESDAY)
    desk.did("mount", "SAT-08", now=late)
    desk.did("test", "M-01", "soft", now=late)
    waits = desk.did("list", "waiting", now=late).splitlines()[1].split()[0].rstrip(":")
    desk.did("relax", waits, now=late)
    desk.did("air", "study", "80", now=late)
    desk.did("session", "2027-06-05T09:00", "--minutes", "90", now=late)
    refusals = (
        "relax M-25",
        "mount M-25 B5 --at 2027-05-08T11:00",
        "release M-01",
        "test M-01 stiff",
    )
    said = seen(desk, "2028-12-01T18:00", *refusals)
    assert without_year(said) == {}
    assert "2027" in said["ready"] + said["today"]


def test_a_summer_that_is_far_ahead_is_read_with_its_year(tmp_path: Path) -> None:
    folder, now = tmp_path / "batch", "2027-11-20T18:00"
    folder.mkdir()
    for table in ("settings.toml", "rooms.csv", "boards.csv", "specimens.csv"):
        text = TABLES[table].replace("fresh,,", "dried,,").replace("2027-04-20", "2027-10-20")
        (folder / table).write_text(text, encoding="utf-8")
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", folder, now=now)
    desk.did("session", "2029-05-05T09:00", "--minutes", "15", now=now)
    desk.did("session", "2029-05-12T09:00", "--minutes", "120", now=now)
    desk.did("away", "2029-07-01", "2029-07-14", now=now)
    desk.did("amend", "M-01", "wanted_by=2029-05-20", now=now)
    desk.did("amend", "M-02", "available=2029-05-08", now=now)
    asked = ("plan 2029-05-05", "plan --why M-01", "session 2029-05-05T11:00 --minutes 0")
    said = seen(desk, now, *asked, "relax M-02", "away 2029-07-01 2029-07-14")
    assert "5 May 2029" in said["plan"]
    assert without_year(said) == {}


@pytest.mark.parametrize("what", ["sheet", "pull"])
def test_paper_names_the_year(tmp_path: Path, what: str) -> None:
    import pdfplumber

    desk, now = weekend(tmp_path), "2027-11-20T18:00"
    desk.did("session", "2029-05-05T09:00", "--minutes", "120", now=now)
    desk.did("plan", now=now)
    out = tmp_path / "printed.pdf"
    desk.did("print", what, "2029-05-05", "-o", str(out), now=now)
    with pdfplumber.open(out) as pdf:
        assert re.search(r"\b2029\b", pdf.pages[0].extract_text())
