"""Whether phones may be behind: who fetched the calendar or recorded something last, and how
long ago that was."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from bench_cases import Desk, weekend
from serve_cases import serving

from scheduler.cli import publish
from scheduler.record.store import Store
from scheduler.words.problems import BadInput


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return weekend(tmp_path)


def test_who_never_subscribed_is_not_behind(desk: Desk) -> None:
    assert "asked for the calendar" not in desk.did("today", now="2027-05-20T08:00")


@pytest.mark.parametrize(
    ("now", "behind"), [("2027-05-08T17:59", False), ("2027-05-08T18:00", True)]
)
def test_after_three_days_without_a_fetch_today_says_so(desk: Desk, now: str, behind: bool) -> None:
    with serving(desk.store) as running:  # on Wednesday 5 May at 18:00
        assert running.feed().status == 200
    said = " ".join(desk.did("today", now=now).split())
    assert ("no phone asked for the calendar since Wed 5 May" in said) is behind
    assert ("wingrest serve" in said) is behind


@pytest.mark.parametrize(
    ("now", "behind"), [("2027-05-08T17:59", False), ("2027-05-08T18:00", True)]
)
def test_after_three_days_without_a_record_of_what_waits_today_says_so(
    desk: Desk, now: str, behind: bool
) -> None:
    with serving(desk.store, now="2027-05-08T17:00") as running:  # loaded on 5 May at 18:00
        assert running.feed().status == 200
    said = " ".join(desk.did("today", now=now).split())
    assert ("nothing was recorded since Wed 5 May" in said) is behind
    desk.did("air", "study", "52", now=now)
    assert "nothing was recorded since" not in desk.did("today", now=now)


def test_a_fetch_is_noted_and_changes_no_byte(desk: Desk) -> None:
    with serving(desk.store) as running:
        first = running.feed()
        assert running.feed(If_None_Match=first.etag).status == 304
        assert running.feed().body == first.body


def test_a_poll_waits_for_nobody_who_writes(desk: Desk) -> None:
    with serving(desk.store) as running:
        before = running.feed("releases.ics")
        with Store(desk.store) as other, other.transaction():
            assert running.feed("releases.ics").body == before.body


@pytest.mark.parametrize(("text", "minutes"), [("15min", 15), ("2h", 120), ("1 min", 1)])
def test_every_is_read_as_people_say_it(text: str, minutes: int) -> None:
    assert publish._minutes(text) == minutes


@pytest.mark.parametrize("text", ["15", "0min", "25h", "soon", "-1min", "1.5h"])
def test_every_takes_no_other_time(text: str) -> None:
    with pytest.raises(BadInput, match="15min or 2h"):
        publish._minutes(text)


def test_every_goes_with_no_removal(desk: Desk) -> None:
    run = desk("publish", "https://calendars.invalid/a/", "--every", "15min", "--remove")
    assert run.status == 2
    assert "goes with neither" in run.err


def test_the_pause_ends_with_ctrl_c(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(seconds: float) -> None:
        assert seconds == 900
        raise KeyboardInterrupt

    monkeypatch.setattr("time.sleep", interrupted)
    with click.Context(click.Command("publish")), pytest.raises(click.exceptions.Exit) as left:
        publish._pause(15)
    assert left.value.exit_code == 130
