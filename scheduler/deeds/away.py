"""Days off: nobody is at the bench, and the plan takes that into account."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from scheduler.deeds.outcome import Outcome, told
from scheduler.deeds.replan import replan
from scheduler.faces.moved import moved_lines
from scheduler.feed.away_days import away_ahead, left_behind
from scheduler.intake.batch import cells
from scheduler.intake.typed import Words
from scheduler.record import rows
from scheduler.record.deed import Deed, When
from scheduler.record.store import Store
from scheduler.rulebook import Rulebook
from scheduler.view import View, view_of
from scheduler.words import wording
from scheduler.words.people import person
from scheduler.words.problems import BadInput
from scheduler.words.records import Away

LONGEST_AWAY_DAYS = 366
"""A longer stretch of days off is taken for a slip: a wrong digit."""


def set_away(
    store: Store, rules: Rulebook, first: str, last: str, who: str | None, when: When
) -> Outcome:
    """Record days off, both included, of everybody or of one person; the kept plan is mended.

    Raises BadInput for words that are no dates, or for dates in the wrong order.
    """
    with store.deed(when, "away") as deed:
        view = view_of(store, rules, when.now)
        away = _read(first, last, who, view)
        for a in view.facts.away:
            if a.who in (None, away.who) and a.has(away.from_day) and a.has(away.to_day):
                return Outcome((f"{_said(away, view.now)} is recorded already",))
        deed.text = f"away from {_said(away, view.now)}"
        deed.insert("away", rows.away_row(away))
        after = view_of(store, rules, when.now)
    return _told(deed, store, rules, when, lambda: _lines(view, after, away))


def set_there(
    store: Store, rules: Rulebook, first: str, last: str, who: str | None, when: When
) -> Outcome:
    """Take back days off, both included, all of them or a part; the kept plan is mended.

    Raises BadInput when none of these days is recorded as a day off.
    """
    with store.deed(when, "away") as deed:
        view = view_of(store, rules, when.now)
        there = _read(first, last, who, view)
        met = [
            (row["id"], rows.away_from(row))
            for row in store.db.execute("SELECT * FROM away ORDER BY from_day, id")
            if row["from_day"] <= there.to_day.isoformat()
            and there.from_day.isoformat() <= row["to_day"]
            and row["who"] == there.who
        ]
        if not met:
            known = wording.listed(_said(a, view.now) for a in away_ahead(view)) or "none"
            raise BadInput(f"{_said(there, view.now)} has no days off. Those recorded are {known}")
        left = [piece for _, away in met for piece in _without(away, there)]
        still = wording.listed(_said(piece, view.now) for piece in left)
        deed.text = f"there from {_said(there, view.now)} after all"
        deed.text += f"; still away from {still}" if still else ""
        for number, _ in met:
            deed.delete("away", number)
        for piece in left:
            deed.insert("away", rows.away_row(piece))
    return _told(deed, store, rules, when, list)


def _told(
    deed: Deed, store: Store, rules: Rulebook, when: When, lines: Callable[[], list[str]]
) -> Outcome:
    """Return what was recorded, and what that moves in the plan."""

    def tell() -> Outcome:
        made = replan(store, rules, when.now)
        moved = [] if made is None else moved_lines(made)
        return Outcome((deed.text, *lines(), *moved))

    return told(deed, tell)


def _without(away: Away, there: Away) -> list[Away]:
    """Return what is left of days off without those on which somebody is there."""
    before = away._replace(to_day=min(away.to_day, there.from_day - timedelta(days=1)))
    after = away._replace(from_day=max(away.from_day, there.to_day + timedelta(days=1)))
    return [piece for piece in (before, after) if piece.from_day <= piece.to_day]


def _read(first: str, last: str, who: str | None, view: View) -> Away:
    today = view.now.date()
    whom = None if who is None else person(who, view.sessions.values())
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
        words.fault("TO", last, "is over", "Days off are recorded beforehand: check the year")
    words.raise_if_any()
    return Away(begin, end, whom)


def _lines(before: View, view: View, away: Away) -> list[str]:
    """Return the sessions to which nobody comes, and what the days off leave behind."""
    sessions = [s for s in before.sessions_ahead if view.is_off(s)]
    lines = []
    if sessions:
        named = wording.listed(f"{s.session} ({view.local(s.start):%a %H:%M})" for s in sessions)
        lines.append(f"  nobody is at {named}")
    if away.who is not None:  # others are there for what falls due
        return [*lines, "  `wingrest away FROM TO --there` takes days back"]
    lines += [f"  {line}" for line in left_behind(view, away).lines()]
    back = view.facts.there_on(away.to_day + timedelta(days=1))
    return [*lines, f"  back on {wording.weekday(back, view.now)}; `wingrest undo` takes it back"]


def _said(away: Away, today: date) -> str:
    days = f"{wording.weekday(away.from_day, today)} to {wording.weekday(away.to_day, today)}"
    return days if away.who is None else f"{days} ({away.who})"
