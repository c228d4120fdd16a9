"""The small chart for a terminal: air and progress, in shapes and words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from air_cases import logged
from bench_cases import Desk, local, on_board, one_board
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.faces.chart import AIR_ROWS, DRY_ROWS, PLAIN, chart
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Room, Specimen

MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
MAY = date(2027, 5, 8)


def drawn(snap: Snapshot, moment: str) -> list[str]:
    return chart(on_board(snap), local(moment))


def columns(lines: Sequence[str], rows: slice) -> list[str]:
    """The bars below each other, read upwards, column by column."""
    cells = [line[7:] for line in lines if line[6:7] == "│"][rows]
    wide = max(map(len, cells))
    return ["".join(col) for col in zip(*(c.ljust(wide) for c in reversed(cells)), strict=True)]


AIR, DRY = slice(0, AIR_ROWS), slice(AIR_ROWS, AIR_ROWS + DRY_ROWS)


def test_damp_days_stand_higher_and_what_is_to_come_is_dotted() -> None:
    days = [50.0] * 5 + [70.0] * 5
    lines = drawn(logged(one_board(MOTH), "study", MAY, days), "2027-05-17T12:00")
    air = columns(lines, AIR)
    heights = [sum(cell in "▁▂▃▄▅▆▇█" for cell in column) for column in air]
    dry_day, damp_day, ahead = heights[0], heights[-1 - heights[::-1].index(max(heights))], air[-1]
    assert damp_day > dry_day
    assert "·" in ahead
    assert "█" not in ahead


def test_progress_never_falls() -> None:
    days = [50.0] * 5 + [85.0] * 5
    lines = drawn(logged(one_board(MOTH), "study", MAY, days), "2027-05-18T00:00")
    solid = [c.count("█") for c in columns(lines, DRY) if "·" not in c]
    assert solid == sorted(solid)
    assert solid[-1] > 0


def test_the_marks_stand_below_today_and_due() -> None:
    lines = drawn(logged(one_board(MOTH), "study", MAY, [50.0] * 14), "2027-05-15T12:00")
    (marks,) = [line for line in lines if set(line) <= set(" ▲△") and line.strip()]
    # From 8 to 22 May: three columns a day.
    assert (marks.index("▲") - 7, marks.index("△") - 7) == (3 * 7, 3 * 14)
    text = " ".join(" ".join(lines).split())
    assert "▲ today, 15 May; △ due 22 May." in text


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.floats(5, 100), max_size=40), st.integers(0, 500), st.floats(1, 15), st.booleans()
)
def test_it_fits_a_terminal_whatever_the_air(
    days: list[float], after: int, body_mm: float, known: bool
) -> None:
    snap = one_board(
        MOTH._replace(body_mm=body_mm), rooms=[Room("study", "room", 55.0 if known else None)]
    )
    snap = logged(snap, "study", MAY, days) if days else snap
    at = local("2027-05-08T12:00") + timedelta(days=after)
    lines = chart(on_board(snap), at)
    assert bool(lines) == (known or bool(days))
    assert max(map(len, lines), default=0) <= 80
    assert len(lines) <= 20


def test_its_line_is_where_nothing_comes_off_any_more() -> None:
    # limits.csv, limit-take-off-rh.
    lines = drawn(
        logged(one_board(MOTH), "study", MAY, [70.0] * 5 + [90.0] * 5), "2027-05-17T12:00"
    )
    assert "above the line at 75 % nothing comes off" in " ".join(" ".join(lines).split())
    (row,) = [line for line in lines[1 : 1 + AIR_ROWS] if "---" in line]
    # The line stands free above the days at 70 %, and is hidden by those at 90 %.
    assert row[7:10] == "---"
    assert "█" in row


def test_a_board_that_nobody_put_in_a_room_has_no_chart() -> None:
    assert drawn(replace(one_board(MOTH), stays=()), "2027-05-20T12:00") == []


def test_a_terminal_without_block_characters_gets_the_same_chart_coarser() -> None:
    lines = drawn(logged(one_board(MOTH), "study", MAY, [50.0] * 14), "2027-05-15T12:00")
    plain = [line.translate(PLAIN) for line in lines]
    assert "".join(plain).isascii()
    assert [len(line) for line in plain] == [len(line) for line in lines]


# --- at the console -----------------------------------------------------------------------


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    from damp_fortnight import FOLDER

    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FOLDER, now="2027-07-10T09:00")
    return desk


def asked(desk: Desk, *words: str) -> str:
    return desk("ready", *words, now="2027-07-10T09:00").out


def test_in_a_pipe_it_is_drawn_when_asked_for(desk: Desk) -> None:
    assert "how dry" not in asked(desk, "D1")
    assert "how dry D-01 is" in " ".join(asked(desk, "D1", "--chart").split())
    assert "how dry D-02 is" in " ".join(asked(desk, "D-02", "--chart").split())


def test_of_several_boards_each_has_its_own(desk: Desk) -> None:
    assert " ".join(asked(desk, "--chart").split()).count("how dry D-") == 2


def test_an_empty_board_has_none(desk: Desk) -> None:
    assert asked(desk, "D3", "--chart") == "D3: EMPTY, nothing stands on it.\n"
