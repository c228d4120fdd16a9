"""The bench page without a browser: what it shows, what a tap records, what undo brings back."""

from __future__ import annotations

import json
import re
import threading
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from bench_cases import (
    FIRST_WEEKEND,
    WEDNESDAY,
    Desk,
    local,
    narrow_weekend,
    planned,
    weekend,
)
from page_cases import SATURDAY, Phone, phones
from verb_cases import image, journal, snapshot

from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.words import cautions
from scheduler.words.records import Board, Placement, Room, Specimen
from scheduler.words.wording import listed

VIEWS = ("", "boards", "weeks", "board?name=B5", "journal")
SCRIPT = "<script>alert(1)</script>"


def standing(desk: Desk, now: str) -> list[dict[str, Any]]:
    boards = json.loads(desk.did("boards", "--format", "json", now=now))["boards"]
    return [s for b in boards for s in b["specimens"]]


def as_planned(desk: Desk) -> dict[str, str]:
    """One that the plan mounts this morning where nothing stands, and all that go in tonight."""
    one = next(p for p in planned(desk, "SAT-08") if not p.after)
    evening = local("2027-05-08T20:00")
    soak = sorted(p.specimen for p in planned(desk, "SUN-09") if p.relax_from == evening)
    assert soak
    return {"one": one.specimen, "board": one.board, "soak": listed(soak)}


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """The weekend, after a look at the dials this morning."""
    return read_off(weekend(tmp_path))


def read_off(desk: Desk) -> Desk:
    desk.did("air", "study", "52", now="2027-05-08T07:30")
    desk.did("air", "north", "62", now="2027-05-08T07:30")
    return desk


@pytest.fixture
def phone(desk: Desk) -> Phone:
    return phones(desk)[0]


# --- what is shown ------------------------------------------------------------------------


def test_today_comes_first_and_asks_for_what_the_command_asks_for(desk: Desk, phone: Phone) -> None:
    said = desk.did("today", now=SATURDAY)
    shown = phone.look()
    assert "<h1>Sat 8 May" in shown
    for name in ("M-06", "M-07", "M-08", "M-01", "M-02", "M-03", "M-04"):
        assert name in said
        assert any(f.words == f"Stiff {name}" for f in phone.forms())
    assert "SAT-08, 09:00, 180 min" in shown


def test_nothing_is_offered_for_a_specimen_that_is_not_due(phone: Phone) -> None:
    phone.look()
    assert not [f for f in phone.forms() if f.words == "Took off M-09"]
    assert "M-09</span> not yet." in phone.page


def test_an_empty_record_says_so(tmp_path: Path) -> None:
    bare = phones(Desk(tmp_path / "record.sqlite"))[0]
    assert "No board yet: give its groove" in bare.look()
    assert "The record holds no boards yet" in bare.look("boards")
    assert "Nothing is recorded yet." in bare.look("journal")
    assert "<h1>Weeks" in bare.look("weeks")


def test_the_usual_cautions_are_on_the_page(phone: Phone) -> None:
    shown = phone.look()
    for caution in (cautions.NOT_WHEN_DAMP, cautions.BENCH, cautions.CHAMBER):
        assert caution in shown
    assert cautions.HOW_TO_TEST.replace("'", "&#39;") in shown


def test_every_board_is_drawn_and_says_what_the_command_says(desk: Desk, phone: Phone) -> None:
    shown = phone.look("boards")
    for board in snapshot(desk).boards:
        assert f'aria-label="{board} drawn to scale' in shown
    assert "M-06 at 0-47 mm and M-09 at 47-110 mm" in shown
    assert "270 of 380 mm free" in shown
    assert "270 of 380" in desk.did("boards", now=SATURDAY)


def test_a_board_answers_with_its_evidence(phone: Phone) -> None:
    shown = phone.look("board?name=b10")
    assert "Not yet: a board is as free as its slowest specimen." in shown
    assert "Test M-06 first" in shown
    for evidence in (
        "% of the minimum board time", "Sun 25 Apr", "Sun 2 May", "fresh-room-4.5", "(scaled)",
        "study 52 % by the dial", "never on a rainy day",
    ):  # fmt: skip
        assert evidence in shown


def test_a_board_says_what_its_dates_rest_on(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND.parent / "damp_fortnight", now="2027-07-10T08:00")
    shown = phones(desk, now="2027-07-10T08:00")[0].look("board?name=D1")
    assert re.search(r"\d+ days so far, worth [\d.]+ days at 50 %( \(it needs \d+\))?; ", shown)
    assert re.search(r"from \d+ \w+ to \d+ \w+ \(\d+ %.*?\), [\d.]+ days lost", shown)
    assert re.search(r"<dt>Due</dt><dd>\w+ \d+ \w+, between ", shown)
    assert "Measured humidity of study" in shown


def test_what_is_due_in_damp_air_waits_and_can_be_carried_away(desk: Desk, phone: Phone) -> None:
    desk.did("air", "study", "78", now="2027-05-08T08:00")
    shown = phone.look()
    assert "Due, but not in today’s air" in shown
    assert "move B3" in shown
    assert not [f for f in phone.forms() if f.words == "Stiff M-03"]


def test_what_is_due_in_air_that_is_a_little_damp_may_be_tested(desk: Desk, phone: Phone) -> None:
    desk.did("air", "study", "70", now="2027-05-08T08:00")
    shown = phone.look()
    assert "Due, but not in today’s air" not in shown
    assert [f for f in phone.forms() if f.words == "Stiff M-03"]
    assert "leave what gives at all, and keep what comes off in drier air" in phone.look(
        "board?name=B3"
    )


def test_a_worry_about_a_room_leads_to_its_boards(desk: Desk, phone: Phone) -> None:
    desk.did("air", "study", "78", now="2027-05-08T08:00")
    worries = phone.look().partition('id="worries"')[2]
    assert "study is damp" in worries
    assert re.search(r'href="[^"]*/board\?name=B10">B10</a>', worries)


def test_stiff_without_a_date_stays_and_its_board_wants_drier_air(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND.parent / "damp_july", now="2027-07-09T18:00")
    undated = [s["specimen"] for s in standing(desk, "2027-07-09T18:00") if s["due"] is None]
    assert undated
    # Below 0.6 of its minimum no stiff test counts, however often it is felt.
    desk.did("test", undated[0], "stiff", now="2027-07-09T18:00")
    desk.did("test", undated[0], "stiff", now="2027-07-10T18:00")
    (phone,) = phones(desk, now="2027-07-10T18:00")
    shown = phone.look()
    assert not [f for f in phone.forms() if f.words == f"Took off {undated[0]}"]
    worries = shown.partition('id="worries"')[2]
    assert re.search(rf"{undated[0]} on B\d+: no date yet in this air", worries)


def test_what_goes_in_later_is_only_counted(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", FIRST_WEEKEND, now=WEDNESDAY)
    desk.did("plan", now="2027-05-03T10:00")
    shown = phones(desk, now="2027-05-03T10:00")[0].look()
    assert re.search(r"Later: Thu 6 May \d+", shown)


def test_the_data_of_a_specimen_comes_with_it(phone: Phone) -> None:
    shown = phone.look("board?name=B5")
    assert "Orthosia gothica, male" in shown
    assert "Alder Carr, Saltmere (invented); 2027-04-16; Wren Tallow (invented)" in shown


def test_a_room_nobody_measured_has_no_chart(tmp_path: Path) -> None:
    phone = phones(weekend(tmp_path))[0]
    assert "Not measured in the last days." in phone.look("board?name=B10")
    assert "Measured humidity" not in phone.page


def test_a_room_that_was_read_has_its_chart(desk: Desk, phone: Phone) -> None:
    desk.did("air", "study", "58", now="2027-05-06T08:00")
    shown = phone.look("board?name=B10")
    assert "Measured humidity of study: 52 to 58 %" in shown


def test_the_weeks_show_what_stands_and_what_is_planned(phone: Phone) -> None:
    shown = phone.look("weeks")
    assert "M-01 mounted 17 Apr, test from 2 May, clear 5 May" in shown
    assert "K-07 planned from 8 May" in shown


def test_a_board_that_is_not_there_is_404(phone: Phone) -> None:
    assert phone._client.get(f"{phone.start}board?name=B99").status_code == 404


@pytest.mark.parametrize("view", VIEWS)
def test_a_get_changes_nothing(desk: Desk, phone: Phone, view: str) -> None:
    before = image(desk), len(journal(desk))
    phone.look(view)
    phone.look(f"{view}{'&' if '?' in view else '?'}line=1&again=1&said=x&take_back=1")
    assert (image(desk), len(journal(desk))) == before


def test_what_records_does_not_answer_to_get(phone: Phone) -> None:
    phone.look("board?name=B10")
    for action in {f.action for f in phone.forms()}:
        assert phone._client.get(action).status_code == 405


# --- what is recorded, and brought back ---------------------------------------------------

DEEDS = {
    "stiff": ("", "Stiff M-06", {}, "tested stiff: M-06 on B10"),
    "soft": ("", "Soft M-06", {}, "tested soft: M-06 on B10"),
    "all stiff": ("", "All 2 stiff", {}, "tested stiff: M-07 on B8 and M-08 on B8"),
    "released": ("", "Took off M-06", {}, "took M-06 off"),
    "all released": ("", "Took all 2 off", {}, "took M-07 and M-08 off"),
    "released early": (
        "board?name=B10", "Took off early M-09", {"early": "board needed"},
        "took M-09 off early: board needed",
    ),
    "moved": ("board?name=B10", "In north", {}, "moved B10 to north"),
    "mounted as planned": ("", "Mounted {one}", {}, "mounted {one} on {board}"),
    "mounted by hand": (
        "board?name=B11", "Mounted", {"specimens": "M-25 M-26=120"}, "mounted M-25 and M-26 on B11",
    ),
    "dial read": (
        "board?name=B10", "Read off", {"rh": "58", "temp": "19"}, "read study: 58 %, 19 °C",
    ),
    "into the chamber": ("", "In now {soak}", {}, "put {soak} into the chamber"),
}  # fmt: skip


@pytest.mark.parametrize("deed", DEEDS)
def test_one_tap_is_one_line_and_its_undo_restores_every_byte(
    desk: Desk, phone: Phone, deed: str
) -> None:
    view, words, typed, text = DEEDS[deed]
    words, text = (said.format(**as_planned(desk)) for said in (words, text))
    before, lines = image(desk), len(journal(desk))
    phone.look(view)
    shown = phone.tap(words, **typed)
    after = image(desk)
    assert after != before
    assert len(journal(desk)) == lines + 1
    assert journal(desk)[-1].text == text
    assert journal(desk)[-1].who == "Wren Tallow (invented)"
    assert text in re.sub(r"\s+", " ", shown)
    shown = phone.tap("Undo")
    assert image(desk) == before
    assert f"took back line {lines + 1}" in shown
    phone.tap("Bring it back")
    assert image(desk) == after


def test_a_session_is_recorded_with_one_tap_once_its_slots_are_free(tmp_path: Path) -> None:
    desk, _ = narrow_weekend(tmp_path)
    phone = phones(read_off(desk))[0]
    plan = planned(desk, "SAT-08")
    for name in sorted({name for p in plan for name in p.after}):
        phone.look()
        phone.tap(f"Took off {name}")
    before = image(desk)
    phone.look()
    shown = phone.tap(f"All {len(plan)} mounted as planned")
    assert "session SAT-08: mounted" in shown
    phone.tap("Undo")
    assert image(desk) == before


def test_a_slot_that_is_still_taken_is_refused_in_words(tmp_path: Path) -> None:
    desk, one = narrow_weekend(tmp_path)
    phone = phones(read_off(desk))[0]
    before = image(desk)
    phone.look()
    answer = phone.send(phone.form(f"All {len(planned(desk, 'SAT-08'))} mounted as planned"))
    assert answer.status_code == 409
    where = f"{one.specimen} cannot go to {one.from_mm}-{one.to_mm} mm of {one.board}"
    assert f"{where}: {one.after[0]} still stands at" in answer.text
    assert image(desk) == before


def test_early_without_a_reason_is_refused(desk: Desk, phone: Phone) -> None:
    before = image(desk)
    phone.look("board?name=B10")
    answer = phone.send(phone.form("Took off early M-09"), early="  ")
    assert answer.status_code == 400
    assert image(desk) == before


@pytest.mark.parametrize("typed", ["", "X-99", "M-25=12-", "M-25=500", "M-25 M-25"])
def test_a_list_that_cannot_be_read_is_refused_in_words(
    desk: Desk, phone: Phone, typed: str
) -> None:
    before = image(desk)
    phone.look("board?name=B11")
    answer = phone.send(phone.form("Mounted"), specimens=typed)
    assert answer.status_code == 400
    assert '<h1 id="not">Not recorded</h1>' in answer.text
    assert image(desk) == before


def test_what_the_command_says_beside_its_line_is_shown(phone: Phone) -> None:
    phone.look("board?name=B10")
    shown = phone.tap("Stiff M-09")
    assert "M-09 is due on" in shown
    assert "it stays. Stiff again on" in shown


def test_what_is_worth_feeling_early_is_recorded_where_it_is_said(phone: Phone) -> None:
    # On Saturday morning M-05 has a day to dry on before Sunday's session.
    card = phone.look().partition('id="probe"')[2].partition("</section>")[0]
    assert "M-05 on B3, for SUN-09" in card
    assert "Stiff" in card
    assert "Soft" in card
    assert "it stays. Stiff again on" in phone.tap("Stiff M-05")
    assert 'id="probe"' not in phone.look()


def test_what_is_to_be_typed_at_a_keyboard_is_left_out_of_the_notice(phone: Phone) -> None:
    phone.look()
    assert "wingrest release" not in phone.tap("Stiff M-06")


def test_a_tap_comes_back_to_where_it_was_made(phone: Phone) -> None:
    phone.look("board?name=B10")
    form = phone.form("Stiff M-06")
    assert "/board?name=B10&line=" in phone.send(form).headers["Location"]


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", "x/y", ""])
def test_a_form_leads_nowhere_else(phone: Phone, back: str) -> None:
    phone.look()
    answer = phone.send(phone.form("Stiff M-06"), back=back)
    assert answer.headers["Location"].startswith(f"{phone.start}?line=")


def test_moving_a_board_to_where_it_stands_records_nothing(desk: Desk) -> None:
    one, other = phones(desk, 2)
    one.look("board?name=B10")
    other.look("board?name=B10")
    one.tap("In north")
    lines = len(journal(desk))
    shown = other.tap("In north")
    assert "Nothing was recorded" in shown
    assert "moved B10 to north" in shown
    assert len(journal(desk)) == lines


def test_a_name_that_a_phone_gives_goes_into_the_journal(desk: Desk, phone: Phone) -> None:
    phone.look()
    phone.tap("Stiff M-06", who="  Ivo\n Marrack (invented) ")
    assert journal(desk)[-1].who == "Ivo Marrack (invented)"


def test_the_journal_offers_undo_of_what_stands(desk: Desk, phone: Phone) -> None:
    before = image(desk)
    phone.look()
    phone.tap("Stiff M-06")
    phone.look("journal")
    shown = phone.tap("Undo line")
    assert image(desk) == before
    assert "taken back by line" in shown


# --- two phones ---------------------------------------------------------------------------


def test_the_same_tap_twice_is_one_record(desk: Desk, phone: Phone) -> None:
    phone.look()
    form = phone.form("Took off M-06")
    first, second = phone.send(form), phone.send(form)
    assert (first.status_code, second.status_code) == (303, 303)
    assert [e.text for e in journal(desk)].count("took M-06 off") == 1
    shown = phone.look(second.headers["Location"])
    assert "Recorded already, once" in shown


def test_the_same_tap_twice_at_once_is_one_record(desk: Desk) -> None:
    one, other = phones(desk, 2)
    one.look()
    form = one.form("Took off M-06")
    lines = len(journal(desk))
    taps = [threading.Thread(target=p.send, args=(form,)) for p in (one, other)]
    for t in taps:
        t.start()
    for t in taps:
        t.join()
    assert len(journal(desk)) == lines + 1


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("Took off M-06", "Took off M-06"),
        ("Soft M-06", "Took off M-06"),
        ("Took off M-06", "Stiff M-06"),
        ("Mounted {one}", "Mounted {one}"),
        ("In now {soak}", "In now {soak}"),
    ],
)
def test_a_second_phone_is_told_which_line_and_by_whom(desk: Desk, first: str, second: str) -> None:
    first, second = (words.format(**as_planned(desk)) for words in (first, second))
    one, other = phones(desk, 2)
    one.look()
    other.look()
    one.tap(first, who="Ivo Marrack (invented)")
    before, lines = image(desk), journal(desk)
    answer = other.send(other.form(second))
    assert answer.status_code in (400, 409)
    told = re.sub(r"\s+", " ", answer.text)
    assert f"Line {lines[-1].line}, Sat 8 May 08:40, by Ivo Marrack (invented)" in told
    assert lines[-1].text in told
    assert (image(desk), journal(desk)) == (before, lines)


def test_phones_that_do_different_things_do_not_mind_each_other(desk: Desk) -> None:
    one, other = phones(desk, 2)
    one.look()
    other.look()
    one.tap("Took off M-06")
    other.tap("Stiff M-07")
    assert [e.text for e in journal(desk)][-2:] == ["took M-06 off", "tested stiff: M-07 on B8"]


def test_an_undo_that_was_built_upon_is_refused(desk: Desk) -> None:
    one, other = phones(desk, 2)
    one.look()
    one.tap("Stiff M-06")
    other.look()
    other.tap("Took off M-06")
    before = image(desk)
    answer = one.send(one.form("Undo"))
    assert answer.status_code == 409
    assert "took M-06 off" in answer.text
    assert image(desk) == before


# --- safe ---------------------------------------------------------------------------------


def test_a_form_that_is_not_ours_records_nothing(desk: Desk, phone: Phone) -> None:
    before = image(desk)
    phone.look()
    form = phone.form("Took off M-06")
    assert phone.send(form, slip="7").status_code == 403
    assert image(desk) == before


@pytest.fixture
def hostile(tmp_path: Path) -> Phone:
    """A record in which whatever has a name is named like a script, past all checks of ids."""
    desk = Desk(tmp_path / "record.sqlite")
    at = local("2027-04-17T10:00")
    size = Specimen(SCRIPT, body_mm=4.8, wingspan_mm=38.0, taxon=SCRIPT, label={"locality": SCRIPT})
    with Store(desk.store) as store, store.deed(When(at, at, SCRIPT), "load", SCRIPT) as deed:
        deed.insert("setting", {"key": "timezone", "value": "Europe/Berlin"})
        deed.insert("room", rows.room_row(Room(f"{SCRIPT}room", "room", 50.0, 20.0)))
        deed.insert("board", rows.board_row(Board(f"{SCRIPT}board", 6.0, 100.0, 360)))
        deed.insert(
            "board_stay",
            {"board": f"{SCRIPT}board", "room": f"{SCRIPT}room", "since": rows.moment_text(at)},
        )
        for name in (SCRIPT, f"{SCRIPT}2"):
            deed.insert("specimen", rows.specimen_row(size._replace(specimen=name)))
        placement = Placement(0, SCRIPT, f"{SCRIPT}board", 0, 30, at, at.date())
        deed.insert("placement", rows.placement_row(placement))
    return phones(desk)[0]


@pytest.mark.parametrize(
    "view", ["", "boards", "weeks", "board?name=" + quote(f"{SCRIPT}board"), "journal"]
)
def test_a_specimen_named_script_is_text(hostile: Phone, view: str) -> None:
    shown = hostile.look(view)
    assert "&lt;script&gt;" in shown
    ours = re.findall(r"<script [^>]*></script>", shown)
    assert len(ours) == 2
    assert shown.count("<script") == 2


def test_a_script_typed_as_a_reason_is_text(hostile: Phone) -> None:
    hostile.look("board?name=" + quote(f"{SCRIPT}board"))
    answer = hostile.send(hostile.form("Soft"), who=SCRIPT)
    hostile.look(answer.headers["Location"])
    assert hostile.page.count("<script") == 2
    assert "by &lt;script&gt;alert(1)" in hostile.page
    assert hostile.look("journal").count("<script") == 2


@pytest.mark.parametrize("view", VIEWS)
def test_nothing_inline_and_nothing_from_elsewhere(phone: Phone, view: str) -> None:
    shown = phone.look(view)
    assert not re.search(r"\sstyle=|\son[a-z]+=|javascript:|<style", shown)
    assert not re.search(r'(?:src|href|action)="(?:https?:)?//', shown)
