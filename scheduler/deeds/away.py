"""Days off: nobody is at the bench, and the plan knows it."""

from __future__ import annotations

from datetime import date, timedelta

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import replan
from scheduler.faces.moved import moved_lines
from scheduler.feed.away_days import left_behind
from scheduler.intake.batch import cells
from scheduler.intake.typed import Words
from scheduler.record import rows
from scheduler.record.deed import When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import wording
from scheduler.words.records import Away

LONGEST_AWAY_DAYS = 366
"""More days off in a row nobody means: a digit has slipped."""


def set_away(store: Store, rules: Rulebook, first: str, last: str, when: When) -> Outcome:
    """Record days off, both included; the kept plan is mended.

    Raises BadInput for what are no dates, or not in their order.
    """
    with store.deed(when, "away") as deed:
        view = view_of(store, rules, when.now)
        away = _read(first, last, view.now.date())
        if any(a.from_day <= away.from_day and away.to_day <= a.to_day for a in view.facts.away):
            return Outcome((f"{_said(away, view.now)} is recorded already",))
        deed.text = f"away from {_said(away, view.now)}"
        deed.insert("away", rows.away_row(away))
        after = view_of(store, rules, when.now)

    def tell() -> Outcome:
        made = replan(store, rules, when.now)
        moved = [] if made is None else moved_lines(made)
        return Outcome((deed.text, *_lines(view, after, away), *moved))

    return told(deed, tell)


def _read(first: str, last: str, today: date) -> Away:
    words = Words("away")
    begin = words.read("FROM", first, cells.calendar_day)
    end = words.read("TO", last, cells.calendar_day)
    words.raise_if_any()
    if begin is None or end is None:
        words.fault("FROM", None, "is not given", "Write both as 2027-07-10")
    elif end < begin:
        words.fault("TO", last, f"is before {first}", "Give the first day, then the last")
    elif (end - begin).days >= LONGEST_AWAY_DAYS:
        words.fault("TO", last, "is more than a year after the first", "Check the year")
    elif end < today:
        words.fault("TO", last, "is over", "Days off are told beforehand: check the year")
    words.raise_if_any()
    return Away(begin, end)


def _lines(before: View, view: View, away: Away) -> list[str]:
    """Return which sessions nobody comes to, and what the days off leave behind."""
    sessions = [s for s in before.sessions_ahead if away.has(view.local(s.start).date())]
    lines = []
    if sessions:
        named = wording.listed(f"{s.session} ({view.local(s.start):%a %H:%M})" for s in sessions)
        lines.append(f"  nobody is at {named}")
    lines += [f"  {line}" for line in left_behind(view, away).lines()]
    back = view.facts.there_on(away.to_day + timedelta(days=1))
    return [*lines, f"  back on {wording.weekday(back, view.now)}; `wingrest undo` takes it back"]


def _said(away: Away, today: date) -> str:
    return f"{wording.weekday(away.from_day, today)} to {wording.weekday(away.to_day, today)}"
