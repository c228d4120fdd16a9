"""Every deed and every look on the page: no terminal, no command line, the same rooms behind."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from bench_cases import Desk, weekend
from page_cases import SATURDAY, Phone, phones
from test_page_words import TYPED
from verb_cases import journal

SAMPLES = Path(__file__).parent.parent / "sample_batches"


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.fixture
def phone(desk: Desk) -> Phone:
    return phones(desk)[0]


@pytest.fixture
def empty(tmp_path: Path) -> Phone:
    return phones(Desk(tmp_path / "record.sqlite"), now="2027-05-05T18:00")[0]


def pages_from(phone: Phone, most: int = 200) -> Iterator[tuple[str, str]]:
    """Every page that can be reached by links, with its text; of many alike only the first few."""
    to_go, seen = [phone.start], {phone.start}
    kinds: dict[str, int] = {}
    while to_go and len(seen) < most:
        place = to_go.pop(0)
        answer = phone.get(place)
        # Of a session that is over there is nothing to print: said on a page of its own.
        assert answer.status_code == 200 or ".pdf" in place, (place, answer.status)
        if answer.mimetype != "text/html":
            continue
        yield place, answer.text
        for link in re.findall(r'href="([^"#]+)', answer.text):
            there = urljoin(place, unescape(link))
            kind = urlsplit(there).path
            if there.startswith(phone.start) and there not in seen and kinds.get(kind, 0) < 12:
                kinds[kind] = kinds.get(kind, 0) + 1
                seen.add(there)
                to_go.append(there)


def typed_at_a_terminal(page: str) -> list[str]:
    return [page[max(0, m.start() - 60) : m.end() + 40] for m in TYPED.finditer(page)]


@pytest.mark.parametrize(
    ("batch", "loaded", "now"),
    [
        ("first_weekend", "2027-05-05T18:00", SATURDAY),
        pytest.param(
            "first_weekend", "2027-05-05T18:00", "2027-06-20T10:00", marks=pytest.mark.slow
        ),
        pytest.param(
            "damp_fortnight", "2027-07-12T09:00", "2027-07-12T10:00", marks=pytest.mark.slow
        ),
    ],
)
def test_no_page_shows_a_command(tmp_path: Path, batch: str, loaded: str, now: str) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", str(SAMPLES / batch), "--yes", now=loaded)
    desk.did("plan", "--effort", "quick", now=loaded)
    found = dict(pages_from(phones(desk, now=now)[0]))
    assert len(found) > 40
    assert {
        place: said for place, page in found.items() if (said := typed_at_a_terminal(page))
    } == {}


def test_no_page_of_an_empty_record_shows_a_command(empty: Phone) -> None:
    found = dict(pages_from(empty))
    assert len(found) > 20
    assert {
        place: said for place, page in found.items() if (said := typed_at_a_terminal(page))
    } == {}


DEEDS = (
    ("add", {"group": "owlet", "count": "2", "state": "fresh", "wingspan_mm": "38"}, "add"),
    ("relax", {"ids": "M-15, M-16"}, "relax"),
    ("thaw", {"ids": "M-15"}, "thaw"),
    ("putback", {"ids": "K-02", "place": "fridge"}, "putback"),
    ("mount", {"specimen": "M-15", "board": "B11", "from_mm": "0"}, "mount"),
    ("mount", {"specimen": "M-15", "board": "B10", "after": "M-09"}, "mount"),
    ("test", {"ids": "M-06", "verdict": "stiff"}, "test"),
    ("release", {"ids": "M-06"}, "release"),
    ("release", {"ids": "M-09", "early": "the board broke"}, "release"),
    ("lost", {"specimen": "M-15", "reason": "abdomen broken"}, "lost"),
    ("session", {"day": "2027-05-15", "minutes": "90"}, "session"),
    (
        "session",
        {"day": "2027-05-15", "minutes": "90", "weekly": "1", "until": "2027-06-30"},
        "session",
    ),
    ("minutes", {"session": "SAT-08", "cancel": "1"}, "session"),
    ("away", {"first": "2027-05-20", "last": "2027-05-30"}, "away"),
    ("move", {"board": "B1", "room": "north"}, "move"),
    ("use", {"board": "B1", "use": "out"}, "board"),
    ("use", {"board": "B1", "refill": "whole"}, "board"),
    ("dial", {"room": "study", "rh": "48", "temp": "20"}, "air"),
    ("room", {"room": "attic", "rh_pct": "60"}, "room"),
    (
        "boards",
        {"board": "T1", "groove_mm": "8", "length_mm": "300", "span_mm": "120", "room": "study"},
        "board",
    ),
    ("settings", {"chamber_places": "12", "protected": "Parnassius apollo"}, "settings"),
)
"""A form, what is filled in, and the command whose line the journal gets."""


@pytest.mark.parametrize(("which", "typed", "command"), DEEDS)
def test_a_form_records_what_its_command_records(
    desk: Desk, phone: Phone, which: str, typed: dict[str, str], command: str
) -> None:
    before = len(journal(desk))
    phone.look(f"do?which={which}")
    answer = phone.send(phone.forms()[0], **typed)
    assert answer.status_code == 303, answer.text
    lines = journal(desk)
    assert len(lines) == before + 1
    assert lines[-1].command == command


def test_what_came_off_is_labelled_bagged_and_handed_over(desk: Desk, phone: Phone) -> None:
    label = "locality=Moor,eventDate=2026-07-01,recordedBy=Wren Tallow (invented)".split(",")
    desk.did("amend", "M-06", *label, now="2027-05-08T08:00")
    steps: tuple[tuple[str, dict[str, str], str], ...] = (
        ("release", {"ids": "M-06"}, ""),
        ("labels", {"ids": "M-06"}, "%PDF"),
        ("bag", {}, ""),
        ("handover", {"whom": "Saltmere Museum (invented)"}, "PK"),
        ("drooped", {"specimen": "M-06", "note": "left forewing"}, ""),
    )
    for which, typed, begins in steps:
        phone.look(f"do?which={which}")
        answer = phone.send(phone.forms()[0], **typed)
        assert answer.status_code == 303, (which, answer.text)
        page = phone.look(answer.headers["Location"])
        if begins:
            link = re.search(r'href="([^"]+made[^"]+)"', page)
            assert link, which
            assert phone.get(unescape(link[1])).data.startswith(begins.encode())
    assert [e.command for e in journal(desk)][-5:] == [
        "release", "print", "bag", "handover", "drooped",
    ]  # fmt: skip


def test_what_is_refused_stays_typed(desk: Desk, phone: Phone) -> None:
    lines = journal(desk)
    phone.look("do?which=add")
    answer = phone.send(phone.forms()[0], group="owlet", count="many", state="fresh", box="C7")
    assert answer.status_code == 400
    assert "Not recorded" in answer.text
    assert 'value="many"' in answer.text
    assert 'value="C7"' in answer.text
    assert typed_at_a_terminal(answer.text) == []
    assert journal(desk) == lines


def test_a_refusal_names_no_command(phone: Phone) -> None:
    phone.look("do?which=release")
    answer = phone.send(phone.forms()[0], ids="M-09")
    assert answer.status_code == 409
    assert "say why" in answer.text
    assert typed_at_a_terminal(answer.text) == []


def test_it_happened_before_now_and_never_after(desk: Desk, phone: Phone) -> None:
    phone.look("do?which=relax")
    form = phone.forms()[0]
    assert phone.send(form, ids="M-15", happened="2027-05-09T08:00").status_code == 400
    phone.look("do?which=relax")
    assert phone.send(phone.forms()[0], ids="M-15", happened="2027-05-07T20:00").status_code == 303
    assert f"{journal(desk)[-1].happened_at:%Y-%m-%dT%H:%M}" == "2027-05-07T18:00"


def test_only_what_was_changed_is_corrected(desk: Desk, phone: Phone) -> None:
    phone.look("correct?name=M-15")
    form = next(f for f in phone.forms() if "correct" in f.action)
    assert phone.send(form).status_code == 400, "nothing was changed"
    phone.look("correct?name=M-15")
    form = next(f for f in phone.forms() if "correct" in f.action)
    assert phone.send(form, **{"to-wingspan_mm": "71"}).status_code == 303
    assert re.fullmatch(r"amended M-15: wingspan_mm 71 \(was \S+\)", journal(desk)[-1].text)


def test_a_session_is_mounted_but_for_whom_the_tick_was_taken_off(tmp_path: Path) -> None:
    desk = weekend(tmp_path)
    for board in ("B10", "B3", "B5"):
        desk.did("release", board, now="2027-05-08T08:30")
    phone = phones(desk)[0]
    phone.look("session?name=SAT-08")
    form = next(f for f in phone.forms() if f.words.startswith("Mounted as ticked"))
    form.fields.remove(("specimen", "M-26"))
    assert phone.send(form).status_code == 303
    text = journal(desk)[-1].text
    assert "M-25" in text
    assert "M-26" not in text


def test_what_waits_is_found_and_put_into_the_chamber(desk: Desk, phone: Phone) -> None:
    page = phone.look("waiting?q=sphinx&planned=yes")
    assert "M-24" in page
    assert "M-15" not in page
    form = next(f for f in phone.forms() if f.action.endswith("/do/relax"))
    assert phone.send(form, specimen="M-24").status_code == 303
    assert journal(desk)[-1].text.startswith("put M-24 into the chamber")


def plan_made(phone: Phone) -> str:
    """The page of the plan once the search has ended."""
    ends = time.monotonic() + 60
    while "A plan is being searched for." in phone.look("plan"):
        assert time.monotonic() < ends
        time.sleep(0.1)
    return phone.page


def test_a_plan_is_made_in_the_background_and_kept(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "record.sqlite")
    desk.did("load", SAMPLES / "first_weekend")
    phone = phones(desk, now="2027-05-05T18:00")[0]
    assert "nothing is planned for it" in phone.look("plan")
    assert phone.send(phone.form("Plan")).status_code == 303
    assert "The plan is made." in plan_made(phone)
    assert "nothing is planned for it" not in phone.page


def test_a_list_is_shown_first_and_written_after_the_yes(desk: Desk, phone: Phone) -> None:
    lines = journal(desk)
    phone.look("bring")
    sent = (io.BytesIO(b"specimen;Art;Dose;Spannweite\nZ-01;Aglais io;A1;58\n"), "Truhe.csv")
    answer = phone.send(phone.form("Look at it"), files=sent)  # type: ignore[arg-type]
    page = phone.look(answer.headers["Location"])
    assert "Z-01" in page
    assert journal(desk) == lines
    assert phone.send(phone.form("Yes, bring it in")).status_code == 303
    assert journal(desk)[-1].text == "loaded Truhe.csv: 1 specimen new or changed"


def test_a_list_with_faults_says_all_of_them_and_writes_nothing(desk: Desk, phone: Phone) -> None:
    lines = journal(desk)
    phone.look("bring")
    sent = (io.BytesIO(b"specimen,taxon,wingspan_mm\nZ-01,Aglais io,wide\nZ 2,x,\n"), "t.csv")
    page = phone.look(
        phone.send(phone.form("Look at it"), files=sent).headers["Location"]  # type: ignore[arg-type]
    )
    assert "row 2, wingspan_mm" in page
    assert "row 3" in page
    assert "/tmp" not in page
    assert typed_at_a_terminal(page) == []
    assert phone.send(phone.form("Yes, bring it in")).status_code == 400
    assert journal(desk) == lines


def test_a_loggers_file_is_asked_about_and_recorded(desk: Desk, phone: Phone) -> None:
    rows = "".join(f"{d:02}/05/2027 {h:02}:00,51.5,20\n" for d in (6, 7) for h in range(24))
    sent = (io.BytesIO(f"time,rh_pct,temp_c\n{rows}".encode()), "logger.csv")
    phone.look("logger?room=study")
    answer = phone.send(phone.form("Look at it"), files=sent, room="study")  # type: ignore[arg-type]
    page = phone.look(answer.headers["Location"])
    if "Record it in study" not in page:
        form = phone.form("Show it again like this")
        phone.page = phone.send(form, **{"answer-dates": "day-first"}).text
    form = phone.form("Record it in study")
    assert phone.send(form, yes="1", **{"answer-dates": "day-first"}).status_code == 303
    assert journal(desk)[-1].command == "readings"


def test_the_whole_record_and_every_paper_come_along(phone: Phone) -> None:
    assert phone.get("record.zip").data.startswith(b"PK")
    for kind in ("sheet", "slips", "strips", "pull", "standing-slips", "standing-strips"):
        answer = phone.get(f"print/{kind}.pdf")
        assert answer.data.startswith(b"%PDF"), (kind, answer.text)


def test_an_evening_says_what_could_be_mounted_and_keeps_nothing(desk: Desk, phone: Phone) -> None:
    lines = journal(desk)
    page = phone.look("evening?day=2027-05-08&clock=19:00&minutes=60")
    assert "mounted" in page
    for odd in ("day=2027-05-08&minutes=0", "day=soon&minutes=60", "day=2020-05-08&minutes=60"):
        assert '<p class="warn">' in phone.look(f"evening?{odd}"), odd
    assert journal(desk) == lines
