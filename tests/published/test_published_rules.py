"""The rules' answers, compared with what is printed; README.md explains the column `inside`."""

from __future__ import annotations

import math
from typing import get_args

import pytest
from published_cases import Row, bounds, each, number, place

from scheduler.drying.fit import Fit, Size, fit, size_of, slot_mm
from scheduler.drying.law import AskedOfTable, assumed_air, time_in_air
from scheduler.rulebook import BoardTime, Relaxing, load_rulebook
from scheduler.words.records import Board, Regime, Room, Specimen, State

RULES = load_rulebook()

PIN_SIZES = ("minuten", "000", "00", "0", "1", "2", "3", "4", "5", "6", "7")


def state_of(row: Row) -> State:
    return next(state for state in get_args(State) if state == row["state"])


def days_for(row: Row) -> BoardTime:
    regime: Regime = next(regime for regime in get_args(Regime) if regime == row["regime"])
    asked = AskedOfTable(row["family"], float(row["body_mm"]), state_of(row))
    air = assumed_air(Room("any", regime, number(row["rh_pct"])), RULES)
    return time_in_air(RULES, asked, air)


def place_of_days(row: Row, answer: BoardTime) -> str:
    """Say where the table's days lie; no days lie above all that is printed."""
    low = math.inf if answer.min_days is None else answer.min_days
    high = math.inf if answer.plan_days is None else answer.plan_days
    return place(row, low, low if row["bound"] == "least" else high)


@pytest.mark.parametrize("row", each("board_time", "body_mm", "rh_pct"))
def test_days_on_the_board(row: Row) -> None:
    answer = days_for(row)
    if row["bound"] == "never":
        assert (answer.min_days, answer.plan_days) == (None, None)
    else:
        found = place_of_days(row, answer)
        assert found == row["verdict"], f"{answer.min_days}-{answer.plan_days} days"


def softening(row: Row, frozen_days: int | None) -> Relaxing:
    return RULES.relaxing(
        state=state_of(row),
        frozen_days=frozen_days,
        body_mm=float(row["body_mm"]),
        temp_c=float(row["temp_c"]),
    )


def freezer_days(row: Row) -> float:
    """Days in the freezer from which on another row answers than for the fresh from it."""
    first = softening(row, 0).rule_ids
    changed = (days for days in range(1000) if softening(row, days).rule_ids != first)
    return next(changed, math.inf)


def softening_figure(row: Row) -> float:
    answer = softening(row, None)
    figures = {
        "first_look_hours": answer.first_look_hours,
        "most_hours": answer.most_hours,
        "freezer_days": freezer_days(row) if row["state"] == "frozen" else math.nan,
    }
    return figures[row["figure"]]


@pytest.mark.parametrize("row", each("relaxing", "state", "body_mm", "temp_c"))
def test_hours_of_softening(row: Row) -> None:
    figure = softening_figure(row)
    assert place(row, figure, figure) == row["verdict"], f"{row['figure']}: {figure:g}"


def on_groove(body_mm: float, groove_mm: float) -> Fit:
    size = Size(body_mm, 40, 20, "", None)
    return fit(size, 30, Board("any", groove_mm, 150, 380), RULES)


@pytest.mark.parametrize("row", each("grooves", "body_mm"))
def test_width_of_the_groove(row: Row) -> None:
    body = float(row["body_mm"])
    lower, upper = bounds(row)
    if row["bound"] == "unpacked":
        tenths = range(math.ceil(round(lower * 10, 6)), math.floor(round(upper * 10, 6)) + 1)
        found = [on_groove(body, tenth / 10) for tenth in tenths]
        assert any(answer.fits and not answer.pack for answer in found)
    elif row["bound"] == "taken":
        assert on_groove(body, upper).fits
    elif row["bound"] == "packed":
        answer = on_groove(body, lower)
        assert answer.fits
        assert answer.pack
    elif row["bound"] == "too narrow":
        assert not on_groove(body, upper).fits
    else:
        assert row["bound"] == "wider"
        assert not on_groove(body, body).fits


@pytest.mark.parametrize("row", each("boards", "family", "wingspan_mm"))
def test_size_of_the_board(row: Row) -> None:
    family = RULES.family(row["family"])
    span = number(row["wingspan_mm"]) or family.typical_wingspan_mm
    size = size_of(Specimen("any", row["family"], wingspan_mm=span), RULES)
    assert size is not None
    assert family.family == row["family"]
    slot, board = slot_mm(size, family, RULES), _wide_groove(row)
    answer = fit(size, slot, board, RULES)
    if row["verdict"] == "too wide":
        assert not answer.fits
        assert answer.reason.startswith("wingspan")
    else:
        assert row["verdict"] == "fits"
        assert answer.fits, answer.reason
        assert board.length_mm // slot >= (number(row["at_least_per_board"]) or 1)


def _wide_groove(row: Row) -> Board:
    """Return the printed board with a groove for any body: here only its size matters."""
    return Board("any", 30, float(row["span_mm"]), int(row["length_mm"]))


@pytest.mark.parametrize("row", each("bodies"))
def test_width_of_the_body(row: Row) -> None:
    size = size_of(Specimen("any", row["family"], forewing_mm=number(row["forewing_mm"])), RULES)
    assert size is not None
    assert place(row, *size.widths) == row["verdict"], size.estimated


def pin_place(row: Row, pin: str) -> str:
    lower, upper = (PIN_SIZES.index(row[column]) for column in ("lower", "upper"))
    return place(row | {"lower": str(lower), "upper": str(upper)}, *[PIN_SIZES.index(pin)] * 2)


@pytest.mark.parametrize("row", each("pins", "body_mm"))
def test_size_of_the_pin(row: Row) -> None:
    pin = RULES.pin(float(row["body_mm"])).pin
    assert pin_place(row, pin) == "inside", pin


@pytest.mark.parametrize("row", each("limits"))
def test_single_numbers(row: Row) -> None:
    days = {RULES.recheck_days(body) for body in (1, 4.5, 8, 16)}
    found = days if row["limit"] == "recheck_days" else {RULES.limit(row["limit"])}
    assert all(place(row, value, value) == "inside" for value in found), found
