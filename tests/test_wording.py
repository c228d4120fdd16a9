"""How dates are said: what is not plain from today carries its year."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from bench_cases import Desk

from scheduler.words import wording
from scheduler.words.problems import Problem, by_kind_of_fault

TODAY = date(2027, 5, 8)


@pytest.mark.parametrize(
    ("when", "said"),
    [
        (date(2027, 5, 8), "8 May"),
        (date(2028, 3, 3), "3 Mar"),  # 300 days on
        (date(2028, 3, 4), "4 Mar 2028"),
        (date(2026, 7, 12), "12 Jul"),  # 300 days ago
        (date(2026, 7, 11), "11 Jul 2026"),
        (date(2037, 5, 8), "8 May 2037"),
    ],
)
def test_a_date_that_is_ten_months_off_has_its_year(when: date, said: str) -> None:
    assert wording.day(when, TODAY) == said
    assert wording.weekday(when, TODAY) == f"{wording.WEEKDAYS[when.weekday()]} {said}"
    at = datetime(when.year, when.month, when.day, 9, 5, tzinfo=UTC)
    assert wording.moment(at, TODAY) == f"{wording.WEEKDAYS[when.weekday()]} {said} 09:05"
    assert wording.with_year(when) == f"{said.removesuffix(f' {when.year}')} {when.year}"


def test_an_old_line_of_the_journal_has_its_year(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("session", "2027-05-08T09:00", "--minutes", "90", now="2027-05-05T18:00")
    told = desk.did("journal", now="2028-02-29T18:00"), desk.did("journal", now="2028-03-01T18:00")
    assert [" Wed 5 May 18:00 " in text for text in told] == [True, False]
    assert [" Wed 5 May 2027 18:00 " in text for text in told] == [False, True]


def test_a_session_far_ahead_is_said_with_its_year(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    said = desk.did("session", "2029-05-05T09:00", "--minutes", "90", now="2027-05-05T18:00")
    assert "Sat 5 May 2029 09:00" in said


def test_where_in_the_freezer_it_lies_is_said_box_by_box() -> None:
    boxes = [("Dose 3", ["Q-1", "Q-2"]), ("Tray 1", ["Q-9"])]
    assert wording.from_boxes(boxes) == "from Dose 3: Q-1, Q-2; from Tray 1: Q-9"
    assert wording.from_boxes([]) == ""


def test_of_very_many_rows_the_first_ones_are_said_and_how_many_more() -> None:
    odd = [
        Problem("a.csv", row, "sex", "x", "is no sex", "Correct it") for row in range(3, 2001, 2)
    ]
    (one,) = by_kind_of_fault(odd)
    assert str(one) == (
        "a.csv, rows 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23, 25, 27, 29, 31, 33, 35, 37, 39, 41,"
        " 43, 45, 47, 49 and 975 more, sex: is no sex (read: 'x'). Correct it"
    )
    assert len(one.also) == 998
