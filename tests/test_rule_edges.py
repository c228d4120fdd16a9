"""What the rules answer exactly on an edge: ranges include their lower end, not their upper."""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.drying.law import AskedOfTable, SteadyAir, assumed_air, instead, time_in_air
from scheduler.rulebook import Rulebook, load_rulebook
from scheduler.rulebook.answers import Reckoning, along, shown, straddle
from scheduler.words.records import Regime, Room, State

RULES = load_rulebook()


def days(
    body_mm: float,
    rh_pct: float | None = 50,
    *,
    family: str = "any",
    regime: Regime = "room",
    state: State = "fresh",
    rules: Rulebook = RULES,
) -> Any:
    air = assumed_air(Room("any", regime, rh_pct), rules)
    return time_in_air(rules, AskedOfTable(family, body_mm, state), air)


def with_limit(name: str, value: float) -> Rulebook:
    limits = tuple(
        row._replace(value=value) if row.name == name else row for row in RULES.tables.limits
    )
    return Rulebook(RULES.tables._replace(limits=limits))


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.5, (0, 0, 0.0)),
        (1, (0, 0, 0.0)),
        (2, (0, 1, 0.5)),
        (3, (1, 1, 0.0)),
        (4, (1, 2, 0.5)),
        (5, (2, 2, 0.0)),
        (9, (2, 2, 0.0)),
    ],
)
def test_on_an_anchor_and_outside_there_is_only_one(
    value: float, expected: tuple[int, int, float]
) -> None:
    assert straddle((1.0, 3.0, 5.0), value) == expected


@pytest.mark.parametrize(("body_mm", "day"), [(1, 7), (1.5, 7), (16, 28), (20, 28)])
def test_outside_the_anchors_the_nearest_holds(body_mm: float, day: int) -> None:
    assert days(body_mm).min_days_exact == day


def test_only_beyond_the_last_anchor_is_it_said() -> None:
    assert "count as 16 mm wide" not in days(16).note
    assert "count as 16 mm wide" in days(16.1).note


def test_the_ends_of_a_straight_line() -> None:
    assert [along(7, 14, share) for share in (0.0, 0.5, 1.0)] == [7, 10.5, 14]


def test_whole_days_are_not_rounded_up_by_what_floating_point_adds() -> None:
    assert [shown(d) for d in (14, 14 + 1e-12, 14.001, 13.999)] == [14, 14, 15, 14]


def test_exactly_the_longest_is_still_a_time_and_a_hair_more_is_none() -> None:
    needed = days(4.5, 75).min_days_exact
    assert needed is not None
    at_most = days(4.5, 75, rules=with_limit("longest_days", needed))
    assert at_most.min_days_exact == needed
    assert "limit-longest" not in at_most.rule_ids
    none = days(4.5, 75, rules=with_limit("longest_days", needed - 1e-6))
    assert none.min_days is None
    assert "limit-longest" in none.rule_ids


def test_a_floor_that_is_just_reached_changes_nothing_and_is_not_named() -> None:
    # Hawkmoths 14 and 21, a body of 8 mm 14 and 21.
    answer = days(8, family="Sphingidae")
    assert (answer.min_days, answer.plan_days) == (14, 21)
    assert answer.rule_ids == ("fresh-room-8",)
    assert "family-sphingidae" in days(7.9, family="Sphingidae").rule_ids


@pytest.mark.parametrize(
    ("low", "high", "lifted"),
    [(14, 21, False), (14.5, 21, True), (14, 21.5, True), (13, 20, False)],
)
def test_a_floor_lifts_what_is_below_it(low: float, high: float, lifted: bool) -> None:
    rule = RULES.families[0].rule
    reckoning = Reckoning(14, 21, [])
    assert reckoning.raise_to(low, high, rule) is lifted
    assert (reckoning.min_days, reckoning.plan_days) == (max(14, low), max(21, high))
    assert reckoning.rules == ([rule] if lifted else [])


def test_a_very_stout_body_is_emptied_from_its_first_mm_on() -> None:
    stout = RULES.limit("body_stout_mm")
    assert "open and empty the body" in days(stout, 90).note
    assert "open and empty the body" not in days(stout - 0.1, 90).note


@pytest.mark.parametrize(
    ("body_mm", "frozen_days", "rule"),
    [
        (5.99, None, "relax-fresh"),
        (6, None, "relax-fresh-large"),
    ],
)
def test_the_first_mm_of_a_larger_body_softens_as_one(
    body_mm: float, frozen_days: int | None, rule: str
) -> None:
    found = RULES.relaxing(
        state="fresh", frozen_days=frozen_days, body_mm=body_mm, temp_c=None
    ).rule_ids
    assert found == (rule,)


@pytest.mark.parametrize(
    ("frozen_days", "rule"),
    [
        (0, "relax-frozen"),
        (59, "relax-frozen"),
        (60, "relax-frozen-long"),
        (None, "relax-frozen-long"),
    ],
)
def test_the_sixtieth_day_in_the_freezer_is_long(frozen_days: int | None, rule: str) -> None:
    found = RULES.relaxing(state="frozen", frozen_days=frozen_days, body_mm=4, temp_c=None)
    assert found.rule_ids == (rule,)


def test_a_chamber_at_exactly_its_limit_is_not_warm() -> None:
    limit = RULES.limit("chamber_warm_c")
    at = RULES.relaxing(state="fresh", frozen_days=None, body_mm=4, temp_c=limit)
    above = RULES.relaxing(state="fresh", frozen_days=None, body_mm=4, temp_c=limit + 0.1)
    assert (at.most_hours, at.rule_ids) == (72, ("relax-fresh",))
    assert (above.most_hours, len(above.rule_ids)) == (54, 2)


def test_a_warm_limit_that_equals_the_usual_one_is_not_named() -> None:
    equal = with_limit("chamber_warm_most_hours", 72)
    found = equal.relaxing(state="fresh", frozen_days=None, body_mm=4, temp_c=30)
    assert (found.most_hours, found.rule_ids) == (72, ("relax-fresh",))


@pytest.mark.parametrize(
    ("body_mm", "pin"),
    [(1.49, "minuten"), (1.5, "0"), (3, "2"), (5, "3"), (8, "5"), (12, "7")],
)
def test_a_range_holds_its_lower_end(body_mm: float, pin: str) -> None:
    assert RULES.pin(body_mm).pin == pin


@pytest.mark.parametrize(("body_mm", "minutes"), [(5.9, 15), (6, 20), (10, 25)])
def test_the_bench_takes_longer_from_the_first_mm(body_mm: float, minutes: int) -> None:
    assert RULES.minutes(body_mm) == minutes


def test_what_was_dried_gets_its_least_days_and_names_them_only_when_they_lift() -> None:
    assert days(1.5, state="dried").rule_ids == ("dried-room-1.5",)
    dry = days(1.5, 0, state="dried")
    assert dry.min_days == 2
    assert "limit-least-days-dried" in dry.rule_ids


@pytest.mark.parametrize("body_mm", [0, -1, float("inf"), float("nan")])
def test_no_body_at_all_is_refused(body_mm: float) -> None:
    with pytest.raises(ValueError, match="it must be above 0"):
        days(body_mm)


def test_a_cabinet_is_warned_of_from_its_cool_end_on() -> None:
    warm = RULES.limit("warm_from_c")
    asked = AskedOfTable("any", 5, "fresh")
    notes = [time_in_air(RULES, asked, SteadyAir(40, c)).note for c in (warm, warm - 0.1)]
    assert ["start a fire" in note for note in notes] == [True, False]


def test_as_many_days_as_the_longest_are_still_days() -> None:
    exact = days(5).min_days_exact
    assert days(5, rules=with_limit("longest_days", exact)).min_days == shown(exact)
    assert days(5, rules=with_limit("longest_days", exact - 0.01)).min_days is None


def test_the_very_stout_are_opened_from_their_limit_on() -> None:
    stout = RULES.limit("body_stout_mm")
    said = [instead(RULES, body, SteadyAir(80)) for body in (stout, stout - 0.1)]
    assert ["open and empty the body" in text for text in said] == [True, False]
