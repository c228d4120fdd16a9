"""With a clock that cannot be right nothing is recorded; a time given by hand is believed."""

from __future__ import annotations

import ctypes
import os
import re
from contextlib import redirect_stderr, redirect_stdout, suppress
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

import pytest
from bench_cases import Desk, Run, weekend
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from scheduler.cli import desk as desk_module
from scheduler.cli import main
from scheduler.page import create_app
from scheduler.page.tokens import ensure_tokens
from scheduler.record import known_moments
from scheduler.record.clock import clock_doubt, clock_question
from scheduler.record.deed import When
from scheduler.record.known_moments import known_until, newest_known, status_at
from scheduler.record.store import Store
from scheduler.rulebook import load_rulebook
from scheduler.words.problems import Refused

LAST = datetime(2027, 5, 8, 12, tzinfo=UTC)
WINTER = timedelta(days=240)


@pytest.mark.parametrize(
    ("now", "doubted"),
    [
        (LAST, False),
        (LAST + timedelta(days=7), False),
        (LAST + WINTER, False),
        (LAST + timedelta(days=380), False),
        (LAST - timedelta(minutes=9), False),
        (LAST - timedelta(minutes=61), True),
        (LAST - timedelta(days=365 * 57), True),
        (LAST + timedelta(days=365 * 50), True),
        (LAST + timedelta(days=410), True),
    ],
)
def test_what_a_clock_can_say_after_a_line(now: datetime, doubted: bool) -> None:
    assert (clock_doubt(LAST, now) is not None) is doubted


def test_a_year_and_a_day_are_said_as_one() -> None:
    assert ", 1 year after the last line" in (clock_doubt(LAST, LAST + timedelta(days=410)) or "")
    asked = clock_question(LAST, LAST + timedelta(hours=30)) or ""
    assert asked.startswith("nothing is known of the last day. Is it really")


def test_a_clock_that_begins_in_1970_is_doubted_of_an_empty_record_too() -> None:
    # A small computer without a battery for its clock begins like that.
    assert clock_doubt(None, datetime(1970, 1, 1, 0, 3, tzinfo=UTC))
    assert clock_doubt(None, LAST) is None


class _Clock(datetime):
    says = LAST

    @classmethod
    def now(cls, tz: object = None) -> datetime:  # type: ignore[override]  # noqa: ARG003
        return cls.says


def by_the_clock(desk: Desk, says: datetime, *words: str) -> Run:
    """Run a command without --now, on a computer whose clock says something."""
    out, err = StringIO(), StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        patch.setattr(_Clock, "says", says)
        patch.setattr(desk_module, "datetime", _Clock)
        with pytest.raises(SystemExit) as left:
            main(["--store", str(desk.store), *words])
    return Run(int(str(left.value.code)), out.getvalue(), err.getvalue())


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


@pytest.mark.parametrize("years", [50, -2])
@pytest.mark.parametrize(
    "words", [["release", "B5"], ["undo"], ["air", "study", "52"], ["test", "B5", "stiff"]]
)
def test_nothing_is_recorded_by_a_clock_years_off(desk: Desk, years: int, words: list[str]) -> None:
    before = desk.store.read_bytes()
    run = by_the_clock(desk, LAST + timedelta(days=365 * years), *words)
    assert run.status == 3
    said = " ".join(run.err.split())
    assert "the clock of this computer says" in said
    assert "wingrest --now" in said
    assert desk.store.read_bytes() == before


def test_a_question_is_answered_with_a_warning(desk: Desk) -> None:
    run = by_the_clock(desk, LAST + timedelta(days=365 * 50), "ready", "B5")
    assert "warning: the clock of this computer says" in " ".join(run.err.split())
    assert run.out
    assert by_the_clock(desk, LAST, "ready", "B5").err == ""


def test_who_says_what_time_it_is_is_believed(desk: Desk) -> None:
    desk.did("air", "study", "52", now="2077-05-08T12:00")
    assert by_the_clock(desk, datetime(2077, 5, 9, tzinfo=UTC), "air", "study", "53").status == 0


# --- asked once, where nothing is known of the last days ----------------------------------------


@pytest.mark.parametrize(
    ("known", "asked"),
    [
        (LAST - timedelta(hours=20), False),
        (LAST - timedelta(days=2), True),
        (LAST - WINTER, True),
        (LAST + timedelta(days=1), False),
        (None, False),
    ],
)
def test_a_clock_is_asked_about_more_than_a_day_after_what_is_known(
    known: datetime | None, asked: bool
) -> None:
    assert (clock_question(known, LAST) is not None) is asked


def test_files_written_before_this_start_are_known_and_those_since_prove_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    for name, age in (("old", timedelta(days=9)), ("since", timedelta(minutes=3))):
        path = tmp_path / "home" / name
        path.parent.mkdir(exist_ok=True)
        path.touch()
        at = (LAST - age).timestamp()
        os.utime(path, (at, at))
    os.utime(tmp_path / "home", ((LAST - WINTER).timestamp(),) * 2)
    record = tmp_path / "record.sqlite"
    known = newest_known(record, LAST, since_start=timedelta(hours=1).total_seconds())
    assert known == LAST - timedelta(days=9)


@pytest.mark.parametrize(("answer", "lines"), [(True, 1), (False, 0)])
def test_who_is_asked_says_yes_once_or_nothing_is_recorded(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, answer: bool, lines: int
) -> None:
    # What this computer knows of its own clock is no part of the case.
    monkeypatch.setattr(known_moments, "clock_is_vouched_for", lambda: False)
    monkeypatch.setattr(known_moments, "known_until", lambda said, *_: said)
    asked: list[str] = []

    def confirm(question: str) -> bool:
        asked.append(question)
        return answer

    with Store(desk.store) as store:
        before = store.latest_line()
        store.asks_clock, store.confirm_clock = True, confirm
        latest = store.snapshot().latest
        assert latest is not None
        for day in (WINTER, WINTER + timedelta(hours=3)):
            with suppress(Refused), store.deed(When(latest + day, latest + day), "note") as deed:
                deed.text = "said"
                deed.put("setting", {"key": "dry_share", "value": str(day.seconds % 7 + 60)})
        added = store.latest_line() - before
    assert (bool(added), len(asked)) == (bool(lines), 1 if answer else 2)
    assert "nothing is known of the last 240 days. Is it really" in asked[0]


def test_a_clock_that_a_time_server_set_is_not_asked_about(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(known_moments, "clock_is_vouched_for", lambda: True)
    with Store(desk.store) as store:
        store.asks_clock, store.confirm_clock = True, lambda _: False
        latest = store.snapshot().latest
        assert latest is not None
        with store.deed(When(latest + WINTER, latest + WINTER), "note", "said") as deed:
            deed.put("setting", {"key": "dry_share", "value": "61"})


def test_a_computer_that_was_on_all_the_while_is_not_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(known_moments, "newest_known", lambda *_: None)
    week_ago, record = LAST - timedelta(days=7), tmp_path / "record.sqlite"
    for up_days, known in ((8, LAST), (6, week_ago)):
        up = timedelta(days=up_days).total_seconds()
        monkeypatch.setattr("scheduler.record.known_moments.time.monotonic", lambda up=up: up)
        assert known_until(week_ago, record, LAST) == known


def test_where_the_system_puts_its_word_about_the_clock() -> None:
    # linux/timex.h: unsigned modes; long offset, freq, maxerror, esterror; int status.
    for long_type, long_bytes in ((ctypes.c_int64, 8), (ctypes.c_int32, 4)):
        longs = [(name, long_type) for name in ("offset", "freq", "maxerror", "esterror")]
        fields = [("modes", ctypes.c_uint32), *longs, ("status", ctypes.c_int32)]
        timex = type("timex", (ctypes.Structure,), {"_fields_": fields})
        assert status_at(long_bytes) == timex.status.offset  # type: ignore[attr-defined]


# --- scripts, and the page -----------------------------------------------------------------------

AFTER_THREE_WEEKS = LAST + timedelta(days=21)


@pytest.fixture
def nothing_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """A computer that was off, and that no time server speaks for."""
    monkeypatch.setattr(known_moments, "clock_is_vouched_for", lambda: False)
    monkeypatch.setattr(known_moments, "known_until", lambda said, *_: said)


@pytest.mark.usefixtures("nothing_known")
def test_a_script_is_refused_and_told_how_to_vouch(desk: Desk) -> None:
    before = desk.store.read_bytes()
    run = by_the_clock(desk, AFTER_THREE_WEEKS, "air", "study", "52")
    said = " ".join(run.err.split())
    assert run.status == 2
    assert "Is it really Sat 2027-05-29" in said
    assert "--clock-is-right" in said
    assert desk.store.read_bytes() == before
    assert by_the_clock(desk, AFTER_THREE_WEEKS, "ready", "B5").status in (0, 1), "only asked"


@pytest.mark.usefixtures("nothing_known")
def test_a_script_that_vouches_records_and_its_line_is_known_then(desk: Desk) -> None:
    vouched = ("--clock-is-right", "air", "study", "52")
    assert by_the_clock(desk, AFTER_THREE_WEEKS, *vouched).status == 0
    later = AFTER_THREE_WEEKS + timedelta(hours=5)
    assert by_the_clock(desk, later, "air", "study", "53").status == 0


def test_who_vouches_for_a_clock_that_cannot_be_right_is_refused(desk: Desk) -> None:
    years = LAST + timedelta(days=365 * 50)
    assert by_the_clock(desk, years, "--clock-is-right", "air", "study", "52").status == 3


def page_of(desk: Desk, says: datetime, from_: str = "192.168.1.7") -> tuple[FlaskClient, str]:
    """The page of a record, read by a device, and the address of its bench."""
    with Store(desk.store) as store:
        token = ensure_tokens(store).bench
    app = create_app(desk.store, load_rulebook(), clock=lambda: says, asks_clock=True)
    client = app.test_client()
    client.environ_base["REMOTE_ADDR"] = from_
    return client, f"/bench/{token}"


def dial(client: FlaskClient, bench: str, **more: str) -> TestResponse:
    """A tap that records the dial in the study."""
    page = client.get(f"{bench}/air").get_data(as_text=True)
    slip = re.search(r'name="slip" value="([^"]+)"', page)
    assert slip is not None
    fields = {"slip": slip[1], "room": "study", "rh": "52", "back": "air", **more}
    return client.post(f"{bench}/dial", data=fields)


@pytest.mark.usefixtures("nothing_known")
def test_the_page_asks_before_a_tap_and_its_button_sends_the_same_tap(desk: Desk) -> None:
    client, bench = page_of(desk, AFTER_THREE_WEEKS)
    before = desk.store.read_bytes()
    asked = dial(client, bench)
    text = asked.get_data(as_text=True)
    assert asked.status_code == 409
    assert re.search(r"Nothing is known of the last \d\d days. Is it really Sat 2027-05-29", text)
    assert desk.store.read_bytes() == before
    again = dict(re.findall(r'name="(\w+)" value="([^"]*)"', text))
    assert client.post(f"{bench}/dial", data=again).status_code == 303
    assert client.post(f"{bench}/dial", data=again).status_code == 303, "once, said again"
    with Store(desk.store) as store:
        dials = [d for d in store.snapshot().dials if d.room == "study"]
    assert sum(d.read_at == AFTER_THREE_WEEKS for d in dials) == 1


@pytest.mark.usefixtures("nothing_known")
@pytest.mark.parametrize(
    ("hours_off", "address", "status"),
    [
        (0, "192.168.1.7", 303),
        (24 * 14, "192.168.1.7", 409),
        (0, "127.0.0.1", 409),
    ],
    ids=["its clock says the same", "its clock says another day", "it is the same computer"],
)
def test_the_clock_of_a_phone_speaks_for_the_computers(
    desk: Desk, hours_off: int, address: str, status: int
) -> None:
    client, bench = page_of(desk, AFTER_THREE_WEEKS, address)
    told = AFTER_THREE_WEEKS - timedelta(hours=hours_off)
    tapped = dial(client, bench, phone_clock=str(int(told.timestamp() * 1000)))
    assert tapped.status_code == status


@pytest.mark.usefixtures("nothing_known")
def test_the_page_asks_nothing_in_ordinary_life(desk: Desk) -> None:
    desk.did("air", "study", "52", now="2027-05-08T12:00")
    client, bench = page_of(desk, LAST + timedelta(hours=20))
    assert dial(client, bench).status_code == 303
