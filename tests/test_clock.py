"""A clock that cannot be right records nothing; who says what time it is is believed."""

from __future__ import annotations

import os
from contextlib import redirect_stderr, redirect_stdout, suppress
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

import pytest
from bench_cases import Desk, Run, weekend

from scheduler.cli import desk as desk_module
from scheduler.cli import main
from scheduler.record import known_moments
from scheduler.record.clock import clock_doubt, clock_question
from scheduler.record.deed import When
from scheduler.record.known_moments import newest_known
from scheduler.record.store import Store
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
    monkeypatch.setattr(known_moments, "newest_known", lambda *_: None)
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
