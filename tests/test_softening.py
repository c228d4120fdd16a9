"""What needs the chamber, when it is soft, and until when it can still be mounted."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from scheduler.drying.bags import Bag
from scheduler.drying.softening import Softening
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import load_rulebook
from scheduler.view import View
from scheduler.words.records import ChamberStay, Keeping, Place, Room, Settings, Specimen

RULES = load_rulebook()
NOW = datetime(2027, 5, 6, 8, 0, tzinfo=UTC)
FROZEN_IN_AUGUST = Specimen("M-1", state="frozen", frozen_on=date(2026, 8, 1), body_mm=5.0)
FROZEN_LAST_WEEK = Specimen("M-1", state="frozen", frozen_on=date(2027, 4, 29), body_mm=5.0)
FRESH = Specimen("M-1", state="fresh", available=date(2027, 5, 5), body_mm=5.0)


def soften(
    specimen: Specimen,
    *,
    chamber: tuple[ChamberStay, ...] = (),
    place: Place | None = None,
    since: datetime = NOW,
    temp_c: float = 20.0,
) -> Softening:
    keeping = () if place is None else (Keeping(specimen.specimen, place, since),)
    snap = Snapshot(
        settings=Settings("UTC"),
        rooms={"study": Room("study", "room", 50.0, temp_c)},
        chamber=chamber,
        keeping=keeping,
    )
    assert specimen.body_mm is not None
    return View(snap, RULES, NOW).waits(specimen).softening


def test_months_in_the_freezer_ask_for_a_day_in_the_chamber() -> None:
    # Common practice, no source: some months frozen, first look at about 24 hours.
    found = soften(FROZEN_IN_AUGUST)
    assert (found.chamber, found.first_look_hours) == (True, 24)
    assert found.rule.basis == "common practice"
    assert found.soft_at(NOW) == NOW + timedelta(hours=24)


def test_what_is_frozen_or_dried_keeps() -> None:
    assert soften(FROZEN_IN_AUGUST).clock is None
    assert soften(Specimen("K-1", state="dried", body_mm=3.0)).clock is None


def test_a_fresh_one_without_a_date_gets_a_clock_from_the_rules_and_says_so() -> None:
    # Schauff (ed.), Collecting and Preserving Insects and Mites, p. 29: about 3 days at 18-24 C.
    clock = soften(FRESH).clock
    assert clock is not None
    assert clock.lost_at == datetime(2027, 5, 8, 0, 0, tzinfo=UTC)
    assert "limit-fresh-keeps" in clock.why
    assert clock.basis == "scaled"


def test_a_date_that_somebody_gave_holds_against_the_rules() -> None:
    given = Specimen(
        "M-1",
        state="fresh",
        available=date(2027, 5, 5),
        spoils_by=date(2027, 5, 12),
        body_mm=5.0,
    )
    clock = soften(given).clock
    assert clock is not None
    assert clock.lost_at.date() == date(2027, 5, 12)
    assert clock.basis is None


def test_the_chamber_has_a_latest_moment_and_a_warm_one_an_earlier() -> None:
    # S1 p. 29: about 3 days at 18-24 C; shorter when it is warmer (scaled).
    inside = (ChamberStay("M-1", NOW - timedelta(hours=10)),)
    mild, warm = (soften(FROZEN_IN_AUGUST, chamber=inside, temp_c=t) for t in (20.0, 28.0))
    assert mild.clock is not None
    assert warm.clock is not None
    assert mild.clock.lost_at == NOW + timedelta(hours=62)
    assert warm.clock.lost_at < mild.clock.lost_at
    assert mild.soft_at(NOW) == NOW + timedelta(hours=14)


@pytest.mark.parametrize(
    ("specimen", "limp"), [(FROZEN_LAST_WEEK, True), (FROZEN_IN_AUGUST, False)]
)
def test_thawed_after_a_week_it_is_limp_after_months_it_is_brittle(
    specimen: Specimen, limp: bool
) -> None:
    # Limp on thawing: Wilkinson, Entomologist's Record, p. 273; brittle: common practice.
    found = soften(specimen, place="thawed")
    assert found.chamber is not limp
    assert (found.soft_at(NOW) == NOW) is limp


def test_a_thawed_one_has_three_days() -> None:
    clock = soften(FROZEN_LAST_WEEK, place="thawed").clock
    assert clock is not None
    assert clock.lost_at == NOW + timedelta(hours=72)


def test_softened_and_put_into_the_fridge_it_needs_no_chamber_for_two_weeks() -> None:
    # S1 p. 29: in a refrigerator up to two weeks.
    stay = ChamberStay("M-1", NOW - timedelta(hours=30), NOW)
    found = soften(FROZEN_IN_AUGUST, chamber=(stay,), place="fridge")
    assert not found.chamber
    assert found.clock is not None
    assert found.clock.lost_at == NOW + timedelta(days=14)


def test_taken_out_too_soon_it_is_not_soft() -> None:
    stay = ChamberStay("M-1", NOW - timedelta(hours=5), NOW)
    assert soften(FROZEN_IN_AUGUST, chamber=(stay,), place="fridge").chamber


def test_back_in_the_freezer_it_keeps() -> None:
    assert soften(FRESH, place="freezer").clock is None


@pytest.mark.parametrize(("body_mm", "hours"), [(2.0, 24), (6.0, 72)])
def test_fresh_ones_keep_a_day_or_three_in_the_fridge(body_mm: float, hours: int) -> None:
    # S1 p. 25: in a tight bottle small ones overnight, medium and large ones several days.
    fresh = Specimen("M-1", state="fresh", available=date(2027, 5, 5), body_mm=body_mm)
    clock = soften(fresh, place="fridge").clock
    assert clock is not None
    assert clock.lost_at == NOW + timedelta(hours=hours)


def test_on_an_edge_of_softening_the_longer_time_counts() -> None:
    days = int(RULES.limit("limp_after_frozen_days"))
    for number, limp in ((days - 1, True), (days, False)):
        frozen = Specimen(
            "M-1", state="frozen", frozen_on=NOW.date() - timedelta(days=number), body_mm=5.0
        )
        assert soften(frozen, place="thawed").chamber is not limp
    first_look = soften(FROZEN_IN_AUGUST).rule.first_look_hours
    for hours, soft in ((first_look - 0.1, False), (first_look, True)):
        stay = ChamberStay("M-1", NOW - timedelta(hours=hours), NOW)
        assert soften(FROZEN_IN_AUGUST, chamber=(stay,), place="fridge").chamber is not soft


def test_a_body_at_the_end_of_the_slender_ones_keeps_as_the_larger_do() -> None:
    slender = RULES.limit("body_slender_mm")
    fresh = Specimen("M-1", state="fresh", available=date(2027, 5, 5), body_mm=slender)
    clock = soften(fresh, place="fridge").clock
    assert clock is not None
    assert clock.lost_at == NOW + timedelta(hours=72)


def test_a_bag_is_open_at_the_moment_at_which_it_may_be_opened() -> None:
    bag = Bag(("M-1",), NOW - timedelta(days=5), NOW)
    assert (bag.shut(NOW - timedelta(seconds=1)), bag.shut(NOW)) == (True, False)
