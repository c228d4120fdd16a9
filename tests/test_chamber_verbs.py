"""Into the chamber and out of it, into the cold and out of it, and what is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench_cases import Desk, local, rules, weekend
from verb_cases import changes_nothing, journal, recorded, refused, snapshot

from scheduler.view import View

THURSDAY = "2027-05-06T20:00"
FRIDAY = "2027-05-07T20:00"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


# --- relax ---------------------------------------------------------------------------------


def test_what_goes_into_the_chamber_is_there_from_now_on(desk: Desk) -> None:
    run = recorded(desk, "relax", "M-10", "m-11")
    now = local("2027-05-05T18:00")
    assert snapshot(desk).chamber_since("M-10") == snapshot(desk).chamber_since("M-11") == now
    assert run.err == ""
    assert run.out.splitlines()[0] == "put M-10 and M-11 into the chamber"
    # After months in the freezer a day (relax-frozen-long, common practice), at most three.
    assert "first look Thu 6 May 18:00, out by Sat 8 May 18:00" in " ".join(run.out.split())
    assert "common practice" in run.out


def test_yesterday_counts_from_yesterday(desk: Desk) -> None:
    recorded(desk, "relax", "M-10", "--at", "2027-05-04T20:00")
    assert snapshot(desk).chamber_since("M-10") == local("2027-05-04T20:00")
    assert journal(desk)[-3].happened_at == local("2027-05-04T20:00")


def test_nothing_goes_in_tomorrow(desk: Desk) -> None:
    assert "has not happened yet" in refused(
        desk, "relax", "M-10", "--at", "2027-05-06T20:00", status=2
    )


def test_what_is_in_already_is_not_put_in_again(desk: Desk) -> None:
    desk.did("relax", "M-10")
    said = refused(desk, "relax", "M-11", "M-10", status=3, now=THURSDAY)
    assert "M-10 is in the chamber since Wed 5 May 18:00" in said
    assert "Nothing was recorded" in said


def test_what_stands_on_a_board_does_not_go_in(desk: Desk) -> None:
    assert "M-03 stands on B3 since Sat 17 Apr" in refused(desk, "relax", "M-03", status=3)


def test_a_mistyped_id_is_named_with_what_was_perhaps_meant(desk: Desk) -> None:
    said = refused(desk, "relax", "M-10", "N-11", "M-111", status=2)
    assert "'N-11'. Did you mean" in said
    assert "'M-111'. Did you mean M-11" in said


def test_a_chamber_over_its_places_is_a_warning(desk: Desk) -> None:
    ids = [s for s in snapshot(desk).specimens if s not in _mounted(desk)]
    full = desk("relax", *ids[:16])
    assert (full.status, full.err) == (0, "")
    over = desk("relax", ids[16])
    assert over.status == 0
    assert "warning: the chamber now holds 17, but has only 16 places" in over.err


def test_what_was_put_in_on_tuesday_crowds_what_followed(desk: Desk) -> None:
    ids = [s for s in snapshot(desk).specimens if s not in _mounted(desk)]
    desk.did("relax", *ids[:16])
    over = desk("relax", ids[16], "--at", "2027-05-04T20:00")
    assert "the chamber now holds 17" in over.err


def test_what_was_mounted_meanwhile_was_in_until_then(desk: Desk) -> None:
    desk.did("mount", "M-10", "--board", "B8", "--at", "2027-05-05T17:00")
    run = recorded(desk, "relax", "M-10", "--at", "2027-05-04T12:00")
    stays = [s for s in snapshot(desk).chamber if s.specimen == "M-10"]
    assert [s.until for s in stays] == [local("2027-05-05T17:00")]
    assert "until it was mounted" in run.out


def test_before_it_is_available_is_a_warning(desk: Desk) -> None:
    desk.did("amend", "M-10", "available=2027-05-20")
    assert "available only from Thu 20 May on" in recorded(desk, "relax", "M-10").err


def test_what_is_limp_already_needs_no_chamber(desk: Desk) -> None:
    desk.did("relax", "M-10")
    desk.did("thaw", "M-10", now=THURSDAY)
    run = recorded(desk, "relax", "M-10", now="2027-05-06T22:00")
    assert "limp already" in run.err


# --- putback and thaw ------------------------------------------------------------------------


def test_back_into_the_fridge_ends_the_stay_in_the_chamber(desk: Desk) -> None:
    desk.did("relax", "M-10")
    run = recorded(desk, "putback", "M-10", "fridge", now=THURSDAY)
    snap = snapshot(desk)
    assert snap.chamber_since("M-10") is None
    kept = snap.keeping_of("M-10")[-1]
    assert kept is not None
    assert (kept.place, kept.since) == ("fridge", local(THURSDAY))
    assert "mount by" in run.out


@pytest.mark.parametrize(("where", "long"), [(("thaw", "M-10"), "-long"), (("relax", "M-10"), "")])
def test_back_into_the_freezer_it_comes_out_as_limp_as_it_went_in_and_has_waited_since_the_first(
    desk: Desk, where: tuple[str, ...], long: str
) -> None:
    # Frozen since 2026-06-28 it is brittle. Thawing does not moisten it, a day in the chamber does.
    desk.did(*where)
    recorded(desk, "putback", "M-10", "freezer", "--at", "2027-05-07T08:00", now=FRIDAY)
    snap = snapshot(desk)
    specimen = snap.specimens["M-10"]
    assert (specimen.state, str(specimen.frozen_on)) == ("frozen", "2026-06-28")
    view = View(snap, rules(), local(FRIDAY))
    assert view.waits(specimen).softening.rule.rule_ids == (f"relax-frozen{long}",)


def test_a_fresh_one_put_into_the_freezer_is_frozen(desk: Desk) -> None:
    desk.did("add", "owlet", "--wingspan", "38", "--fresh")
    recorded(desk, "putback", "O-01", "freezer")
    specimen = snapshot(desk).specimens["O-01"]
    assert (specimen.state, str(specimen.frozen_on)) == ("frozen", "2027-05-05")


def test_a_dried_one_stays_dried_in_the_freezer(desk: Desk) -> None:
    desk.did("add", "owlet", "--wingspan", "38", "--dried")
    recorded(desk, "putback", "O-01", "freezer")
    specimen = snapshot(desk).specimens["O-01"]
    assert (specimen.state, specimen.frozen_on) == ("dried", None)


def test_what_lies_in_the_freezer_is_not_put_there_again(desk: Desk) -> None:
    assert "M-10: in the freezer already" in changes_nothing(desk, "putback", "M-10", "freezer")
    # Else months in the freezer would be forgotten.
    assert str(snapshot(desk).specimens["M-10"].frozen_on) == "2026-06-28"


def test_a_word_about_the_date_that_a_freezer_does_not_move(desk: Desk) -> None:
    desk.did("thaw", "M-10")
    desk.did("amend", "M-10", "spoils_by=2027-05-09")
    assert "amend M-10 spoils_by=" in recorded(desk, "putback", "M-10", "freezer").problems


def test_too_long_in_the_chamber_is_a_warning_at_putting_back(desk: Desk) -> None:
    desk.did("relax", "M-10")
    run = recorded(desk, "putback", "M-10", "fridge", now="2027-05-09T18:00")
    assert "96 hours, at most 72: look for mould and decay" in run.problems


def test_putting_back_needs_a_place(desk: Desk) -> None:
    assert "fridge or freezer" in refused(desk, "putback", "M-10", status=2)
    assert "fridge or freezer" in refused(desk, "putback", "M-10", "cellar", status=2)
    assert "fridge or freezer" in refused(desk, "putback", "fridge", status=2)


def test_what_stands_on_a_board_is_not_put_back(desk: Desk) -> None:
    assert "M-03 stands on B3" in refused(desk, "putback", "M-03", "fridge", status=3)


def test_out_of_the_chamber_before_it_went_in_contradicts(desk: Desk) -> None:
    desk.did("relax", "M-10")
    said = refused(desk, "putback", "M-10", "fridge", "--at", "2027-05-05T09:00", status=3)
    assert "M-10 went into the chamber after that, on Wed 5 May 18:00" in said


def test_thawed_ones_get_a_clock(desk: Desk) -> None:
    run = recorded(desk, "thaw", "M-10", "M-11")
    kept = snapshot(desk).keeping_of("M-11")[-1]
    assert kept is not None
    assert (kept.place, kept.since) == ("thawed", local("2027-05-05T18:00"))
    assert "M-10 and M-11: mount by" in run.out
    assert "M-10: thawed already" in changes_nothing(desk, "thaw", "M-10", now=THURSDAY)


def test_thawing_takes_a_limp_one_out_of_the_chamber(desk: Desk) -> None:
    desk.did("relax", "M-10")
    recorded(desk, "thaw", "M-10", now=THURSDAY)
    snap = snapshot(desk)
    assert snap.chamber_since("M-10") is None
    assert [s.until for s in snap.chamber] == [local(THURSDAY)]


def test_what_is_dried_cannot_thaw(desk: Desk) -> None:
    desk.did("add", "owlet", "--wingspan", "38", "--dried")
    assert "nothing to thaw" in recorded(desk, "thaw", "O-01").err


# --- lost ------------------------------------------------------------------------------------


def test_one_that_broke_is_lost_and_out_of_the_chamber(desk: Desk) -> None:
    desk.did("relax", "M-31")
    run = recorded(desk, "lost", "m-31", "abdomen", "broken", now=THURSDAY)
    snap = snapshot(desk)
    assert snap.gone["M-31"] == "abdomen broken"
    assert snap.chamber_since("M-31") is None
    assert run.out.splitlines()[0] == "M-31 is lost: abdomen broken"
    assert "M-31 is lost (abdomen broken)" in refused(desk, "relax", "M-31", status=3, now=THURSDAY)


def test_one_lost_on_its_board_frees_its_slot(desk: Desk) -> None:
    run = recorded(desk, "lost", "M-03", "mould", "--at", "2027-05-04T09:00")
    placement = next(p for p in snapshot(desk).placements if p.specimen == "M-03")
    assert placement.released_at == local("2027-05-04T09:00")
    assert placement.early_reason == "mould"
    assert "off B3: 0-31 mm are free" in run.out


def test_it_is_lost_once_and_for_a_reason(desk: Desk) -> None:
    desk.did("lost", "M-31", "dropped")
    assert "M-31 is lost already (dropped)" in refused(desk, "lost", "M-31", "pest", status=3)
    assert "without a reason" in refused(desk, "lost", "M-30", " ", status=2)
    assert "Did you mean M-30" in refused(desk, "lost", "M-300", "pest", status=2)


def test_it_is_not_lost_on_a_board_before_it_was_mounted(desk: Desk) -> None:
    said = refused(desk, "lost", "M-03", "mould", "--at", "2027-04-01", status=3)
    assert "M-03 was mounted after that" in said


def _mounted(desk: Desk) -> set[str]:
    return {p.specimen for p in snapshot(desk).standing()}
