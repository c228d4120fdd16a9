"""What a room's air does is worked out once, and anew as soon as any of its air is another."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from air_cases import dialled, logged
from bench_cases import local, one_board, seen, weekend
from page_cases import Phone, phones

from scheduler.drying import once
from scheduler.drying.sums import RoomDrying
from scheduler.record.snapshot import Snapshot
from scheduler.rulebook import load_rulebook
from scheduler.view import View
from scheduler.words.records import Room, Specimen

MAY = date(2027, 5, 1)
MOTH = Specimen("M-1", family="Noctuidae", body_mm=4.5, state="fresh")
RECORD = dialled(
    logged(one_board(MOTH), "study", MAY, [55.0 + n % 7 for n in range(12)]),
    "study",
    {"2027-05-14T10:00": 60.0},
)
EVENING = local("2027-05-16T18:00")

Change = Callable[[Snapshot], Snapshot]
CHANGES: dict[str, Change] = {
    "one more dial": lambda s: dialled(s, "study", {"2027-05-15T10:00": 74.0}),
    "a dial taken back": lambda s: replace(s, dials=()),
    "a dial corrected": lambda s: replace(s, dials=(s.dials[0]._replace(rh_pct=60.01),)),
    "its temperature": lambda s: replace(s, dials=(s.dials[0]._replace(temp_c=26.0),)),
    "an hour of a logger": lambda s: logged(
        s, "study", MAY, [[(55.01, 20.0)] + [(55.0, 20.0)] * 23]
    ),
    "a day without its hours": lambda s: logged(s, "study", MAY, [(None, None)]),
    "what the room is said to have": lambda s: replace(
        s, rooms={"study": Room("study", "room", 70)}
    ),
    "how warm it is said to be": lambda s: replace(
        s, rooms={"study": Room("study", "room", 50, 26)}
    ),
}


def air_of(view: View) -> RoomDrying:
    found = view.paces.of(view.rooms["study"])
    assert found is not None
    return found


def said(snap: Snapshot) -> tuple[object, ...]:
    one = seen(snap, EVENING).of(snap.placements[0])
    sums = air_of(seen(snap, EVENING)).sums
    return one.dates, one.spans, *(sums(1, side).dawns for side in ("drier", "believed", "damper"))


def anew(snap: Snapshot) -> tuple[object, ...]:
    once._kept.clear()
    return said(snap)


def test_the_same_air_is_worked_out_once() -> None:
    assert air_of(seen(RECORD, EVENING)) is air_of(seen(RECORD, EVENING + timedelta(minutes=1)))


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_any_other_air_is_another(change: Change) -> None:
    before, after = anew(RECORD), anew(change(RECORD))
    assert before != after
    assert [said(s) for s in (RECORD, change(RECORD), RECORD)] == [before, after, before]


def test_other_rules_are_others() -> None:
    mine = View(RECORD, load_rulebook(), EVENING)
    assert air_of(mine) is not air_of(seen(RECORD, EVENING))


def board(phone: Phone) -> str:
    page = phone.look("board?name=B3")
    main = page[page.index("<main>") : page.index("</main>")]
    main = re.sub(r'<section class="notice".*?</section>', "", main, flags=re.DOTALL)
    return re.sub(r'<input type="hidden"[^>]*>', "", main)


def test_air_recorded_between_two_taps_is_seen_by_the_second(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    (phone,) = phones(desk)
    before = board(phone)
    for n, (tap, humidity) in enumerate(
        (("Stiff M-03", 66), ("Stiff M-04", 71), ("Soft M-05", 52))
    ):
        phone.look("")
        phone.look("board?name=B3")
        phone.tap(tap)
        desk.did("air", "study", str(humidity), now=f"2027-05-08T08:3{n}")
        after = board(phone)
        assert f"{humidity} %" in after
        assert after != before
        once._kept.clear()
        (other,) = phones(desk)
        assert board(other) == after
        before = after
