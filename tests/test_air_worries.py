"""What the rooms' air does to the work, and what to do about it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from air_cases import Air, dialled, logged
from bench_cases import local, one_board, seen

from scheduler.looks.today import today
from scheduler.looks.worry import Worry, WorryKind
from scheduler.record.snapshot import Snapshot
from scheduler.words.records import Room, Specimen

MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
HAWKMOTH = Specimen("S-1", family="Sphingidae", body_mm=11.0, state="fresh")
RECORD = one_board(MOTH, HAWKMOTH, groove_mm=13.0)
MAY = date(2027, 5, 8)


def worries(snap: Snapshot, moment: str, kind: WorryKind) -> list[Worry]:
    return [w for w in today(seen(snap, local(moment))).worries if w.kind == kind]


def study(*days: float | Air, first: date = MAY, snap: Snapshot = RECORD) -> Snapshot:
    return logged(snap, "study", first, days)


# --- stalled ----------------------------------------------------------------------------------


def test_two_warm_days_of_wet_air_at_the_beginning_are_acted_upon_today() -> None:
    # Bodies rotted at 65-85 % before they dried: LEPS-L list post of 19 Jul 2001.
    (found,) = worries(study(*[(88.0, 22.0)] * 4), "2027-05-11T12:00", "stalled")
    assert found.names == ("S-1", "M-1")
    for words in ("next to nothing dried in 48 h", "88 %", "Act today", "warm cabinet"):
        assert words in found.text
    assert "open and empty the very stout (S-1)" in found.text
    assert found.command == "wingrest move B1 ROOM"


def test_a_body_that_stalled_is_not_told_twice() -> None:
    snap = study(*[(88.0, 22.0)] * 4)
    assert worries(snap, "2027-05-11T12:00", "stalled")
    assert not worries(snap, "2027-05-11T12:00", "no date")


NOT_STALLED = [
    pytest.param([(88.0, 22.0)] * 4, "2027-05-10T08:00", id="not yet 48 h on the board"),
    pytest.param([(70.0, 22.0)] * 2 + [(50.0, 22.0)] * 2, "2027-05-11T12:00", id="it dries"),
    pytest.param([(88.0, 12.0)] * 4, "2027-05-11T12:00", id="too cold to rot soon"),
    pytest.param([(50.0, 22.0)] * 9 + [(88.0, 22.0)] * 4, "2027-05-20T12:00", id="a third is over"),
]


@pytest.mark.parametrize(("days", "moment"), NOT_STALLED)
def test_what_is_not_stalled(days: list[Air], moment: str) -> None:
    assert not worries(study(*days), moment, "stalled")


def test_a_stout_body_stalls_where_a_slender_one_dries() -> None:
    # At 74 % a body of 4.5 mm dries at 0.27 of the pace, one of 11 mm at 0.07.
    (found,) = worries(study(*[(74.0, 20.0)] * 4), "2027-05-11T12:00", "stalled")
    assert found.names == ("S-1",)


def test_without_a_temperature_it_counts_as_warm() -> None:
    assert worries(study(*[(88.0, None)] * 4), "2027-05-11T12:00", "stalled")


def test_assumed_wet_air_is_said_as_having_no_date() -> None:
    snap = one_board(MOTH, rooms=[Room("cellar", "room", 90.0)])
    assert not worries(snap, "2027-05-11T12:00", "stalled")
    assert worries(snap, "2027-05-11T12:00", "no date")


# --- mould ------------------------------------------------------------------------------------


def test_a_week_above_the_mould_limit_is_watched() -> None:
    # Keep below 65 %: NPS, as in limits.csv.
    snap = study(*[70.0] * 8)
    (found,) = worries(snap, "2027-05-16T00:00", "mould watch")
    assert "70 % over 7 days, above 65 %" in found.text
    for words in ("for mould every day", "B1", "mask", "dry and move the air"):
        assert words in found.text
    assert not worries(snap, "2027-05-16T00:00", "room damp"), "said once"


def test_two_damp_days_in_a_dry_week_are_damp_and_not_watched() -> None:
    snap = study(*[50.0] * 6, *[70.0] * 3)
    assert not worries(snap, "2027-05-17T00:00", "mould watch")
    assert worries(snap, "2027-05-17T00:00", "room damp")


def test_a_week_of_which_little_was_read_is_not_judged() -> None:
    assert not worries(study(*[70.0] * 3), "2027-05-11T00:00", "mould watch")


def test_cold_air_is_no_mould_by_what_counts() -> None:
    assert not worries(study(*[(58.0, 12.0)] * 8), "2027-05-16T00:00", "mould watch")


def read(*humidities: float, every: int = 3) -> Snapshot:
    """A dial read every so many days from 8 May on, in a room said to have 50 %."""
    days = [date(2027, 5, 8 + every * n) for n in range(len(humidities))]
    return dialled(
        RECORD, "study", {f"{d}T19:00": rh for d, rh in zip(days, humidities, strict=True)}
    )


def test_a_dial_alone_says_that_mould_is_to_be_watched() -> None:
    (found,) = worries(read(74, 76, 75, 75, 77), "2027-05-21T08:00", "mould watch")
    assert "study, by its dial, had about" in found.text


@pytest.mark.parametrize("humidities", [(75,), (75, 50, 52, 50), (60, 62, 61, 63)])
def test_one_damp_reading_or_a_dry_week_is_no_mould(humidities: tuple[float, ...]) -> None:
    days = {1: "2027-05-09"}.get(len(humidities), "2027-05-18")
    assert not worries(read(*humidities), f"{days}T08:00", "mould watch")


# --- what was said of the room ------------------------------------------------------------------


def test_what_was_said_of_a_room_is_held_against_what_was_read() -> None:
    (found,) = worries(read(72, 71, 73, 72), "2027-05-18T08:00", "said otherwise")
    assert "read 4 times in 60 days with 72 % on average" in found.text
    assert "later than told" in found.text
    assert found.command == "wingrest amend study rh_pct=72"


@pytest.mark.parametrize("humidities", [(72, 71, 73), (55, 57, 52, 58), (40, 75, 38, 60)])
def test_few_readings_or_near_ones_contradict_nobody(humidities: tuple[float, ...]) -> None:
    assert not worries(read(*humidities), "2027-05-18T08:00", "said otherwise")


# --- too hot ----------------------------------------------------------------------------------

CABINET = one_board(MOTH, rooms=[Room("oven", "warm", None, 35.0)])


def test_a_cabinet_hotter_than_the_sources_allow() -> None:
    # Never over 40-45 C: lepiforum.de 2016; greasing, strips, foam: LEPS-L, 19 Jul 2001.
    snap = logged(CABINET, "oven", MAY, [[(20.0, 36.0)] * 12 + [(18.0, 44.0)] * 12])
    (found,) = worries(snap, "2027-05-09T09:00", "too hot")
    assert "44 °C (Sat 8 May 23:00), but it must stay below 40 °C" in found.text
    for words in ("grease", "strips and foam", "Turn it down", "B1"):
        assert words in found.text


def test_a_cabinet_as_it_should_be_and_one_that_was_too_hot_last_week() -> None:
    assert not worries(
        logged(CABINET, "oven", MAY, [(20.0, 39.0)] * 2), "2027-05-09T09:00", "too hot"
    )
    snap = logged(CABINET, "oven", MAY, [(20.0, 44.0)] + [(20.0, 36.0)] * 5)
    assert not worries(snap, "2027-05-13T09:00", "too hot")


def test_a_dial_tells_it_too() -> None:
    snap = dialled(CABINET, "oven", {"2027-05-09T08:00": (20.0, 43.0)})
    assert worries(snap, "2027-05-09T09:00", "too hot")


# --- swings, cold, silence --------------------------------------------------------------------


def test_wide_swings_curl_wings() -> None:
    # Big swings curl wings and swing them back: LEPS-L list post (b) of 21 Jul 2001.
    swinging = [[(45.0, 20.0)] * 12 + [(65.0, 20.0)] * 12] * 3
    (found,) = worries(logged(RECORD, "study", MAY, swinging), "2027-05-11T00:00", "wide swings")
    assert "swings from 45 to 65 % within a day" in found.text
    assert "Keep B1 away from window" in found.text


def test_the_days_own_swing_and_a_slow_change_are_no_worry() -> None:
    small = [[(50.0, 20.0)] * 12 + [(64.0, 20.0)] * 12] * 3
    assert not worries(logged(RECORD, "study", MAY, small), "2027-05-11T00:00", "wide swings")
    slow = [[(35.0 + 12 * d + h / 2, 20.0) for h in range(24)] for d in range(3)]
    assert not worries(logged(RECORD, "study", MAY, slow), "2027-05-11T00:00", "wide swings")


def test_a_room_too_cold_rather_than_damp_is_to_be_warmed() -> None:
    # The WMO-No. 8 formula: 58 % at 15 C counts as 69.4 %.
    (found,) = worries(study(*[(58.0, 15.0)] * 4), "2027-05-12T00:00", "too cold")
    assert "too cold rather than damp, 58 % at 15 °C, counts as 69.4 %" in found.text
    assert "towards 20 °C" in found.text


@pytest.mark.parametrize("air", [(58.0, 20.0), (75.0, 12.0), (45.0, 15.0)])
def test_warm_damp_or_dry_enough_is_not_too_cold(air: Air) -> None:
    assert not worries(study(*[air] * 4), "2027-05-12T00:00", "too cold")


def test_a_logger_that_nobody_read_out_is_asked_for() -> None:
    snap = study(*[50.0] * 4)
    assert not worries(snap, "2027-05-15T00:00", "no readings")
    (found,) = worries(snap, "2027-05-15T01:00", "no readings")
    assert "is of Wed 12 May 00:00" in found.text
    assert found.command == "wingrest readings FILE --room study"


def test_a_room_without_a_logger_is_not_asked_for_its_file() -> None:
    assert not worries(RECORD, "2027-06-15T01:00", "no readings")
    snap = dialled(RECORD, "study", {"2027-05-09T08:00": 50.0})
    assert not worries(snap, "2027-06-15T01:00", "no readings")


def test_rooms_in_which_nothing_stands_are_no_worry() -> None:
    rooms = {**RECORD.rooms, "attic": Room("attic", "room", 50.0)}
    snap = logged(replace(RECORD, rooms=rooms), "attic", MAY, [(95.0, 45.0)] * 8)
    found = today(seen(snap, local("2027-05-16T00:00"))).worries
    assert not [w for w in found if "attic" in w.names]
