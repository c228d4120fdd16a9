"""What pages give besides text: lists for a spreadsheet, style files, a session's minutes."""

from __future__ import annotations

import io
import re
from pathlib import Path

import openpyxl  # type: ignore[import-untyped]
import pytest
from bench_cases import weekend
from page_cases import Phone, phones


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    return phones(weekend(tmp_path))[0]


# IANA, media types: text/csv (RFC 4180) and the registration of 2011-03-16 for workbooks.
@pytest.mark.parametrize(
    ("ending", "registered"),
    [
        ("csv", "text/csv"),
        ("xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    ],
)
def test_a_list_has_the_registered_type(phone: Phone, ending: str, registered: str) -> None:
    assert phone.get(f"list/waiting.{ending}").mimetype == registered


def test_a_list_opens_as_a_workbook(phone: Phone) -> None:
    data = phone.get("list/standing.xlsx").data
    rows = list(openpyxl.load_workbook(io.BytesIO(data)).active.values)
    assert rows[0][0] == "specimen"
    assert {row[0] for row in rows[1:]} >= {"M-01", "M-02"}


def test_an_address_of_the_looks_changes_with_the_file(phone: Phone) -> None:
    links = re.findall(r'href="(/look/[^"]+\.css\?v=(\w+))"', phone.look())
    assert len(links) >= 2
    for address, _ in links:
        with phone.get(address) as answer:
            assert answer.mimetype == "text/css"
    assert len({version for _, version in links}) == len(links)


@pytest.mark.parametrize("session", ["SAT-08", "SUN-09"])
def test_a_session_says_the_minutes_that_its_plan_says(tmp_path: Path, session: str) -> None:
    desk = weekend(tmp_path)
    planned = re.search(r"(\d+ of \d+ min)", desk.did("plan", session))
    assert planned
    assert planned[1] in phones(desk)[0].look(f"session?name={session}")
