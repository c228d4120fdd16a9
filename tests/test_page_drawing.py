"""The drawings of the bench page, read back as XML: to scale, in words, and escaped."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from itertools import pairwise
from typing import get_args
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.drying.answer import Answer
from scheduler.page.bench.chart import AirPoint, room_chart
from scheduler.page.bench.drawing import END_MM, STICK_MM, TOP_MM, Standing, board_drawing
from scheduler.page.bench.symbols import PAPERS, papers, sign
from scheduler.page.bench.weeks import Bar, bar_said, span_of, weeks_head, weeks_row
from scheduler.words.records import Board

B10 = Board("B10", groove_mm=9.0, span_mm=130.0, length_mm=380)
TODAY = date(2027, 5, 8)
NOON = datetime.combine(TODAY, time(12))


def standing(**other: object) -> Standing:
    usual: dict[str, object] = {
        "number": 1, "specimen": "M-06", "from_mm": 0, "to_mm": 47, "body_mm": 7.8,
        "wingspan_mm": 70.0, "answer": "test it now", "progress_pct": 194,
    }  # fmt: skip
    return Standing(**(usual | other))  # type: ignore[arg-type]


def read(drawn: object) -> ElementTree.Element:
    return ElementTree.fromstring(str(drawn))


def of(drawn: ElementTree.Element, kind: str) -> list[ElementTree.Element]:
    return [e for e in drawn.iter() if kind in e.get("class", "").split()]


def mm(element: ElementTree.Element, *names: str) -> tuple[float, ...]:
    return tuple(float(element.get(name, "nan")) for name in names)


# --- a board ------------------------------------------------------------------------------


def test_groove_and_span_are_to_scale() -> None:
    drawn = read(board_drawing(B10, [], 400))
    assert mm(of(drawn, "groove")[0], "width", "height") == (380, 9)
    assert mm(of(drawn, "wood")[0], "height") == (130,)
    (wood,) = of(drawn, "wood")
    (groove,) = of(drawn, "groove")
    assert mm(groove, "y")[0] + 4.5 == mm(wood, "y")[0] + 65


def test_boards_on_one_page_share_a_scale() -> None:
    widths = {
        read(board_drawing(board, [], 400)).get("viewBox", "").split()[2]
        for board in (B10, Board("B1", 2.0, 60.0, 300), Board("B9", 12.0, 170.0, 400))
    }
    assert len(widths) == 1


@given(
    begin=st.integers(0, 340),
    length=st.integers(1, 40),
    body=st.floats(0.5, 16),
    span=st.floats(0, 200),
    pct=st.none() | st.integers(0, 400),
    answer=st.sampled_from([a for a in get_args(Answer) if a != "empty"]),
)
def test_nobody_is_drawn_outside_the_own_slot(
    begin: int, length: int, body: float, span: float, pct: int | None, answer: Answer
) -> None:
    s = standing(
        from_mm=begin, to_mm=begin + length, body_mm=body, wingspan_mm=span, progress_pct=pct,
        answer=answer,
    )  # fmt: skip
    drawn = read(board_drawing(B10, [s], 400))
    left, right = END_MM + begin, END_MM + begin + length
    for box in [e for kind in ("paper", "flag", "stick") for e in of(drawn, kind)]:
        if box.get("r"):
            x, y, radius = mm(box, "cx", "cy", "r")
            sides = x - radius, x + radius, y - radius, y + radius
        else:
            x, y, width, height = mm(box, "x", "y", "width", "height")
            sides = x, x + width, y, y + height
        assert left - 0.01 <= sides[0] < sides[1]
        assert sides[1] <= right + 0.01
        assert sides[2] >= TOP_MM
        assert sides[3] <= TOP_MM + B10.span_mm + 0.01
    for path in of(drawn, "wings")[0]:
        half = float(path.get("transform", "").rsplit(" ", 1)[1].rstrip(")"))
        assert abs(half) <= B10.span_mm / 2


@pytest.mark.parametrize(("pct", "share"), [(0, 0), (50, 0.5), (100, 1), (194, 1)])
def test_the_stick_fills_until_the_minimum_time(pct: int, share: float) -> None:
    drawn = read(board_drawing(B10, [standing(progress_pct=pct)], 400))
    (whole,) = mm(of(drawn, "stick")[0], "width")
    assert mm(of(drawn, "stick-full")[0], "width") == (whole * share,)
    assert mm(of(drawn, "stick")[0], "y") == (TOP_MM + 130 - STICK_MM,)


def test_no_stick_when_nobody_can_say_how_dry() -> None:
    drawn = read(board_drawing(B10, [standing(progress_pct=None, answer="cannot say")], 400))
    assert of(drawn, "stick") == []


def test_each_answer_has_a_paper_and_a_sign_of_its_own() -> None:
    assert len({str(sign(a)) for a in get_args(Answer)}) == len(get_args(Answer))
    assert len(set(PAPERS.values())) == len(PAPERS)
    known = {e.get("id") for e in read(papers()).iter("pattern")}
    assert known == set(PAPERS.values())
    for answer, paper in PAPERS.items():
        assert f"url(#{paper})" in board_drawing(B10, [standing(answer=answer)], 400)


def test_a_drawing_says_in_words_who_stands_where() -> None:
    two = [standing(), standing(number=2, specimen="M-09", from_mm=47, to_mm=110)]
    label = read(board_drawing(B10, two, 400)).get("aria-label")
    assert label == "B10 drawn to scale, 380 mm of groove: M-06 at 0-47 mm and M-09 at 47-110 mm"
    assert read(board_drawing(B10, [], 400)).get("aria-label", "").endswith(", empty")


def test_a_name_longer_than_its_slot_gives_way_to_its_number() -> None:
    drawn = read(board_drawing(B10, [standing(specimen="SALTMERE-2027-0001")], 400))
    texts = [t.text for kind in ("narrow", "wide") for g in of(drawn, kind) for t in g if t.text]
    assert texts == ["1", "1"]


def test_a_board_out_of_use_is_drawn_otherwise() -> None:
    drawn = read(board_drawing(Board("B1", 2.0, 60.0, 300, out=True), [], 400))
    assert of(drawn, "out")


NASTY = "\"><script>alert(1)</script>&'"


def test_text_is_escaped_in_every_drawing() -> None:
    board = Board(NASTY, 9.0, 130.0, 3800)
    s = standing(specimen=NASTY, to_mm=3000)
    drawings = [
        board_drawing(board, [s], 400),
        weeks_row(NASTY, [Bar((NASTY,), TODAY, TODAY, TODAY)], span_of([], TODAY), TODAY),
        room_chart(
            NASTY, [AirPoint(NOON, 50, 50)], [], NOON, NOON + timedelta(days=1), {NASTY: 65}
        ),
    ]
    for drawn in drawings:
        assert "<script" not in str(drawn)
        whole = read(drawn)
        assert NASTY in "".join([whole.get("aria-label", ""), *whole.itertext()])


# --- the weeks ----------------------------------------------------------------------------


def test_weeks_begin_on_mondays_and_hold_today() -> None:
    span = span_of([Bar(("M-06",), date(2027, 4, 10), date(2027, 4, 25), date(2027, 5, 2))], TODAY)
    assert all(day.weekday() == 0 for day in span.mondays())
    assert span.begin <= date(2027, 4, 10)
    assert span.begin < TODAY < span.end


def test_what_stood_for_a_year_does_not_squeeze_the_weeks() -> None:
    span = span_of([Bar(("M-06",), date(2026, 5, 1), None, None)], TODAY)
    assert span.end - span.begin <= timedelta(weeks=16)
    row = read(weeks_row("B1", [Bar(("M-06",), date(2026, 5, 1), None, None)], span, TODAY))
    assert [e.get("x") for e in of(row, "bar")] == ["0%"]


def test_a_bar_goes_from_mounting_to_due_to_clear() -> None:
    bar = Bar(("M-06",), span_of([], TODAY).begin, TODAY, TODAY + timedelta(days=7))
    span = span_of([bar], TODAY)
    damp, test = of(read(weeks_row("B10", [bar], span, TODAY)), "bar")
    assert damp.get("fill") == "url(#paper-damp)"
    assert test.get("fill") == "url(#paper-plain)"
    share = 100 * 7 / (span.end - span.begin).days
    assert float(test.get("width", "").rstrip("%")) == pytest.approx(share, abs=0.01)


def test_bars_share_a_lane_only_one_after_the_other() -> None:
    day = timedelta(days=1)
    first = Bar(("M-01",), TODAY - 20 * day, TODAY - 8 * day, TODAY - 6 * day)
    after = Bar(("M-02",), TODAY, TODAY + 8 * day, TODAY + 14 * day, planned=True)
    beside = Bar(("M-03",), TODAY - 10 * day, TODAY - 1 * day, TODAY + 3 * day)
    span = span_of([first, after, beside], TODAY)

    def height(*bars: Bar) -> int:
        return int(read(weeks_row("B10", bars, span, TODAY)).get("height", ""))

    assert height(first, after) == height(first)
    assert height(first, beside) == height(first, beside, after) == 2 * height(first)


def test_no_date_is_dotted_and_runs_on() -> None:
    span = span_of([], TODAY)
    bar = Bar(("M-06",), TODAY, None, None)
    (drawn,) = of(read(weeks_row("B10", [bar], span, TODAY)), "bar")
    assert drawn.get("fill") == "url(#paper-dots)"
    end = float(drawn.get("x", "").rstrip("%")) + float(drawn.get("width", "").rstrip("%"))
    assert end == pytest.approx(100, abs=0.02)
    assert bar_said(bar, TODAY) == "M-06 mounted 8 May, no date yet in this air"


def test_what_is_planned_is_dashed() -> None:
    bar = Bar(("M-06",), TODAY, TODAY, TODAY + timedelta(days=3), planned=True)
    assert of(read(weeks_row("B10", [bar], span_of([bar], TODAY), TODAY)), "planned")


def test_dates_of_weeks_keep_apart_on_a_phone() -> None:
    span = span_of([Bar(("M-06",), TODAY, TODAY + timedelta(weeks=9), None)], TODAY)
    shown = [e for e in of(read(weeks_head(span, TODAY)), "narrow") if e.tag == "text"]
    at = [float(e.get("x", "").rstrip("%")) for e in shown]
    assert min(b - a for a, b in pairwise(at)) * 230 / 100 >= 44


# --- the air ------------------------------------------------------------------------------


def test_no_chart_without_measured_air() -> None:
    assert room_chart("study", [], [], NOON, NOON + timedelta(days=14), {}) is None
    long_ago = [AirPoint(NOON - timedelta(days=40), 50, 50)]
    assert room_chart("study", long_ago, [], NOON, NOON + timedelta(days=14), {}) is None


def test_a_gap_is_not_bridged() -> None:
    hours = [AirPoint(NOON + timedelta(hours=h), 50, 50) for h in (0, 1, 2, 30, 31)]
    drawn = read(room_chart("study", hours, [], NOON, NOON + timedelta(days=2), {}))
    (line,) = of(drawn, "air")
    assert line.get("d", "").count("M") == 2
    assert line.get("d", "").count("L") == 3


def test_cold_air_gets_the_line_that_counts() -> None:
    hours = [AirPoint(NOON + timedelta(hours=h), 50, 66) for h in range(5)]
    drawn = f"<div>{room_chart('study', hours, [], NOON, NOON + timedelta(days=1), {})}</div>"
    assert len(of(read(drawn), "air")) == 2
    assert "the humidity that counts" in drawn


def test_a_chart_says_in_words_what_it_shows() -> None:
    hours = [AirPoint(NOON + timedelta(hours=h), 50 + h, 50 + h) for h in range(5)]
    drawn = room_chart("study", hours, [], NOON, NOON + timedelta(days=1), {"take off below": 75})
    assert read(drawn).get("aria-label") == (
        "Measured humidity of study: 50 to 54 %, last 54 % on Sat 8 May 16:00"
    )
    assert "take off below 75 %" in "".join(read(drawn).itertext())
