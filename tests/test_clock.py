"""A clock that cannot be right records nothing; who says what time it is is believed."""

from __future__ import annotations

from contextlib import redirect_stderr, redirect_stdout
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

import pytest
from bench_cases import Desk, Run, weekend

from scheduler.cli import desk as desk_module
from scheduler.cli import main
from scheduler.record.clock import clock_doubt

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
