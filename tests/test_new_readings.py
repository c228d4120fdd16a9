"""New readings move dates: plan, answers and calendar agree at once, and nothing else moves.

Specimens and boards are invented; the weekend is the sample batch.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from bench_cases import WEDNESDAY, Desk, local, rules, seen, weekend
from verb_cases import recorded, snapshot

from scheduler.feed.calendars import record_calendar
from scheduler.looks.problem import build_problem
from scheduler.record.kept import kept_plan
from scheduler.record.store import Store
from scheduler.view import View


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def log(folder: Path, rh_pct: float, first: str, until: str) -> Path:
    """A logger's file of one humidity at 20 deg C, by the hour."""
    moment, end = datetime.fromisoformat(first), datetime.fromisoformat(until)
    lines = ["Time,Temperature (C),RH (%)"]
    while moment < end:
        lines.append(f"{moment:%Y-%m-%d %H:%M},20.0,{rh_pct}")
        moment += timedelta(hours=1)
    path = folder / f"log-{first[:10]}-{rh_pct:g}.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def damp_study(desk: Desk, folder: Path, rh_pct: float = 72) -> str:
    """Read a logger that hung in the study since the first mounting and found it damp."""
    file = log(folder, rh_pct, "2027-04-17T00:00", "2027-05-05T17:00")
    return recorded(desk, "readings", str(file), "--room", "study", "--yes").out


def published(desk: Desk) -> dict[str, str]:
    """The calendar's events by UID, as phones get them."""
    with Store(desk.store) as store:
        text = record_calendar(store, rules(), local(WEDNESDAY)).decode()
    events = re.findall(r"BEGIN:VEVENT\r\n.*?END:VEVENT\r\n", text, re.DOTALL)
    return {_line(event, "UID"): event for event in events}


def _line(event: str, name: str) -> str:
    found = re.search(rf"^{name}[^:]*:(.*)\r$", event, re.MULTILINE)
    assert found is not None, name
    return found[1]


def answered(desk: Desk) -> Iterator[tuple[str, str, str]]:
    for board in json.loads(desk("ready", "--format", "json").out)["boards"]:
        for specimen in board["specimens"]:
            yield specimen["specimen"], specimen["due"], specimen["clear"]


def test_answers_plan_and_calendar_say_the_same_date(desk: Desk, tmp_path: Path) -> None:
    before = {name: due for name, due, _ in answered(desk)}
    damp_study(desk, tmp_path)
    after = {name: (due, clear) for name, due, clear in answered(desk)}
    assert sum(after[name][0] != due for name, due in before.items()) >= 5
    with Store(desk.store) as store:
        snap, kept = store.snapshot(), kept_plan(store)
    assert kept is not None
    # A plan counts on far dates too that nobody is told: in damp air they move with every reading.
    told = {name for name, (due, _) in after.items() if due}
    assert 5 <= len(told) < len(after)
    for s in kept.standing:
        if s.specimen in told:
            assert after[s.specimen] == (
                s.due and s.due.isoformat(),
                s.clear and s.clear.isoformat(),
            )
    events = {(_line(e, "SUMMARY"), _line(e, "DTSTART")) for e in published(desk).values()}
    for p in snap.standing():
        believed = seen(snap).of(p).dates.due
        assert believed is not None
        title, day = f"{p.board}: test", f"{believed:%Y%m%d}"
        in_calendar = any(said.startswith(title) and day == at for said, at in events)
        assert in_calendar == (p.specimen in told), p.specimen
        if p.specimen in told:
            assert after[p.specimen][0] == believed.isoformat()


def test_a_plan_that_counts_on_a_date_that_nobody_is_told_is_not_older_than_it(
    desk: Desk, tmp_path: Path
) -> None:
    damp_study(desk, tmp_path)
    assert None in [due for _, due, _ in answered(desk)]
    assert "Since the plan was made" not in desk("today").out


def test_a_moved_event_keeps_its_uid_and_its_sequence_grows(desk: Desk, tmp_path: Path) -> None:
    before = published(desk)
    damp_study(desk, tmp_path, 64)
    after = published(desk)
    moved = [
        uid
        for uid in before.keys() & after.keys()
        if _line(before[uid], "DTSTART") != _line(after[uid], "DTSTART")
    ]
    assert moved
    for uid in moved:
        assert int(_line(after[uid], "SEQUENCE")) == int(_line(before[uid], "SEQUENCE")) + 1
        assert _line(after[uid], "LAST-MODIFIED") > _line(before[uid], "LAST-MODIFIED")


def test_what_did_not_move_keeps_its_bytes(desk: Desk, tmp_path: Path) -> None:
    before = published(desk)
    damp_study(desk, tmp_path)
    after = published(desk)
    # The boards of the north room and of the cabinet stand in other air.
    rooms = {
        uid: e for uid, e in before.items() if "LOCATION:north\r" in e or "LOCATION:oven\r" in e
    }
    assert rooms
    for uid, event in rooms.items():
        assert after[uid] == event


def test_readings_that_say_what_was_assumed_move_nothing(desk: Desk, tmp_path: Path) -> None:
    before = {uid: _line(e, "DTSTART") for uid, e in published(desk).items()}
    file = log(tmp_path, 52, "2027-04-17T00:00", "2027-05-05T17:00")
    said = recorded(desk, "readings", str(file), "--room", "study", "--yes").out
    assert "test from" not in said
    assert {uid: _line(e, "DTSTART") for uid, e in published(desk).items()} == before


def test_taking_the_readings_back_takes_the_dates_back(desk: Desk, tmp_path: Path) -> None:
    before = {name: (due, clear) for name, due, clear in answered(desk)}
    damp_study(desk, tmp_path)
    desk.did("undo")
    assert {name: (due, clear) for name, due, clear in answered(desk)} == before


def test_what_is_planned_counts_on_the_new_air_too(desk: Desk, tmp_path: Path) -> None:
    damp_study(desk, tmp_path)
    with Store(desk.store) as store:
        snap, kept = store.snapshot(), kept_plan(store)
    assert kept is not None
    problem = build_problem(View(snap, rules(), kept.asked_at))
    waiting = {w.specimen: w for w in problem.waiting}
    view, judged = seen(snap), 0
    for p in kept.placements:
        room = snap.room_of(p.board)
        assert room is not None
        time = view.time_in(snap.specimens[p.specimen], waiting[p.specimen].body_mm, room)
        if p.due is not None and time.min_days is not None:
            mounted = p.mount_at.date()
            assert p.due == mounted + timedelta(days=time.min_days)
            judged += room.room == "study"
    assert judged


def test_a_dial_moves_dates_and_says_whose(desk: Desk) -> None:
    said = recorded(desk, "air", "study", "62", "20").out
    assert "M-05: test from" in said
    assert "(before: Mon 10 May)" in said
    # In air that hardly dries it a date far ahead is none.
    wet = recorded(desk, "air", "study", "78", "20", "--at", "2027-05-05T17:50").out
    assert "no date yet in this air (before: " in wet


def test_no_new_reading_mends_no_plan(desk: Desk, tmp_path: Path) -> None:
    file = log(tmp_path, 72, "2027-04-17T00:00", "2027-05-05T17:00")
    desk.did("readings", file, "--room", "study", "--yes")
    with Store(desk.store) as store:
        kept = kept_plan(store)
    assert "0 new readings" in desk.did(
        "readings", file, "--room", "study", "--yes", now="2027-05-05T19:00"
    )
    with Store(desk.store) as store:
        assert kept_plan(store) == kept


def test_the_mended_plan_is_of_the_moment_of_reading(desk: Desk, tmp_path: Path) -> None:
    damp_study(desk, tmp_path)
    with Store(desk.store) as store:
        kept = kept_plan(store)
    assert kept is not None
    assert kept.kept_at == local(WEDNESDAY)
    assert snapshot(desk).air_days["study"]
