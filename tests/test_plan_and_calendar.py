"""Whatever is recorded, the calendar is never behind: the plan is mended, or its titles say so."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from bench_cases import rules
from icalendar import Calendar
from interleaved_cases import LOGGED, MORE, NOW, deeds, prepared

from scheduler.deeds.places import put_room
from scheduler.deeds.rooms import read_dial
from scheduler.deeds.sessions import Asked, set_session
from scheduler.deeds.testing import record_test
from scheduler.feed.calendars import record_calendar
from scheduler.looks.problem import build_problem, groove_widths
from scheduler.planner.make import mend, what_moved
from scheduler.record.deed import When
from scheduler.record.kept import kept_plan
from scheduler.record.store import Store
from scheduler.view import view_of
from scheduler.words.problems import Refused

AT = NOW + timedelta(minutes=5)
HARDER: dict[str, Callable[[Store, When], object]] = {
    "session cut": lambda s, w: set_session(s, rules(), Asked(("SAT",), "20", None), w),
    "session cancelled": lambda s, w: set_session(s, rules(), Asked(("SAT",), "0", None), w),
    "room said to be damp": lambda s, w: put_room(s, rules(), "study", {"rh_pct": "88"}, w),
    "air damp": lambda s, w: read_dial(s, rules(), "study", "92", None, w),
    "all soft": lambda s, w: record_test(s, rules(), ["M-01", "M-02"], "soft", (), w),
}


def marked(calendar: bytes) -> bool:
    """Whether any title says that the plan is older than the record, or must be made anew."""
    said = [str(e["SUMMARY"]) for e in Calendar.from_ical(calendar).events]
    return any("(old plan)" in s or "plan again" in s for s in said)


@pytest.mark.parametrize("name", [*deeds(Path()), *HARDER])
def test_after_every_deed_the_plan_is_mended_or_its_titles_say_that_it_is_old(
    name: str, tmp_path: Path
) -> None:
    (tmp_path / "specimens.csv").write_text(MORE, encoding="utf-8")
    (tmp_path / "log.csv").write_text(LOGGED, encoding="utf-8")
    path = tmp_path / "record.sqlite"
    path.write_bytes(prepared())
    with Store(path) as store:
        every = HARDER | dict(deeds(tmp_path))
        if name == "away back":
            every["away"](store, When(NOW, NOW))
        assert not marked(record_calendar(store, rules(), NOW))
        try:
            every[name](store, When(AT, AT))
        except Refused:
            pytest.skip("refused here: nothing was recorded")
    with Store(path) as store:
        calendar = record_calendar(store, rules(), AT)
        view, kept = view_of(store, rules(), AT), kept_plan(store)
        assert kept is not None
        problem = build_problem(view)
        wide = groove_widths(view)
        made = mend(problem, kept.plan, grooves=wide, keep=kept.pinned, rounds=0, with_bound=False)
        moved = what_moved(problem, kept.plan, made, kept.pinned)
    if kept.asked_at < AT and moved:
        assert marked(calendar), [m.specimen for m in moved]
