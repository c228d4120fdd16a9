"""A person's own calendar on a real server (Radicale): our events once, their own untouched."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from bench_cases import WEDNESDAY, Desk, local, planned, weekend
from caldav_cases import (
    PASSWORD,
    PATIENCE_S,
    USER,
    Radicale,
    Relay,
    Request,
    events_told,
    radicale,
    relay,
)
from icalendar import Calendar, Event

from scheduler.words.wording import weekday

SATURDAY = "2027-05-08T12:00"
DENTIST = """\
BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//somebody else//EN
BEGIN:VEVENT
UID:dentist@example.org
DTSTAMP:20270401T080000Z
DTSTART:20270510T080000Z
DTEND:20270510T083000Z
SUMMARY:B3: test M-05
END:VEVENT
END:VCALENDAR
"""


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Radicale]:
    with radicale(tmp_path_factory.mktemp("radicale")) as server:
        yield server


@pytest.fixture
def server(running: Radicale, monkeypatch: pytest.MonkeyPatch) -> Iterator[Radicale]:
    monkeypatch.setenv("WINGREST_CALDAV_PASSWORD", PASSWORD)
    running.make("bench", "Bench")
    yield running
    assert running.ask("DELETE", "bench/").status in (200, 204, 404)


@pytest.fixture
def line(server: Radicale) -> Iterator[Relay]:
    with relay(server) as told:
        yield told


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def publish(desk: Desk, url: str, *words: str, now: str = SATURDAY) -> str:
    return desk.did("publish", url, "--user", USER, *words, now=now)


def fed(desk: Desk) -> dict[str, Event]:
    """The feed's events by UID, read with a general library."""
    path = desk.store.parent / "feed.ics"
    desk.did("feed", "-o", path, now=SATURDAY)
    return {str(e["UID"]): e for e in Calendar.from_ical(path.read_bytes()).events}


def without_marks(event: Event) -> bytes:
    plain = event.copy(recursive=True)
    for name in [n for n in plain if n.startswith("X-")]:
        del plain[name]
    data: bytes = plain.to_ical()
    return data


def named(events: dict[str, Event], title: str) -> Event:
    (one,) = [e for e in events.values() if str(e["SUMMARY"]).startswith(title)]
    return one


def edited(server: Radicale, event: Event, **changed: str) -> None:
    """Change an event as a calendar app does: other values, a higher sequence, all else kept."""
    name = f"{event['UID']}.ics"
    lines = server.files()[name].decode().replace("\r\n ", "").split("\r\n")
    values = {"SEQUENCE": str(event.sequence + 1), **changed}
    inside = lines.index("BEGIN:VEVENT")
    for key, value in values.items():
        key = key.replace("_", "-")
        (at,) = [
            i for i, text in enumerate(lines) if i > inside and re.split("[;:]", text)[0] == key
        ] or [inside + 1]
        if at == inside + 1:
            lines.insert(at, "")
        lines[at] = f"{key}:{value}"
    server.put(name, "\n".join(lines))


# --- the same events as the feed, with alarms that ring -----------------------------------


def test_the_calendar_tells_what_the_feed_tells(desk: Desk, server: Radicale) -> None:
    assert publish(desk, server.bench) == f"Bench: {events_told(SATURDAY)} events created\n"
    there, feed = server.events(), fed(desk)
    assert {u: without_marks(e) for u, e in there.items()} == {
        u: without_marks(e) for u, e in feed.items()
    }


def test_each_event_carries_its_alarm(desk: Desk, server: Radicale) -> None:
    publish(desk, server.bench)
    for event in server.events().values():
        triggers = [alarm["TRIGGER"].to_ical() for alarm in event.walk("VALARM")]
        timed = isinstance(event.start, datetime)
        # What is still due stands on the day itself: an alarm before it would never ring.
        late = str(event["SUMMARY"]).startswith("Still due")
        assert triggers == ([] if late else [b"-PT1H" if timed else b"-PT15H"])


def test_a_calendar_resource_has_no_method_and_one_event(desk: Desk, server: Radicale) -> None:
    # RFC 4791 4.1
    publish(desk, server.bench)
    assert len(server.files()) == events_told(SATURDAY)
    for name, data in server.files().items():
        assert b"\r\nMETHOD" not in data
        (event,) = Calendar.from_ical(data).events
        assert name == f"{event['UID']}.ics"


def test_a_second_run_sends_nothing_that_changes(desk: Desk, server: Radicale, line: Relay) -> None:
    publish(desk, line.bench)
    assert line.changing == ["PUT"] * events_told(SATURDAY)
    before = server.files()
    line.asked.clear()
    said = publish(desk, line.bench, now="2027-05-08T23:59")
    assert said == f"Bench: nothing to change, {events_told(SATURDAY)} events of this record\n"
    assert line.asked
    assert line.changing == []
    assert server.files() == before


def test_only_what_differs_is_sent(desk: Desk, server: Radicale, line: Relay) -> None:
    publish(desk, line.bench)
    old = named(server.events(), "B5: ")
    before = server.files()
    desk.did("release", "B5", now=SATURDAY)
    line.asked.clear()
    said = publish(desk, line.bench)
    new = server.events()[str(old["UID"])]
    assert str(new["SUMMARY"]) == "✓ B5: M-01, M-02 off 8 May"
    assert new.sequence == old.sequence + 1
    after = server.files()
    differs = {n for n in after if after[n] != before.get(n)} | (set(before) - set(after))
    assert f"{old['UID']}.ics" in differs
    assert 1 <= len(differs) < len(before) // 2
    assert len(line.changing) == len(differs)
    assert re.fullmatch(rf"Bench: {len(differs)} events? changed\n", said)


def test_what_the_record_no_longer_tells_is_removed(desk: Desk, server: Radicale) -> None:
    publish(desk, server.bench)
    desk.did("session", "2027-05-08", "--minutes", "0")
    publish(desk, server.bench)
    assert not [e for e in server.events().values() if "180 min" in str(e["SUMMARY"])]
    assert set(server.events()) == set(fed(desk))


def test_one_event_a_bench_day_replaces_those_by_board(desk: Desk, server: Radicale) -> None:
    publish(desk, server.bench)
    publish(desk, server.bench, "--by-bench-day")
    titles = [str(e["SUMMARY"]) for e in server.events().values()]
    assert "2 boards to test: B3, B10" in titles
    assert not [t for t in titles if re.match(r"B\d+: test", t)]


def test_two_calendars_hold_the_same_and_do_not_disturb_each_other(
    desk: Desk, server: Radicale
) -> None:
    server.make("other", "Other")
    try:
        publish(desk, server.bench)
        assert (
            publish(desk, server.home + "other/")
            == f"Other: {events_told(SATURDAY)} events created\n"
        )
        assert "nothing to change" in publish(desk, server.bench)
        assert server.events() == server.events("other")
    finally:
        server.ask("DELETE", "other/")


def test_without_its_package_it_says_what_to_install(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "caldav", None)
    run = desk("publish", "http://127.0.0.1:9/ada/bench/", "--user", USER, now=SATURDAY)
    assert run.status == 2
    assert "pip install 'wingrest[publish]'" in run.problems
    assert desk("feed", "-o", desk.store.with_name("boards.ics"), now=SATURDAY).status == 0


def test_publishing_leaves_the_feed_as_it_was(desk: Desk, server: Radicale) -> None:
    before = {u: e.to_ical() for u, e in fed(desk).items()}
    publish(desk, server.bench)
    publish(desk, server.bench, "--by-bench-day")
    publish(desk, server.bench, "--remove")
    assert {u: e.to_ical() for u, e in fed(desk).items()} == before


def test_a_dry_run_says_what_would_change_and_changes_nothing(
    desk: Desk, line: Relay, server: Radicale
) -> None:
    said = publish(desk, line.bench, "--dry-run")
    mounts = len(planned(desk, "SAT-08"))
    assert f"would create: Bench 9:00, 180 min: test 7, mount {mounts} (Sat 8 May 09:00)\n" in said
    due = named(fed(desk), "B12: ").start
    assert f"would create: B12: test K-01 ({weekday(due, due)})\n" in said
    assert said.endswith(f"{events_told(SATURDAY)} changes to make; nothing was changed\n")
    assert line.changing == []
    assert server.files() == {}


# --- never what is not ours ---------------------------------------------------------------


def test_foreign_events_are_left_alone_even_with_our_very_words(
    desk: Desk, server: Radicale
) -> None:
    server.put("dentist.ics", DENTIST)
    kept = server.files()["dentist.ics"]
    publish(desk, server.bench)
    assert server.files()["dentist.ics"] == kept
    assert (
        publish(desk, server.bench, "--remove")
        == f"Bench: {events_told(SATURDAY)} events removed\n"
    )
    assert server.files() == {"dentist.ics": kept}


def test_a_copy_that_a_person_made_of_our_event_is_theirs(desk: Desk, server: Radicale) -> None:
    publish(desk, server.bench)
    ours = named(server.events(), "B5: ")
    text = server.files()[f"{ours['UID']}.ics"].decode()
    server.put("copy.ics", text.replace(str(ours["UID"]), "my-own-copy"))
    kept = server.files()["copy.ics"]
    desk.did("release", "B5", now=SATURDAY)
    publish(desk, server.bench)
    publish(desk, server.bench, "--remove")
    assert server.files() == {"copy.ics": kept}


def test_another_record_in_the_same_calendar_is_left_alone(
    desk: Desk, server: Radicale, tmp_path: Path
) -> None:
    publish(desk, server.bench)
    before = server.files()
    empty = Desk(tmp_path / "empty" / "record.sqlite")
    assert "nothing to change, 0 events" in publish(empty, server.bench)
    assert "nothing to change" in publish(empty, server.bench, "--remove")
    assert server.files() == before


def test_a_record_restored_from_an_older_copy_still_knows_its_own(
    desk: Desk, server: Radicale, tmp_path: Path
) -> None:
    older = tmp_path / "older.sqlite"
    shutil.copy(desk.store, older)  # nothing was told yet
    publish(desk, server.bench)
    for leftover in tmp_path.glob("record.sqlite*"):
        leftover.unlink()
    shutil.copy(older, desk.store)
    assert (
        publish(desk, server.bench, "--remove")
        == f"Bench: {events_told(SATURDAY)} events removed\n"
    )
    assert server.files() == {}


# --- what the person changed --------------------------------------------------------------


def test_an_event_moved_by_the_person_stays_where_they_put_it(desk: Desk, server: Radicale) -> None:
    publish(desk, server.bench)
    ours = named(server.events(), "Bench 9:00, 180 min")
    edited(server, ours, DTSTART="20270508T100000Z", SUMMARY="Bench\\, an hour later")
    kept = server.files()
    assert "nothing to change" in publish(desk, server.bench)
    assert server.files() == kept


def test_new_content_of_ours_wins_and_what_the_person_added_stays(
    desk: Desk, server: Radicale
) -> None:
    publish(desk, server.bench)
    ours = named(server.events(), "B5: ")
    edited(
        server,
        ours,
        SUMMARY="B5!",
        SEQUENCE="7",
        COLOR="teal",
        CATEGORIES="Insects,Evenings",
        X_PHONE_SEEN="yes",
        TRIGGER="-PT3H",
    )
    desk.did("release", "B5", now=SATURDAY)
    assert "events changed" in publish(desk, server.bench)
    new = server.events()[str(ours["UID"])]
    assert str(new["SUMMARY"]) == "✓ B5: M-01, M-02 off 8 May"
    assert new.sequence == 8
    assert (str(new["COLOR"]), str(new["X-PHONE-SEEN"])) == ("teal", "yes")
    assert new["CATEGORIES"].to_ical() == b"Insects,Evenings"
    (alarm,) = new.walk("VALARM")
    assert alarm["TRIGGER"].to_ical() == b"-PT3H"
    assert "nothing to change" in publish(desk, server.bench)


def test_an_event_deleted_by_the_person_comes_back(desk: Desk, server: Radicale) -> None:
    publish(desk, server.bench)
    before = server.events()
    gone = named(before, "B12: ")
    assert server.ask("DELETE", f"bench/{gone['UID']}.ics").status == 200
    assert publish(desk, server.bench) == "Bench: 1 event created\n"
    assert server.events() == before


def test_an_event_made_to_repeat_is_one_event_again_when_ours_changes(
    desk: Desk, server: Radicale
) -> None:
    publish(desk, server.bench)
    ours = named(server.events(), "B5: ")
    edited(server, ours, RRULE="FREQ=DAILY;COUNT=3")
    desk.did("release", "B5", now=SATURDAY)
    publish(desk, server.bench)
    assert "RRULE" not in server.events()[str(ours["UID"])]


def test_without_our_marks_the_words_are_compared(desk: Desk, server: Radicale) -> None:
    # A server that drops properties it does not know.
    publish(desk, server.bench)
    for name, data in server.files().items():
        lines = data.decode().replace("\r\n ", "").split("\r\n")
        server.put(name, "\n".join(t for t in lines if not t.startswith("X-WINGREST")))
    assert "nothing to change" in publish(desk, server.bench)
    ours = named(server.events(), "B12: ")
    edited(server, ours, DTSTART="20270601T080000Z", DTEND="20270601T090000Z")
    assert publish(desk, server.bench) == "Bench: 1 event changed\n"
    assert server.events()[str(ours["UID"])].start == ours.start


def test_an_event_stored_under_another_name_is_found_by_its_uid(
    desk: Desk, server: Radicale
) -> None:
    publish(desk, server.bench)
    ours = named(server.events(), "B5: ")
    text = server.files()[f"{ours['UID']}.ics"].decode()
    server.ask("DELETE", f"bench/{ours['UID']}.ics")
    server.put(
        "Ölkäfer & Co.ics".replace(" ", "%20").replace("Ö", "%C3%96").replace("ä", "%C3%A4"), text
    )
    assert "nothing to change" in publish(desk, server.bench)
    desk.did("release", "B5", now=SATURDAY)
    assert "events changed" in publish(desk, server.bench)
    assert "Ölkäfer & Co.ics" in server.files()


def test_every_publishes_what_changed_meanwhile_until_it_is_stopped(
    desk: Desk, server: Radicale, monkeypatch: pytest.MonkeyPatch
) -> None:
    def meanwhile(seconds: float) -> None:
        assert seconds == 15 * 60
        if "✓ B5" in "".join(str(e["SUMMARY"]) for e in server.events().values()):
            raise KeyboardInterrupt
        desk.did("release", "B5", now=SATURDAY)

    monkeypatch.setattr("scheduler.cli.publish.time.sleep", meanwhile)
    run = desk("publish", server.bench, "--user", USER, "--every", "15min", now=SATURDAY)
    assert run.status == 130
    assert run.out.splitlines()[0] == f"Bench: {events_told(SATURDAY)} events created"
    assert "events changed" in run.out
    assert "Nothing was under way" in run.err


# --- interrupted, overtaken ---------------------------------------------------------------


def program(desk: Desk, url: str) -> subprocess.Popen[str]:
    words = ["--store", str(desk.store), "--now", SATURDAY, "publish", url, "--user", USER]
    script = f"from scheduler.cli import main; main({words!r})"
    return subprocess.Popen(
        [sys.executable, "-c", script],
        cwd=Path(__file__).parent.parent,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        # A shell that runs tests in the background has them ignore Ctrl-C.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT], ids=["killed", "Ctrl-C"])
@pytest.mark.parametrize("stored", [True, False], ids=["event stored", "event not stored"])
def test_a_run_stopped_midway_is_completed_by_the_next(
    desk: Desk, server: Radicale, line: Relay, how: signal.Signals, stored: bool
) -> None:
    reached, go_on = threading.Event(), threading.Event()

    def hold(request: Request) -> int | None:
        if request.method != "PUT" or request.number != 5:
            return None
        if stored:
            request.forward()
        reached.set()
        go_on.wait(PATIENCE_S)
        return 0

    line.mischief = hold
    run = program(desk, line.bench)
    assert reached.wait(PATIENCE_S)
    run.send_signal(how)
    _, err = run.communicate(timeout=PATIENCE_S)
    go_on.set()
    assert len(server.files()) == (5 if stored else 4)
    if how is signal.SIGINT:
        assert run.returncode == 130
        assert err.startswith("Stopped. 4 events created. Publish again")
    line.mischief = lambda _: None
    left = events_told(SATURDAY) - (5 if stored else 4)
    assert publish(desk, line.bench) == f"Bench: {left} events created\n"
    assert set(server.events()) == set(fed(desk))
    assert "nothing to change" in publish(desk, line.bench)


def test_an_answer_lost_on_the_way_is_said_and_the_next_run_completes(
    desk: Desk, server: Radicale, line: Relay
) -> None:
    def lose(request: Request) -> int | None:
        return 0 if request.number >= 3 and request.forward() else None

    line.mischief = lose
    run = desk("publish", line.bench, "--user", USER, now=SATURDAY)
    assert (run.status, run.out) == (4, "")
    assert run.err.startswith("2 events created. Publish again to go on")
    assert "cannot be reached" in run.err
    line.mischief = lambda _: None
    publish(desk, line.bench)
    assert set(server.events()) == set(fed(desk))


def test_a_phone_that_was_faster_keeps_its_change(
    desk: Desk, server: Radicale, line: Relay
) -> None:
    # RFC 4918 10.4: only the version that was read is replaced. The second round reads anew.
    publish(desk, line.bench)
    ours = named(server.events(), "B5: ")
    desk.did("release", "B5", now=SATURDAY)
    line.asked.clear()

    def first(request: Request) -> None:
        if request.number == 1:
            edited(server, ours, COLOR="teal")

    line.mischief = first
    assert "events changed" in publish(desk, line.bench)
    first_asked = line.changing
    assert first_asked
    new = server.events()[str(ours["UID"])]
    assert (str(new["COLOR"]), str(new["SUMMARY"])[:10]) == ("teal", "✓ B5: M-01")


def test_an_event_that_appears_meanwhile_is_not_written_over(
    desk: Desk, server: Radicale, line: Relay
) -> None:
    # RFC 4791 5.3.2: created only where nothing stands. Say, by another run and then a phone.
    def first(request: Request) -> None:
        if request.number == 1 and request.method == "PUT":
            text = line.bodies[-1].decode().replace("SUMMARY:", "COLOR:teal\nSUMMARY:", 1)
            server.put(request.path.rpartition("/")[2], text)

    line.mischief = first
    assert publish(desk, line.bench) == f"Bench: {events_told(SATURDAY) - 1} events created\n"
    assert [str(e["COLOR"]) for e in server.events().values() if "COLOR" in e] == ["teal"]


def test_two_runs_at_once_double_nothing(desk: Desk, server: Radicale) -> None:
    runs = [program(desk, server.bench) for _ in range(3)]
    told = [run.communicate(timeout=60) for run in runs]
    assert [(run.returncode, err) for run, (_, err) in zip(runs, told, strict=True)] == [
        (0, "")
    ] * 3
    assert set(server.events()) == set(fed(desk))
    assert "nothing to change" in publish(desk, server.bench)


def test_a_run_does_not_depend_on_the_time_of_day(desk: Desk, server: Radicale) -> None:
    publish(desk, server.bench, now=WEDNESDAY)
    assert "nothing to change" in publish(desk, server.bench, now="2027-05-05T23:59")
    stamps = {e.last_modified for e in server.events().values()}
    assert max(stamps) <= local(WEDNESDAY).astimezone(UTC)


# --- what a quick question imports --------------------------------------------------------


def test_only_publishing_imports_the_calendar_library(desk: Desk) -> None:
    words = ["--store", str(desk.store), "--now", WEDNESDAY, "ready"]
    script = (
        "import sys\nfrom scheduler.cli import main\ntry:\n"
        f"    main({words!r})\nexcept SystemExit:\n"
        "    print({'caldav', 'niquests', 'requests', 'lxml'} & set(sys.modules))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script],
        cwd=Path(__file__).parent.parent,
        env=os.environ | {"PYTHONUTF8": "1"},
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert run.stdout.splitlines()[-1] == "set()"
