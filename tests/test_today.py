"""The day at the bench: what is asked for, what is to worry about, and how it is recorded.

Specimens, boards and rooms are invented; the weekend is the sample batch.
"""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from air_cases import looked
from bench_cases import BERLIN, Desk, local, one_board, rules, seen, weekend

from scheduler.cli import COMMANDS
from scheduler.cli.today import screen
from scheduler.faces.today_json import today_json
from scheduler.looks.problem import build_problem
from scheduler.looks.today import Today, today
from scheduler.looks.worry import Worry, WorryKind
from scheduler.planner.make import make_plan
from scheduler.record.kept import Kept
from scheduler.record.snapshot import ALWAYS, Snapshot
from scheduler.view import View
from scheduler.words.records import (
    Board,
    BoardStay,
    ChamberStay,
    Dial,
    Placement,
    Room,
    Session,
    Specimen,
)
from scheduler.words.wording import COLUMNS

STOUT = Specimen("M-1", family="Noctuidae", body_mm=6.0, wingspan_mm=44.0)
SLENDER = Specimen("M-2", family="Noctuidae", body_mm=4.5, wingspan_mm=38.0)
DRIED = Specimen("M-3", family="Noctuidae", body_mm=4.5, wingspan_mm=38.0, state="dried")
SATURDAY = Session("SAT", local("2027-05-29T09:00"), 120)


def day(snap: Snapshot, now: str, kept: Kept | None = None) -> Today:
    return today(seen(snap, local(now), kept))


def worry(snap: Snapshot, kind: WorryKind, now: str, kept: Kept | None = None) -> list[Worry]:
    return [w for w in day(snap, now, kept).worries if w.kind == kind]


def plan_of(snap: Snapshot, now: str) -> Kept:
    problem = build_problem(View(snap, rules(), local(now)))
    return Kept.of(problem, make_plan(problem), local(now))


def waits(*specimens: Specimen, sessions: tuple[Session, ...] = (SATURDAY,)) -> Snapshot:
    """Specimens that wait beside one empty board."""
    return replace(
        one_board(groove_mm=8.0),
        specimens={s.specimen: s for s in specimens},
        sessions={s.session: s for s in sessions},
    )


def in_chamber(snap: Snapshot, specimen: str, since: str) -> Snapshot:
    return replace(snap, chamber=(*snap.chamber, ChamberStay(specimen, local(since))))


# --- testing and taking off -------------------------------------------------------------


def test_the_board_with_the_stoutest_comes_first_and_on_it_the_stoutest() -> None:
    snap = one_board(SLENDER, STOUT)
    snap = replace(
        snap,
        boards={**snap.boards, "A1": Board("A1", 6.0, 120.0, 400)},
        stays=(*snap.stays, BoardStay("A1", "study", ALWAYS)),
        specimens={**snap.specimens, "M-9": SLENDER._replace(specimen="M-9")},
        placements=(
            *snap.placements,
            Placement(9, "M-9", "A1", 0, 40, local("2027-05-08T10:00"), local("2027-05-08").date()),
        ),
    )
    found = day(looked(snap, "2027-06-20T17:00"), "2027-06-20T18:00").test
    assert [(d.board, d.specimens) for d in found] == [("B1", ("M-1", "M-2")), ("A1", ("M-9",))]
    assert found[0].command == "wingrest test B1 stiff"


def test_what_is_not_due_is_named_beside_the_board_and_dated() -> None:
    snap = one_board(STOUT, SLENDER)
    late = snap.placements[0]._replace(
        mounted_at=local("2027-05-20T10:00"),
        mounted_on=local("2027-05-20").date(),
    )
    snap = looked(replace(snap, placements=(late, snap.placements[1])), "2027-05-24T17:00")
    found = day(snap, "2027-05-24T18:00")
    assert [(d.specimens, d.rest) for d in found.test] == [(("M-2",), ("M-1",))]
    assert found.next_due is not None
    assert found.next_due.boards == ("B1",)
    assert "B1: M-2 (M-1 not yet)" in "\n".join(screen(found))


def test_what_was_tested_stiff_is_taken_off_not_tested_again() -> None:
    snap = one_board(STOUT, tests=[("M-1", "2027-05-25T18:00", "stiff")])
    found = day(looked(snap, "2027-05-25T18:00"), "2027-05-25T19:00")
    assert found.test == ()
    assert [(o.board, o.specimens, o.command) for o in found.off] == [
        ("B1", ("M-1",), "wingrest release M-1")
    ]


def test_in_damp_air_what_is_due_waits() -> None:
    snap = one_board(STOUT, rooms=(Room("study", "room", 60.0),))
    snap = replace(snap, dials=(Dial("study", local("2027-12-01T10:00"), 76.0),))
    found = day(snap, "2027-12-01T18:00")
    assert (found.test, found.off) == ((), ())
    assert [d.specimens for d in found.wait] == [("M-1",)]


# --- the chamber ------------------------------------------------------------------------


def test_the_kept_plan_says_when_it_goes_in_and_when_it_is_too_late() -> None:
    snap = waits(DRIED)
    kept = plan_of(snap, "2027-05-26T18:00")
    (entry,) = day(snap, "2027-05-26T18:00", kept).put_in
    # Dried, body 4.5 mm: first look after 24 hours (S2), so Thursday 20:00 for Saturday 09:00.
    assert (entry.by, entry.latest) == (local("2027-05-27T20:00"), local("2027-05-28T09:00"))
    assert (entry.late, entry.command) == (False, "wingrest relax M-3")
    (entry,) = day(snap, "2027-05-28T10:00", kept).put_in
    assert entry.late
    assert entry.boxes == ()


def test_what_goes_in_is_found_in_its_box() -> None:
    snap = waits(DRIED._replace(box="Tray 2"))
    kept = plan_of(snap, "2027-05-26T18:00")
    (entry,) = day(snap, "2027-05-26T18:00", kept).put_in
    assert entry.boxes == (("Tray 2", ("M-3",)),)


def test_what_is_in_the_chamber_is_not_put_in_again() -> None:
    snap = waits(DRIED)
    kept = plan_of(snap, "2027-05-26T18:00")
    found = day(in_chamber(snap, "M-3", "2027-05-27T20:00"), "2027-05-27T21:00", kept)
    assert found.put_in == ()
    (out,) = found.take_out
    # At most 72 hours: about 3 days at 18-24 C, then they begin to decompose (S1 p. 29).
    assert (out.look_at, out.out_by) == (local("2027-05-28T20:00"), local("2027-05-30T20:00"))
    assert (out.session, out.overdue, out.command) == ("SAT", False, "wingrest mount SAT")


def test_overdue_ones_come_out_first_and_are_worried_about() -> None:
    snap = waits(DRIED, DRIED._replace(specimen="M-4"))
    snap = in_chamber(in_chamber(snap, "M-3", "2027-05-24T20:00"), "M-4", "2027-05-20T20:00")
    found = day(snap, "2027-05-25T08:00")
    assert [(t.specimens, t.overdue) for t in found.take_out] == [
        (("M-4",), True),
        (("M-3",), False),
    ]
    assert [w.names for w in found.worries if w.kind == "too long in the chamber"] == [("M-4",)]
    assert "OVERDUE since Sun 23 May 20:00" in "\n".join(screen(found))


def test_planned_for_a_session_after_it_rots_is_as_good_as_not_planned() -> None:
    snap = waits(DRIED)
    kept = plan_of(snap, "2027-05-24T18:00")
    early = in_chamber(snap, "M-3", "2027-05-24T18:00")
    (out,) = day(early, "2027-05-24T19:00", kept).take_out
    assert (out.session, out.command) == (None, "wingrest putback M-3 fridge")
    assert not worry(early, "will spoil", "2027-05-24T19:00", kept), "the fridge keeps it"


@pytest.mark.parametrize(("hour", "too_long"), [("19:59", False), ("20:01", True)])
def test_three_days_in_the_chamber_are_enough(hour: str, too_long: bool) -> None:
    snap = in_chamber(waits(DRIED), "M-3", "2027-05-22T20:00")
    found = worry(snap, "too long in the chamber", f"2027-05-25T{hour}")
    assert bool(found) == too_long


# --- the session ------------------------------------------------------------------------


def test_todays_session_in_order_and_what_comes_off_first(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    desk.did("air", "study", "52", now="2027-05-08T07:00")
    facts = json.loads(desk.did("today", "--format", "json", now="2027-05-08T08:00"))
    session = facts["session"]
    plan = json.loads(weekend(tmp_path).did("plan", "--format", "json"))
    planned = next(s for s in plan["sessions"] if s["session"] == "SAT-08")
    assert [s["specimen"] for s in session["mount"]] == [
        p["specimen"] for p in planned["placements"]
    ]
    assert {n for o in session["take_off"] for n in o["specimens"]} == {
        t["specimen"] for t in planned["test_first"]
    }
    assert session["command"] == "wingrest mount SAT-08"
    assert facts["next_session"]["session"] == "SUN-09"


def test_what_is_mounted_leaves_the_session_and_a_session_that_is_over_leaves_the_day() -> None:
    snap = waits(STOUT, SLENDER)
    kept = plan_of(snap, "2027-05-26T18:00")
    at = local("2027-05-29T09:30")
    mounted = replace(snap, placements=(Placement(1, "M-1", "B1", 0, 40, at, at.date()),))
    found = day(mounted, "2027-05-29T10:00", kept)
    assert found.bench is not None
    assert [s.specimen for s in found.bench.mount] == ["M-2"]
    assert day(mounted, "2027-05-29T11:01", kept).bench is None


def test_a_session_that_is_over_and_not_recorded_is_a_worry() -> None:
    snap = waits(STOUT)
    kept = plan_of(snap, "2027-05-26T18:00")
    assert worry(snap, "not recorded", "2027-05-29T10:59", kept) == []
    (found,) = worry(snap, "not recorded", "2027-05-29T11:01", kept)
    assert found.names == ("M-1",)
    assert found.command == "wingrest mount SAT --at 2027-05-29T09:00"


# --- worries ----------------------------------------------------------------------------


def spoils(day_text: str) -> Specimen:
    return STOUT._replace(spoils_by=datetime.fromisoformat(day_text).date())


@pytest.mark.parametrize(
    ("by", "worried"),
    [
        pytest.param("2027-05-28", True, id="before the only session"),
        pytest.param("2027-05-29", False, id="planned before it spoils"),
        pytest.param("2027-06-03", False, id="more than a week away"),
    ],
)
def test_what_will_spoil_before_it_is_planned(by: str, worried: bool) -> None:
    snap = waits(spoils(by))
    kept = plan_of(snap, "2027-05-26T18:00")
    assert bool(worry(snap, "will spoil", "2027-05-26T18:00", kept)) == worried


def test_what_fits_no_board_is_not_planned_again() -> None:
    snap = waits(spoils("2027-05-29")._replace(body_mm=11.0))
    kept = plan_of(snap, "2027-05-26T18:00")
    (found,) = worry(snap, "will spoil", "2027-05-26T18:00", kept)
    assert found.command == "wingrest mount BOARD: M-1"


def test_where_the_plan_had_no_place_it_is_mounted_or_frozen_else_planned_again() -> None:
    snap = waits(spoils("2027-05-28"))
    kept = plan_of(snap, "2027-05-26T18:00")
    now = "2027-05-26T18:00"
    assert worry(snap, "will spoil", now, kept)[0].command == "wingrest mount BOARD: M-1"
    assert worry(snap, "will spoil", now, None)[0].command == "wingrest plan"
    past = worry(snap, "will spoil", "2027-05-29T00:10", kept)[0]
    # What lives is not to be recorded as lost: a person looks first.
    assert past.command == "wingrest putback M-1 freezer"


DAMP = [
    pytest.param(66.0, None, "assumed", id="assumed above 65 %"),
    pytest.param(65.0, None, "", id="65 % is not above it"),
    pytest.param(50.0, 71.0, "read Tue 8 Jun 20:00", id="the dial says damp"),
    pytest.param(70.0, 60.0, "", id="the dial says dry"),
]


@pytest.mark.parametrize(("assumed", "dial", "said"), DAMP)
def test_a_damp_room_with_boards_in_it(assumed: float, dial: float | None, said: str) -> None:
    """Below 65 %: NPS, as in limits.csv."""
    snap = one_board(STOUT, rooms=(Room("study", "room", assumed),))
    if dial is not None:
        snap = replace(snap, dials=(Dial("study", local("2027-06-08T20:00"), dial),))
    found = worry(snap, "room damp", "2027-06-09T18:00")
    assert bool(found) == bool(said)
    assert all(said in w.text and "mould can grow" in w.text for w in found)


def test_a_dial_read_more_than_a_day_ago_says_nothing_of_today() -> None:
    snap = one_board(STOUT, rooms=(Room("study", "room", 50.0),))
    snap = replace(snap, dials=(Dial("study", local("2027-06-08T20:00"), 71.0),))
    assert worry(snap, "room damp", "2027-06-09T19:59")
    assert not worry(snap, "room damp", "2027-06-09T20:01")


def test_a_damp_room_without_boards_and_a_warm_cabinet_are_no_worry() -> None:
    rooms = (Room("cabinet", "warm", None, 35.0), Room("cellar", "room", 85.0))
    kinds = {w.kind for w in day(one_board(STOUT, rooms=rooms), "2027-06-01T18:00").worries}
    assert not kinds & {"room damp", "no air known"}


def test_where_a_dial_says_damp_nothing_is_tested_or_taken_off_today() -> None:
    snap = one_board(STOUT, SLENDER, tests=[("M-1", "2027-08-08T18:00", "stiff")])
    snap = replace(snap, dials=(Dial("study", local("2027-08-08T20:00"), 76.0),))
    found = day(snap, "2027-08-09T18:00")
    assert (found.test, found.off) == ((), ())
    assert [d.specimens for d in found.wait] == [("M-1", "M-2")]


def test_air_that_nobody_knows() -> None:
    snap = one_board(STOUT, rooms=(Room("study"),))
    (found,) = worry(snap, "no air known", "2027-06-01T18:00")
    assert found.command == "wingrest air study RH"
    (found,) = worry(replace(snap, stays=()), "no air known", "2027-06-01T18:00")
    assert found.command == "wingrest move B1 ROOM"


def test_no_date_in_air_that_dries_nothing() -> None:
    snap = one_board(STOUT, rooms=(Room("cellar", "room", 90.0),))
    (found,) = worry(snap, "no date", "2027-06-01T18:00")
    assert found.names == ("M-1",)
    assert found.command == "wingrest move B1 ROOM"


def test_a_board_out_of_use_with_specimens_on_it() -> None:
    snap = one_board(STOUT)
    out = replace(snap, boards={"B1": snap.boards["B1"]._replace(out=True)})
    (found,) = worry(out, "board out", "2027-05-09T18:00")
    assert found.command == "wingrest board B1 in"
    assert not worry(replace(out, placements=()), "board out", "2027-05-09T18:00")


NOW = "2027-05-26T18:00"


def moved(snap: Snapshot) -> Snapshot:
    later = SATURDAY._replace(start=SATURDAY.start + timedelta(hours=2))
    return replace(snap, sessions={"SAT": later})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        pytest.param(lambda s: s, "", id="nothing changed"),
        pytest.param(
            lambda s: replace(s, specimens={**s.specimens, "M-9": STOUT._replace(specimen="M-9")}),
            "M-9 came",
            id="one more waits",
        ),
        pytest.param(moved, "SAT changed", id="the session was moved"),
        pytest.param(
            lambda s: replace(s, sessions={"SAT": SATURDAY._replace(minutes=0)}),
            "",
            id="cancelled, and no other ahead",
        ),
        pytest.param(
            lambda s: replace(s, boards={"B1": s.boards["B1"]._replace(out=True)}),
            "B1 is out of use",
            id="the board went out of use",
        ),
        pytest.param(
            lambda s: replace(
                s,
                rooms={**s.rooms, "attic": Room("attic", "room", 50.0)},
                stays=(*s.stays, BoardStay("B1", "attic", local(NOW))),
            ),
            "B1 stands in attic now",
            id="the board was moved",
        ),
        pytest.param(
            lambda s: replace(
                s, placements=(Placement(1, "M-1", "B1", 77, 117, local(NOW), local(NOW).date()),)
            ),
            "M-1 stands elsewhere than planned",
            id="mounted elsewhere",
        ),
    ],
)
def test_a_plan_that_no_longer_answers_the_record(change: Any, said: str) -> None:
    snap = waits(STOUT, SLENDER)
    kept = plan_of(snap, NOW)
    found = worry(change(snap), "plan", NOW, kept)
    assert [said in w.text for w in found] == ([True] if said else [])


def test_nothing_planned_yet_is_said_once_there_is_something_to_plan() -> None:
    assert worry(waits(STOUT), "plan", NOW)[0].command == "wingrest plan"
    assert not worry(waits(), "plan", NOW)
    assert not worry(waits(STOUT, sessions=()), "plan", NOW)


# --- the screen -------------------------------------------------------------------------

MOMENTS = (
    "2027-05-05T18:00",
    "2027-05-06T21:00",
    "2027-05-08T08:00",
    "2027-05-08T13:00",
    "2027-05-09T15:00",
    "2027-05-20T09:00",
)


@pytest.mark.parametrize("now", MOMENTS)
def test_no_line_is_wider_than_a_terminal(tmp_path: Path, now: str) -> None:
    desk = weekend(tmp_path)
    desk.did("relax", "M-14", "K-07", "--at", "2027-05-05T12:00")
    assert max(map(len, desk.did("today", now=now).splitlines())) <= COLUMNS


def test_on_the_evening_before_the_weekend_it_fits_one_screen(tmp_path: Path) -> None:
    assert len(weekend(tmp_path).did("today").splitlines()) <= 24


@pytest.mark.parametrize("now", MOMENTS)
def test_every_line_says_a_command_that_exists(tmp_path: Path, now: str) -> None:
    """With its placeholders left in, each is refused at most for these."""
    desk = weekend(tmp_path)
    desk.did("relax", "M-14", "--at", "2027-05-05T12:00")
    rows = desk.did("today", "--format", "csv", now=now).splitlines()
    assert rows[0] == "what,names,when,text,command"
    facts = json.loads(desk.did("today", "--format", "json", now=now))
    commands = list(_commands(facts))
    assert commands
    for said in commands:
        program, name, *words = shlex.split(said)
        assert program == "wingrest"
        assert name in COMMANDS
        if not {"BOARD:", "ROOM", "RH", "REASON"} & set(words):
            assert "Usage" not in desk(name, *words, now=now).err


def _commands(facts: Any) -> Any:
    if isinstance(facts, dict):
        yield from ([facts["command"]] if "command" in facts else [])
        facts = list(facts.values())
    if isinstance(facts, list):
        for part in facts:
            yield from _commands(part)


def test_a_record_in_which_all_is_done_has_nothing_to_do(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "new.sqlite")
    desk.did("room", "study", "--rh", "52")
    desk.did("board", "B1", "--groove", "8", "--span", "80", "--length", "350", "--room", "study")
    desk.did("add", "owlet", "--wingspan", "38", "--fresh")
    desk.did("lost", "O-01", "dropped")
    assert "Nothing to do today." in desk.did("today")


def test_the_json_holds_every_documented_key(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    desk.did("air", "study", "52", now="2027-05-08T07:00")
    facts = json.loads(desk.did("today", "--format", "json", now="2027-05-08T08:00"))
    assert list(facts) == (
        "at who test wait take_off put_in put_away take_out session beside next_session next_due"
        " worries probes"
    ).split(" ")
    assert list(facts["test"][0]) == ["board", "specimens", "rest", "body_mm", "command"]
    assert set(facts["session"]) == {
        "session", "start", "minutes", "who", "take_off", "mount", "command", "held",
    }  # fmt: skip
    assert facts["at"] == "2027-05-08T08:00:00+02:00"
    documented = today_json.__doc__ or ""
    for key in [*facts, *facts["test"][0], *facts["put_in"][0], *facts["session"]["mount"][0]]:
        assert key in documented


def test_a_quick_question_imports_nothing_heavy(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    desk.did("air", "study", "52", now=MOMENTS[0])
    script = (
        "import sys\nfrom scheduler.cli import main\n"
        f"try: main(['--store', {str(desk.store)!r}, '--now', '{MOMENTS[0]}', 'today'])\n"
        "except SystemExit: pass\n"
        "print(*sorted({m.split('.')[0] for m in sys.modules}"
        " & {'pandas', 'numpy', 'ortools', 'icalendar'}), file=sys.stderr)"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert run.stderr.split() == []
    assert "Test" in run.stdout


def test_the_cautions_stand_beside_the_work(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    desk.did("relax", "M-14", "--at", "2027-05-05T12:00")
    desk.did("air", "study", "52", now="2027-05-08T07:00")
    said = desk.did("today", now="2027-05-08T08:00")
    for part in ("under a pin", "from behind", "Mind pins, blades"):
        assert part in said
    assert "Mind mould, fumes, pins, blades" in desk.did("plan")
    assert "from behind:" in desk.did("plan", "SAT-08")


def test_all_moments_are_local() -> None:
    found = day(waits(STOUT), NOW)
    assert found.at.tzinfo == BERLIN
